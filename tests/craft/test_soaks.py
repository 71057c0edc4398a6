"""What do published words say about a soak and a slow cooling, and where do they not agree?

Where a published rule agrees with the heat work, it is a check; where it does not, the difference
is written down here so that nobody takes the tool for more than it is. Chart text: "Temperature
Equivalents for Orton Pyrometric Cones" as reproduced at bigceramicstore.com (ConeChart, no year):
a soak of 1 to 2 hours brings the next cone down, one of 4 to 6 hours two cones.
"""

from __future__ import annotations

import math

import pytest

from studio.craft.cones import cone_named, cone_temperature
from studio.craft.heat_work import RUNGS, cone_reached
from studio.craft.programme import (
    CoolingLaw,
    FullPower,
    Programme,
    Segment,
    cooling_h,
    heating_h,
    opening_h,
    slow_cooling_h,
)
from studio.craft.quantities import f_to_c, rate_f_to_c

NAMES = [cone.name for cone in RUNGS]


def soaked(cone: str, *, rate: float, minutes: float) -> float:
    """How many cones a soak at a cone's own temperature adds after a steady climb."""
    top = cone_temperature(cone, rate_c_per_h=rate)
    climb = (top - 20) / rate
    found = cone_reached(times_h=[0, climb, climb + minutes / 60], temps_c=[20, top, top]).at_peak
    assert found.rung is not None
    return found.rung - NAMES.index(cone)


def reached(*rows: tuple[float, float, float]) -> float:
    """The rung at the end of heating: rows of rate [°F/h], target [°F], hold [min]."""
    hours, temps = [0.0], [20.0]
    for rate, target, hold in rows:
        top = f_to_c(target)
        hours.append(hours[-1] + (top - temps[-1]) / rate_f_to_c(rate))
        temps.append(top)
        hours.append(hours[-1] + hold / 60)
        temps.append(top)
    stand = cone_reached(times_h=hours, temps_c=temps).at_peak
    assert stand.rung is not None
    return stand.rung


def minutes_to_next(cone: str, *, rate: float) -> float:
    """(b / r)(exp(gap / b) - 1), by hand from printed cells at 60 and 150 °C/h."""
    after = NAMES[NAMES.index(cone) + 1]
    line = cone_named(after).bending_line()
    b = (line.temps_c[2] - line.temps_c[1]) / math.log(150 / 60)
    gap = cone_temperature(after, rate_c_per_h=60) - cone_temperature(cone, rate_c_per_h=60)
    return 60 * b / rate * (math.exp(gap / b) - 1)


def test_agrees_one_to_two_hours_bring_the_next_cone_where_the_gap_is_wide() -> None:
    # 5 to 6 (gap 1222 - 1186 = 36 °C) and 04 to 03 (gap 1086 - 1063 = 23 °C) at 60 °C/h.
    for cone, after in (("5", "6"), ("04", "03")):
        assert soaked(cone, rate=60, minutes=60) < 1 < soaked(cone, rate=60, minutes=120), after


def test_agrees_at_the_charts_slow_rate() -> None:
    # 8 to 9 at 15 °C/h, cells read in print: two hours bring it, one does not.
    assert soaked("8", rate=15, minutes=60) < 1 < soaked("8", rate=15, minutes=120)


def test_disagrees_where_cones_stand_close_at_the_usual_rate() -> None:
    # At 60 °C/h the next cone after 6 comes within the first hour, and 7, 8 and 1 to 3 likewise:
    # the one rule of 1 to 2 hours cannot hold for every gap.
    for cone in ("6", "7", "8"):
        assert soaked(cone, rate=60, minutes=60) > 1
        assert minutes_to_next(cone, rate=60) < 60
    # And 4 to 5 to 6 takes far longer than 75 minutes.
    assert soaked("4", rate=60, minutes=60) == pytest.approx(1.14, abs=0.02)


def test_a_hold_replaces_a_few_degrees_of_peak() -> None:
    # 60 °C/h, from the slopes of printed cells: exp(x/b) = 1 + (r/b) t. 10 min: 7 to 9 °C.
    for cone in ("6", "04", "8"):
        line = cone_named(cone).bending_line()
        b = (line.temps_c[2] - line.temps_c[1]) / math.log(150 / 60)
        replaced = b * math.log(1 + 60 / b * 10 / 60)
        assert 6.5 <= replaced <= 9


def test_agrees_forty_minutes_from_6_to_8() -> None:
    # N. Estrick, blog of 3 Mar 2011: 108 °F/h to cone 6, then 40 min, is cone 8.
    assert soaked("6", rate=60, minutes=40) == pytest.approx(2, abs=0.5)


def test_disagrees_seventy_five_minutes_from_4_to_6() -> None:
    # The same potter, same forum topic (5036): 75 min from 4 give 6. The heat work says 5.3: the
    # difference of 0.7 cone is 22 to 24 °C, as thermocouples in use are off by.
    found = soaked("4", rate=60, minutes=75)
    assert found == pytest.approx(1.3, abs=0.05)
    assert 2 - found == pytest.approx(0.7, abs=0.05)


