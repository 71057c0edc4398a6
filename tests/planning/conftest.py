"""The cast of the planning tests."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.contrib.auth.models import User

from studio.planning.services import searching
from tests.planning.cast import NOW, TODAY, Cast, make_cast

SALE = TODAY + timedelta(days=45)


@pytest.fixture
def cast(potter: User) -> Cast:
    """The invented studio, nothing made and nothing promised yet."""
    return make_cast(potter)


@pytest.fixture(autouse=True)
def looked_for_in_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search runs to its end where it is begun: a test's database is not seen by a thread."""
    monkeypatch.setattr(searching, "launch", searching.run)


@pytest.fixture
def wanted(cast: Cast) -> Cast:
    """The cast with a sale that wants 30 mugs and 10 bowls."""
    cast.sale("Winter sale", SALE, {cast.mugs: 30, cast.bowls: 10})
    return cast


@pytest.fixture
def wants_mugs(cast: Cast) -> Cast:
    """The cast with a sale that wants 12 mugs."""
    cast.sale("Winter sale", SALE, {cast.mugs: 12})
    return cast


@pytest.fixture
def clock() -> Iterator[None]:
    """The pages' day is the cast's day."""
    with time_machine.travel(NOW, tick=False):
        yield
