"""Is a night told from a day, over midnight too, and is the start nearest to the wish found?"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.watch import DAY_MIN, Heat, Night, best_start, top_in_night

NIGHT = Night(from_min=22 * 60, until_min=6 * 60)


def at(hour: float) -> int:
    return round(hour * 60)


@pytest.mark.parametrize(
    ("hour", "holds"),
    [(21.99, False), (22, True), (23.5, True), (0, True), (5.99, True), (6, False), (47, True)],
)
def test_a_night_passes_midnight(hour: float, holds: bool) -> None:
    assert NIGHT.holds(hour * 60) is holds


def test_a_night_by_day_is_a_night_too() -> None:
    nap = Night(from_min=at(12), until_min=at(14))
    assert nap.holds(at(13))
    assert not nap.holds(at(14))


def test_what_passes_through_a_night_meets_it() -> None:
    # From 20:00 to 8:00 passes 22:00; from 6:00 to 21:00 does not.
    assert NIGHT.meets(at(20), at(32))
    assert not NIGHT.meets(at(6), at(21))
    assert NIGHT.meets(at(6), at(22))


def test_a_top_by_hand() -> None:
    # Lit at 8:00: at the top from 8 + 13 - 1 = 20:00 to 8 + 13.5 + 1 = 22:30.
    heat = Heat(top_h=13, left_h=13.5, off_h=1)
    assert top_in_night(start_min=at(8), heat=heat, night=NIGHT)
    # At 7:00 it is 19:00 to 21:30.
    assert not top_in_night(start_min=at(7), heat=heat, night=NIGHT)
    assert best_start(wish_min=at(8), heat=heat, night=NIGHT) == at(7)
    # Lit at 21:00 its top is 9:00 to 11:30 by day, but it heats through the night: 7:00 is better,
    # the latest that is left by 22:00.
    assert not top_in_night(start_min=at(21), heat=heat, night=NIGHT)
    assert best_start(wish_min=at(21), heat=heat, night=NIGHT) == at(7)
    # 20 h of heating pass every night: nearest to 18:00, whose top 19 to 21.5 h later is by day.
    slow = Heat(top_h=20, left_h=20.5, off_h=1)
    assert best_start(wish_min=at(18), heat=slow, night=NIGHT) == at(18)


def test_no_hour_does_it() -> None:
    # A day of 30 minutes, and a top 8 h after the lighting.
    long = Night(from_min=at(12.5), until_min=at(12))
    assert best_start(wish_min=at(8), heat=Heat(top_h=8, left_h=8), night=long) is None


@settings(deadline=None, max_examples=60)
@given(
    st.integers(0, DAY_MIN - 1), st.integers(0, DAY_MIN - 1), st.integers(0, DAY_MIN - 1),
    st.floats(0, 40), st.floats(0, 6), st.floats(0, 3),
)  # fmt: skip
def test_against_minute_by_minute(
    begin: int, end: int, start: int, top: float, hold: float, off: float
) -> None:
    if begin == end:
        return
    night, heat = (
        Night(from_min=begin, until_min=end),
        Heat(top_h=top, left_h=top + hold, off_h=off),
    )
    first, last = start + 60 * max(top - off, 0), start + 60 * (top + hold + off)
    minutes = [first + i for i in range(int(last - first) + 1)] + [last]
    slow = any(night.holds(minute) for minute in minutes)
    quick = top_in_night(start_min=start, heat=heat, night=night)
    # A night shorter than the step of a minute may lie between two of them.
    assert quick >= slow
    if (end - begin) % DAY_MIN > 1:
        assert quick == slow


def test_what_cannot_be_is_refused() -> None:
    for wrong in ({"from_min": 5, "until_min": 5}, {"from_min": -1, "until_min": 5}):
        with pytest.raises(ValueError, match=r"a (night|time)"):
            Night(**wrong)
    with pytest.raises(ValueError, match="a top is reached"):
        Heat(top_h=5, left_h=4)
