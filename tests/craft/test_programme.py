"""Do the hours of a programme add up, and does a kiln cool as kilns do?

Arithmetic stands as visible sums. Cooling is set beside what potters counted; the default
constants come from our own simulation, so they are no truth here.
"""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.craft.programme import (
    LARGE_KILN,
    MIDDLE_KILN,
    SMALL_KILN,
    THICK_KILN,
    BadProgramme,
    CoolingLaw,
    FullPower,
    Programme,
    Segment,
    busy_days,
    cooling_h,
    curve,
    heating_h,
    opening_h,
    slow_cooling_h,
)
from studio.craft.quantities import f_to_c, rate_f_to_c


def row(rate: float | None, target: float, hold: float = 0) -> Segment:
    return Segment(rate_c_per_h=rate, target_c=target, hold_min=hold)


def row_f(rate_f: float | None, target_f: float, hold: float = 0) -> Segment:
    return row(None if rate_f is None else rate_f_to_c(rate_f), f_to_c(target_f), hold)


SLOW_COOLED = Programme(
    segments=(
        row_f(150, 180),
        row_f(150, 250),
        row_f(400, 2012),
        row_f(120, 2262),
        row_f(None, 1700),
        row_f(50, 1600),
        row_f(50, 1500),
    ),
    start_c=f_to_c(70),
)


def test_heating_adds_up() -> None:
    # 110/150 + 70/150 + 1762/400 + 250/120 = 0.733 + 0.467 + 4.405 + 2.083 h
    assert heating_h(SLOW_COOLED) == pytest.approx(110 / 150 + 70 / 150 + 1762 / 400 + 250 / 120)


def test_holds_count() -> None:
    programme = Programme(segments=(row(100, 120, 60), row(60, 1200, 30)))
    assert heating_h(programme) == pytest.approx(100 / 100 + 1 + 1080 / 60 + 0.5)
    assert slow_cooling_h(programme) == 0


def test_heating_lasts_to_the_last_stand_at_the_peak() -> None:
    programme = Programme(segments=(row(100, 1020), row(100, 920), row(50, 1020, 30), row(60, 900)))
    assert heating_h(programme) == pytest.approx(10 + 1 + 2 + 0.5)
    assert slow_cooling_h(programme) == pytest.approx(120 / 60)


def test_slow_cooling_adds_up() -> None:
    # 2262 to 1700 °F left to itself, then 100/50 + 100/50 h under control.
    tau, room = 4.7, f_to_c(70)
    drop = tau * math.log((2262 - 70) / (1700 - 70))
    assert slow_cooling_h(SLOW_COOLED, room_c=room, law=MIDDLE_KILN) == pytest.approx(drop + 2 + 2)


def test_opening_adds_up() -> None:
    room = f_to_c(70)
    law = CoolingLaw(above_h=6, below_h=6)
    # ln(2192/1630) + ln(1430/55) = 0.296 + 3.258 constants, as intervals in °F from 70 °F.
    constants = math.log(2192 / 1630) + math.log(1430 / 55)
    assert opening_h(SLOW_COOLED, open_c=f_to_c(125), room_c=room, law=law) == pytest.approx(
        6 * constants + 4
    )


def test_two_constants_meet_at_the_knee() -> None:
    law = CoolingLaw(above_h=5, below_h=7, knee_c=538)
    whole = cooling_h(1200, 93, 20, law=law)
    assert whole == pytest.approx(5 * math.log(1180 / 518) + 7 * math.log(518 / 73))
    assert whole == pytest.approx(cooling_h(1200, 538, law=law) + cooling_h(538, 93, law=law))
    assert cooling_h(1200, 600, law=law) == pytest.approx(5 * math.log(1180 / 580))
    assert cooling_h(400, 93, law=law) == pytest.approx(7 * math.log(380 / 73))


def test_a_large_kiln_cools_as_a_potter_counted() -> None:
    # B. Silverman, Clayart, 24 Jan 1998: 10 cu ft, cone 06 to about 150 °F in 24 h.
    assert cooling_h(f_to_c(1828), f_to_c(150), law=LARGE_KILN) == pytest.approx(24, rel=0.1)


def test_a_small_kiln_in_the_cold_cools_as_a_potter_counted() -> None:
    # A potter's account: small kiln, cold weather, 1900 to 120 °F in 13 h. Room taken as 5 °C.
    assert cooling_h(f_to_c(1900), f_to_c(120), 5, law=SMALL_KILN) == pytest.approx(13, rel=0.25)


@pytest.mark.parametrize("law", [MIDDLE_KILN, THICK_KILN, LARGE_KILN])
def test_twelve_hours_are_not_enough(law: CoolingLaw) -> None:
    # A potter's blog, 25 Jun 2010: cone 6 to 130 °F takes more than 12 h.
    assert cooling_h(f_to_c(2232), f_to_c(130), law=law) > 12


def test_cooling_edges() -> None:
    assert cooling_h(90, 93) == 0
    assert cooling_h(93, 93) == 0
    with pytest.raises(BadProgramme, match="takes for ever to cool to 20 °C"):
        cooling_h(1200, 20)
    with pytest.raises(BadProgramme, match="for ever"):
        cooling_h(1200, 20, math.nan)


@given(st.floats(100, 1300), st.floats(60, 1300), st.floats(0, 35))
def test_from_hotter_takes_longer(from_c: float, to_c: float, room_c: float) -> None:
    there = cooling_h(from_c, to_c, room_c)
    assert there >= 0
    assert cooling_h(from_c + 10, to_c, room_c) >= there


