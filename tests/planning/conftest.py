"""The cast of the planning tests."""

import pytest
from django.contrib.auth.models import User

from studio.planning.services import searching
from tests.planning.cast import Cast, make_cast


@pytest.fixture
def cast(potter: User) -> Cast:
    """The invented studio, nothing made and nothing promised yet."""
    return make_cast(potter)


@pytest.fixture(autouse=True)
def looked_for_in_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search runs to its end where it is begun: a test's database is not seen by a thread."""
    monkeypatch.setattr(searching, "launch", searching.run)
