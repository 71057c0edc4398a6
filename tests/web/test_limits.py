"""Is counted what is counted, each apart, and for its time alone?"""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core.cache import cache

from studio.web.limits import HOUR_S, too_many

START = datetime(2026, 11, 20, 10, tzinfo=UTC)


@pytest.fixture(autouse=True)
def empty() -> None:
    cache.clear()


def test_the_limit_is_reached_after_so_many_and_ends_with_the_hour() -> None:
    with time_machine.travel(START, tick=False):
        assert [too_many("a", most=2) for _ in range(4)] == [False, False, True, True]
        assert not too_many("b", most=2)
    with time_machine.travel(START + timedelta(seconds=HOUR_S + 1), tick=False):
        assert not too_many("a", most=2)


def test_none_at_all_may_be_allowed() -> None:
    assert too_many("c", most=0)
