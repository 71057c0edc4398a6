"""Is a log of two firings told apart, and cut at its hours without losing what it says?"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.log_parts import Heating, cut, heatings

ONE = [(0.0, 20.0), (3.0, 20.0), (13.0, 1020.0), (23.0, 220.0), (33.0, 40.0)]
"""Three cold hours, 100 °C an hour to 1020 °C, then down."""


def test_one_heating_begins_where_the_kiln_grows_warm() -> None:
    assert heatings(ONE) == (Heating(from_h=3, until_h=33, high_c=1020),)


def test_two_firings_of_one_file_are_told_apart() -> None:
    second = [(h + 40, c + 10) for h, c in ONE]
    first, after = heatings([*ONE, *second])
    assert (first.from_h, first.high_c) == (3, 1020)
    # The second lies at 30 °C from hour 40 to 43, the coldest between the two.
    assert first.until_h == 40
    assert (after.from_h, after.until_h, after.high_c) == (43, 73, 1030)


def test_a_cold_log_has_no_heating() -> None:
    assert heatings([(0, 20), (50, 249)]) == ()


def test_a_cut_keeps_the_line() -> None:
    # Half way from hour 3 to 13 are 520 °C, at hour 28 half way from 220 to 40: 130 °C.
    assert cut(ONE, from_h=8, until_h=28) == [(8, 520), (13, 1020), (23, 220), (28, 130)]
    assert cut(ONE, from_h=None, until_h=None) == ONE
    assert cut(ONE, from_h=40, until_h=50) == []


@settings(deadline=None, max_examples=40)
@given(st.floats(0, 30), st.floats(0.5, 30))
def test_a_cut_is_the_log_between_its_hours(start: float, length: float) -> None:
    part = cut(ONE, from_h=start, until_h=start + length)
    hours, temps = zip(*ONE, strict=True)
    for h, c in part:
        assert start <= h <= start + length
        assert c == pytest.approx(np.interp(h, hours, temps))
    assert part[0][0] == start
    assert part[-1][0] == min(start + length, 33)