def test_full_power_bends() -> None:
    power = FullPower(ceiling_c=1480, tau_h=3.5)
    programme = Programme(segments=(row(None, 1222),))
    # 3.5 x ln(1460 / 258)
    assert heating_h(programme) == pytest.approx(3.5 * math.log(1460 / 258))
    assert heating_h(programme, power=power) == heating_h(programme)
    points = curve(programme)
    assert points[0] == (0, 20)
    assert points[-1] == pytest.approx((heating_h(programme), 1222))
    gains = [b[1] - a[1] for a, b in pairwise(points)]
    assert gains == sorted(gains, reverse=True)  # ever slower
    with pytest.raises(BadProgramme, match="Row 1: full power levels off at 1200 °C"):
        heating_h(programme, power=FullPower(ceiling_c=1200, tau_h=3))


def test_a_rate_beyond_the_kiln_is_stretched() -> None:
    # 400 °F/h with a ceiling of 2700 °F and 3.5 h: straight to 2700 - 400 x 3.5 = 1300 °F, then
    # 3.5 x ln(1400 / 688) to 2012 °F; the row at 120 °F/h is held as far as 2700 - 420 = 2280 °F.
    power = FullPower(ceiling_c=f_to_c(2700), tau_h=3.5)
    expected = 180 / 150 + 1050 / 400 + 3.5 * math.log(1400 / 688) + 250 / 120
    assert heating_h(SLOW_COOLED, power=power) == pytest.approx(expected)


def test_a_cooling_rate_beyond_the_kiln_is_stretched() -> None:
    law = CoolingLaw(above_h=5, below_h=5)
    programme = Programme(segments=(row(100, 1000), row(100, 120)))
    # The kiln can lose 100 °C/h down to 20 + 100 x 5 = 520 °C; below it is left to itself.
    assert slow_cooling_h(programme, law=law) == pytest.approx(
        (1000 - 520) / 100 + 5 * math.log(500 / 100)
    )


def test_a_curve_of_rows() -> None:
    programme = Programme(segments=(row(100, 120, 30), row(200, 1020), row(100, 920)))
    expected = [(0, 20), (1, 120), (1.5, 120), (6, 1020), (7, 920)]
    assert list(curve(programme)) == [pytest.approx(point) for point in expected]


@given(
    st.lists(
        st.tuples(st.none() | st.integers(1, 600), st.integers(30, 1400), st.integers(1, 600)),
        min_size=1,
        max_size=8,
    )
)
def test_a_curve_never_goes_back_and_ends_on_target(
    rows: list[tuple[int | None, int, int]],
) -> None:
    programme = Programme(segments=tuple(row(*each) for each in rows))
    points = curve(programme)
    hours = [h for h, _ in points]
    assert hours == sorted(hours)
    assert points[-1][1] == programme.end_c
    total = heating_h(programme) + slow_cooling_h(programme)
    assert points[-1][0] == pytest.approx(total)
    assert max(c for _, c in points) == pytest.approx(programme.peak_c)


def test_busy_days() -> None:
    assert busy_days(10, 21, 1) == 2  # 32 h
    assert busy_days(13.5, 12, 1) == 2  # 26.5 h
    assert busy_days(8, 12, 1) == 1  # 21 h
    assert busy_days(8, 15, 1) == 1  # exactly 24 h
    assert busy_days(14, 34, 1) == 3  # 49 h
    assert busy_days(0, 0, 0) == 1
    with pytest.raises(BadProgramme, match="not -1"):
        busy_days(8, -1, 1)
    with pytest.raises(BadProgramme, match="0 to 1440"):
        busy_days(8, math.nan, 1)


def test_every_row_is_named() -> None:
    with pytest.raises(BadProgramme) as caught:
        Programme(
            segments=(row(-5, 100), row(100, 9000), row(0, 1200, -3), row(100, 1200), row(9999, 5)),
            start_c=2000,
        )
    assert caught.value.causes == (
        "A firing starts at -30 to 1300 °C, not at 2000 °C.",
        "Row 1: a rate is 1 to 600 °C an hour up or down, not -5.",
        "Row 2: a target is 20 to 1400 °C, not 9000.",
        "Row 3: a rate is 1 to 600 °C an hour up or down, not 0.",
        "Row 3: a hold is 0 to 2880 minutes, not -3.",
        "Row 4: the kiln already stands at 1200 °C, and there is no hold.",
        "Row 5: a rate is 1 to 600 °C an hour up or down, not 9999.",
        "Row 5: a target is 20 to 1400 °C, not 5.",
    )


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_no_number_slips_through(number: float) -> None:
    for segment in (row(number, 100), row(100, number), row(100, 200, number)):
        with pytest.raises(BadProgramme, match="Row 1: "):
            Programme(segments=(segment,))


def test_the_number_of_rows() -> None:
    with pytest.raises(BadProgramme, match="has 1 to 32 rows, not 0"):
        Programme(segments=())
    with pytest.raises(BadProgramme, match="not 33"):
        Programme(segments=tuple(row(100, 100 + i) for i in range(33)))


def test_a_hold_where_the_kiln_stands_is_a_row() -> None:
    programme = Programme(segments=(row(100, 120), row(100, 120, 60), row(100, 220)))
    assert heating_h(programme) == pytest.approx(1 + 1 + 1)


def test_laws_of_a_kiln_are_checked() -> None:
    with pytest.raises(ValueError, match="cooling constant"):
        CoolingLaw(above_h=0, below_h=5)
    with pytest.raises(ValueError, match="bends between"):
        CoolingLaw(above_h=5, below_h=5, knee_c=20)
    with pytest.raises(ValueError, match="levels off"):
        FullPower(ceiling_c=20)
    with pytest.raises(BadProgramme, match="Row 2: a kiln in a room of 30 °C"):
        slow_cooling_h(Programme(segments=(row(100, 1000), row(None, 25))), room_c=30)