@pytest.mark.parametrize(
    ("rows", "said", "short_by"),
    [
        # Hesselberth and Roy, Mastering Cone 6 Glazes (2002), p. 144 as quoted: 85 °C/h to 1200 °C,
        # 15 min, is 6.
        (((153, 2192, 15),), "6", 0.3),
        # Forum 5036: 108 °F/h to 2180 °F, 15 min, is 6.
        (((108, 2180, 15),), "6", 0.3),
        # The same: 150 °F/h to 2127 °F, 15 min, is 5.5.
        (((150, 2127, 15),), "5", 0.5),
    ],
)
def test_potters_schedules_come_out_a_little_short(
    rows: tuple[tuple[float, float, float], ...], said: str, short_by: float
) -> None:
    # Always short, by 12 to 28 °C: their thermocouples read low, so a kiln's own offset is fitted.
    wanted = NAMES.index(said)
    assert wanted - short_by - 0.15 < reached(*rows) < wanted


SLOW = Programme(
    segments=tuple(
        Segment(
            rate_c_per_h=None if rate is None else rate_f_to_c(rate),
            target_c=f_to_c(target),
            hold_min=hold,
        )
        for rate, target, hold in (
            (150, 180, 0), (150, 250, 0), (400, 2012, 0), (120, 2262, 0),
            (None, 1700, 0), (50, 1600, 0), (50, 1500, 0),
        )
    ),
    start_c=f_to_c(70),
)  # fmt: skip
ROOM = f_to_c(70)


def test_the_slow_cooled_programme_by_hand() -> None:
    # (180-70)/150 + (250-180)/150 + (2012-250)/400 + (2262-2012)/120 = 0.733+0.467+4.405+2.083
    by_hand = 110 / 150 + 70 / 150 + 1762 / 400 + 250 / 120
    assert by_hand == pytest.approx(7.69, abs=0.005)
    assert heating_h(SLOW) == pytest.approx(by_hand)


@pytest.mark.parametrize(("tau", "hours"), [(3, 22.3), (4, 25.9), (5, 29.5), (6, 33.0), (8, 40.1)])
def test_the_whole_of_it_until_125_f_by_hand(tau: float, hours: float) -> None:
    # Left to itself: 2262 to 1700 °F is ln(2192/1630) = 0.296 tau; 1500 to 125 °F is
    # ln(1430/55) = 3.258 tau. Led: 200 °F at 50 °F/h = 4 h. 7.69 + 4 + 3.554 tau.
    law = CoolingLaw(above_h=tau, below_h=tau)
    drop, tail = math.log(2192 / 1630), math.log(1430 / 55)
    assert drop + tail == pytest.approx(3.554, abs=5e-4)
    assert slow_cooling_h(SLOW, room_c=ROOM, law=law) == pytest.approx(drop * tau + 4)
    whole = heating_h(SLOW) + opening_h(SLOW, open_c=f_to_c(125), room_c=ROOM, law=law)
    assert whole == pytest.approx(7.69 + 4 + 3.554 * tau, abs=0.01)
    assert whole == pytest.approx(hours, abs=0.1)


def test_a_kiln_that_cannot_follow_takes_longer() -> None:
    # Ceiling 2700 °F, tau 3.5 h: 400 °F/h is held to 2700 - 400 x 3.5 = 1300 °F, then bent:
    # 3.5 ln((2700-1300)/(2700-2012)) = 2.486 h, and 120 °F/h is held all the way
    # (2700 - 120 x 3.5 = 2280 °F). 0.733 + 0.467 + 1050/400 + 2.486 + 2.083 = 8.39 h.
    power = FullPower(ceiling_c=f_to_c(2700), tau_h=3.5)
    by_hand = 110 / 150 + 70 / 150 + 1050 / 400 + 3.5 * math.log(1400 / 688) + 250 / 120
    assert by_hand == pytest.approx(8.39, abs=0.01)
    assert heating_h(SLOW, power=power) == pytest.approx(by_hand, abs=1e-6)


def test_the_slow_cooling_itself_adds_nothing_to_the_cone() -> None:
    # 2262 °F is cone 7 at 108 °F/h; the last row climbs at 120, so a little under 7.
    drop = [(0.0, 1700.0), (4.0, 1500.0)]
    heated = [0.0, 110 / 150, 180 / 150, 180 / 150 + 1762 / 400, 7.688]
    temps = [f_to_c(f) for f in (70, 180, 250, 2012, 2262)]
    fall = cooling_h(f_to_c(2262), f_to_c(1700), ROOM, law=CoolingLaw(above_h=5, below_h=5))
    times = [*heated, *(heated[-1] + fall + h for h, _ in drop)]
    cooled = cone_reached(times_h=times, temps_c=[*temps, *(f_to_c(f) for _, f in drop)])
    quick = cone_reached(times_h=times[:-1], temps_c=[*temps, f_to_c(1700)])
    assert cooled.at_peak.cone == "6"
    assert cooled.at_peak.part == pytest.approx(0.85, abs=0.05)
    assert cooled.with_cooling.rung == pytest.approx(quick.with_cooling.rung, abs=0.005)
