"""The cast of the planning tests."""

import pytest
from django.contrib.auth.models import User

from tests.planning.cast import Cast, make_cast


@pytest.fixture
def cast(potter: User) -> Cast:
    """The invented studio, nothing made and nothing promised yet."""
    return make_cast(potter)
