"""Are a kiln's own offset, its cooling and its wear found where they are known beforehand?

Outside truths: ``scipy.stats.t`` for the table of spreads, ``scipy.stats.logistic`` for what
is likely of an offset, ``scipy.optimize.curve_fit`` for the
fitted constants, the printed chart for the cones, and hand sums.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit  # type: ignore[import-untyped]
from scipy.stats import logistic  # type: ignore[import-untyped]
from scipy.stats import t as students_t  # type: ignore[import-untyped]

from studio.craft.cooling import (
    CoolingFit,
    constants_of,
    fit_constant,
    fit_cooling,
    free_part,
    spread_percent,
)
from studio.craft.kiln_fit import Fired, Seen, fit_offset, offsets_for
from studio.craft.programme import THICK_KILN, CoolingLaw, Programme, Segment, cooling_h, curve
from studio.craft.spread import T_975, of_next, t_975
from studio.craft.wear import element_wear, life_at, took_longer

ROOM = 20.0


def test_the_table_of_spreads_is_students() -> None:
    for freedom, printed in enumerate(T_975, 1):
        assert printed == pytest.approx(students_t.ppf(0.975, freedom), abs=5e-4)
    assert t_975(100) == T_975[-1]
    with pytest.raises(ValueError, match="two readings"):
        t_975(0)


def test_the_next_one_by_hand() -> None:
    # 4, 6, 8: mean 6, deviation 2; 4.303 x 2 x sqrt(4/3) = 9.94
    assert of_next([4, 6, 8]) == (6, pytest.approx(9.937, abs=1e-3))


def cooled(law: CoolingLaw, *, from_c: float = 1220, to_c: float = 60, noise: float = 0.0,
           seed: int = 1) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """A log of free cooling in minutes of reading, with a short climb before it."""
    temps = np.linspace(from_c, to_c, 900)
    times = 1 + np.array([cooling_h(from_c, c, ROOM, law=law) for c in temps])
    times, temps = np.append([0.0, 0.5], times), np.append([from_c - 60, from_c - 30], temps)
    return times, temps + np.random.default_rng(seed).normal(0, noise, len(temps))


def test_the_constants_of_a_kiln_come_back() -> None:
    law = CoolingLaw(above_h=4.4, below_h=6.3)
    above, below = constants_of(*free_part(*cooled(law)), room_c=ROOM, knee_c=538)
    assert above is not None
    assert below is not None
    assert above.tau_h == pytest.approx(4.4, rel=0.01)
    assert below.tau_h == pytest.approx(6.3, rel=0.01)


def test_noise_moves_them_little_and_scipy_says_the_same() -> None:
    times, temps = free_part(*cooled(CoolingLaw(above_h=4.4, below_h=6.3), noise=2.5, seed=3))
    low = temps < 538
    found = fit_constant(times[low], temps[low], room_c=ROOM)
    assert found is not None
    assert found.tau_h == pytest.approx(6.3, rel=0.02)

    even = np.linspace(0, times[low][-1] - times[low][0], 200)
    above = np.interp(even, times[low] - times[low][0], temps[low]) - ROOM

    def law(t: np.ndarray, start: float, tau: float) -> np.ndarray:
        return start * np.exp(-t / tau)

    (_, tau), _ = curve_fit(law, even, above, p0=(500, 5))
    assert found.tau_h == pytest.approx(tau, rel=1e-5)
    assert found.miss_c < 5


def test_a_log_that_ends_hot_tells_no_lower_constant() -> None:
    law = CoolingLaw(above_h=4.4, below_h=6.3)
    above, below = constants_of(*free_part(*cooled(law, to_c=300)), room_c=ROOM, knee_c=538)
    assert above is not None
    assert below is None
    assert fit_constant(np.array([0, 1.0]), np.array([500, 300.0]), room_c=ROOM) is None
    flat = np.linspace(0, 5, 50)
    assert fit_constant(flat, np.full(50, 400.0), room_c=ROOM) is None


def test_led_cooling_and_reheating_tell_nothing() -> None:
    times, temps = cooled(CoolingLaw(above_h=4.4, below_h=6.3))
    part, falling = free_part(times, temps, end_c=760)
    assert falling[0] == pytest.approx(757, abs=3)
    assert len(part) == len(falling)
    warm = np.append(temps, [90.0, 200.0])
    _, cut = free_part(np.append(times, [times[-1] + 1, times[-1] + 2]), warm)
    assert cut[-1] < 70
    nothing, _ = free_part(np.array([0, 1.0]), np.array([1200, 1190.0]), end_c=760)
    assert not len(nothing)


def test_few_logs_leave_a_wide_spread() -> None:
    assert spread_percent([]) == 25
    assert spread_percent([6.0]) == 15
    # 6.0, 6.2, 6.1: mean 6.1, deviation 0.1; 4.303 x 0.1 x sqrt(4/3) / 6.1 = 8 %
    assert spread_percent([6.0, 6.2, 6.1]) == 8
    assert spread_percent([6.0] * 5) == 5
    assert spread_percent([4.0, 8.0]) == 25


def test_a_side_without_logs_keeps_the_proportion() -> None:
    law = CoolingLaw(above_h=4.0, below_h=6.0)
    _, below = constants_of(*free_part(*cooled(law)), room_c=ROOM, knee_c=538)
    fitted = fit_cooling([(None, below)], default=THICK_KILN)
    assert fitted.law.below_h == pytest.approx(6.0, rel=0.01)
    # 5.7 to 7.3 is the default's proportion: 6.0 x 5.7 / 7.3 = 4.68
    assert fitted.law.above_h == pytest.approx(4.68, rel=0.02)
    assert (fitted.logs_above, fitted.logs_below, fitted.spread_percent) == (0, 1, 15)
    above, _ = constants_of(*free_part(*cooled(law)), room_c=ROOM, knee_c=538)
    turned = fit_cooling([(above, None)], default=THICK_KILN)
    assert turned.law.below_h == pytest.approx(4.0 * 7.3 / 5.7, rel=0.02)
    none = fit_cooling([], default=THICK_KILN)
    assert none == CoolingFit(law=THICK_KILN, logs_above=0, logs_below=0, spread_percent=25)


def fired(
    *seen: tuple[str, str], low_by: float = 0.0, top_c: float = 1222, rate: float = 60
) -> Fired:
    """A steady climb whose thermocouple reads ``low_by`` too little, nothing after it."""
    rows = (Segment(rate_c_per_h=rate, target_c=top_c),)
    hours, temps = zip(*curve(Programme(segments=rows)), strict=True)
    return Fired(
        times_h=hours,
        temps_c=tuple(c - low_by for c in temps),
        seen=tuple(Seen(cone=cone, bend=bend) for cone, bend in seen),  # type: ignore[arg-type]
    )


def test_a_cone_just_down_wants_no_offset_and_a_low_thermocouple_its_own() -> None:
    # The chart: cone 6 is down at 1222 °C on 60 °C/h. Flat is twice the work: b ln 2 more degrees
    # near the end, with b = (1243 - 1222) / ln(150/60) = 22.9 °C beyond the printed 60 °C/h.
    band = offsets_for(fired(), Seen(cone="6", bend="down"))
    assert band is not None
    b = (1243 - 1222) / math.log(150 / 60)
    assert band[0] == pytest.approx(0, abs=0.01)
    assert band[1] == pytest.approx(b * math.log(2), abs=0.1)
    low = offsets_for(fired(low_by=17), Seen(cone="6", bend="down"))
    assert low is not None
    assert low[0] == pytest.approx(17, abs=0.01)
    # Bending: between 1/e and 1; below 1222 °C b is (1222 - 1185) / ln 4 = 26.7 °C (C cells).
    bending = offsets_for(fired(), Seen(cone="6", bend="bending"))
    assert bending is not None
    assert bending[1] == pytest.approx(0, abs=0.01)
    assert bending[0] == pytest.approx(-(1222 - 1185) / math.log(4), abs=0.1)


def test_one_sided_cones_and_cones_that_tell_nothing() -> None:
    up = offsets_for(fired(), Seen(cone="7", bend="up"))
    assert up is not None
    assert math.isinf(up[0])
    flat = offsets_for(fired(), Seen(cone="5", bend="flat"))
    assert flat is not None
    assert math.isinf(flat[1])
    assert offsets_for(fired(), Seen(cone="5.5", bend="down")) is None
    assert offsets_for(fired(), Seen(cone="022", bend="down")) is None
    assert offsets_for(fired(top_c=700), Seen(cone="10", bend="down")) is None
    with pytest.raises(ValueError, match="up, bending, down or flat"):
        Seen(cone="6", bend="melted")  # type: ignore[arg-type]


def test_fewer_than_three_cones_fix_nothing() -> None:
    two = fit_offset([fired(("6", "down"), low_by=15), fired(("6", "down"), low_by=15)])
    assert (two.offset_c, two.spread_c, two.cones) == (0, None, 2)
    one_sided = fit_offset([fired(("7", "up"), ("5", "flat"), ("8", "up"))])
    assert one_sided.spread_c is None


def test_three_cones_fix_the_offset_with_its_spread() -> None:
    fit = fit_offset([fired(("6", "down"), low_by=15) for _ in range(3)])
    # Each band runs 15.9 °C upwards from 15, and equal bands lean to neither side: 22.9.
    assert fit.offset_c == pytest.approx(15 + 22.9 * math.log(2) / 2, abs=0.2)
    assert fit.spread_c is not None
    assert 5 < fit.spread_c < 12
    assert (fit.cones, fit.firings) == (3, 3)
    many = fit_offset([fired(("6", "down"), low_by=15) for _ in range(12)])
    assert many.spread_c is not None
    assert many.spread_c < fit.spread_c


def test_the_likely_offset_is_what_scipy_says() -> None:
    seen = (("6", "down"), ("6", "bending"), ("7", "bending"), ("7", "up"), ("5", "flat"))
    one = fired(*seen, low_by=8)
    fit = fit_offset([one])
    bands = [offsets_for(one, Seen(cone=c, bend=b)) for c, b in seen]  # type: ignore[arg-type]
    offsets = np.linspace(-100, 100, 1601)
    likely = np.zeros(len(offsets))
    # The prior of the places on a grid of the same ten: log-normal about 5 °C, a factor of 2.
    for place in (1.5, 2, 3, 4, 5, 6, 8, 10, 13, 17):
        told = math.exp(-0.5 * (math.log(place / 5) / math.log(2)) ** 2) * np.ones(len(offsets))
        for band in bands:
            assert band is not None
            law = logistic(loc=offsets, scale=place * math.sqrt(3) / math.pi)
            told = told * (law.cdf(band[1]) - law.cdf(band[0]))
        likely += told
    likely /= likely.sum()
    assert fit.offset_c == pytest.approx(float((offsets * likely).sum()), abs=0.05)
    summed = np.cumsum(likely)
    low, high = (float(np.interp(q, summed, offsets)) for q in (0.025, 0.975))
    assert fit.spread_c == pytest.approx(max(fit.offset_c - low, high - fit.offset_c), abs=0.3)


def test_cones_that_contradict_are_counted() -> None:
    fit = fit_offset(
        [fired(("6", "down")) for _ in range(6)] + [fired(("4", "up"))],
    )
    assert fit.spread_c is not None
    assert fit.against == 1


@settings(deadline=None, max_examples=15)
@given(st.floats(-30, 30), st.sampled_from(["6", "7", "04"]))
def test_the_true_offset_lies_in_the_band(offset: float, cone: str) -> None:
    top = {"6": 1222.0, "7": 1239.0, "04": 1063.0}[cone]
    band = offsets_for(fired(low_by=offset, top_c=top), Seen(cone=cone, bend="down"))
    assert band is not None
    assert band[0] - 0.01 <= offset <= band[1]


def test_wear_is_the_worse_of_two_sums() -> None:
    # 35 firings of cone 04 and 65 of cone 6: 100/150 = 0.667 by count; 35/1500 + 65/200 = 0.348.
    wear = element_wear(["04"] * 35 + ["6"] * 65)
    assert wear.by_count == pytest.approx(100 / 150)
    assert wear.by_cone == pytest.approx(35 / 1500 + 65 / 200)
    assert wear.percent == 66
    # Cone 10 only: 20 firings are 20/37 of a life though only 20/150 by count.
    assert element_wear(["10"] * 20).percent == 54


def test_lives_between_the_cones_of_the_table() -> None:
    lives = {"04": 1500, "6": 200}
    # 04 to 6 is ten steps (03 02 01 1 2 3 4 5 5.5 6); 1 is four of them: 1500 (200/1500)^(4/10)
    assert life_at("1", lives) == pytest.approx(1500 * (200 / 1500) ** 0.4)
    assert life_at("06", lives) == 1500
    assert life_at("9", lives) == pytest.approx(200)
    for bad in ({}, {"6": 0}):
        with pytest.raises(ValueError, match="1 firing or more"):
            life_at("6", bad)
    with pytest.raises(ValueError, match="1 firing or more"):
        element_wear(["6"], count_life=0)


def test_heating_that_took_longer() -> None:
    # Median of 10, 10, 11, 12, 10 is 10; 15 % more is 11.5.
    longer = took_longer(11.5, [10, 10, 11, 12, 10])
    assert longer is not None
    assert (longer.usual_h, longer.percent, longer.like) == (10, 15, 5)
    assert took_longer(11.4, [10, 10, 11, 12, 10]) is None
    assert took_longer(20, [10, 10]) is None
    # Only the last ten count: the eleventh before is forgotten.
    assert took_longer(13, [99, *[10] * 10]) is not None
