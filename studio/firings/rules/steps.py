"""Can a kiln follow these steps, and which row is wrong?

A step is a rate to a target and then a hold. No rate means as fast as the kiln can.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from studio.craft.cones import cone_temperature
from studio.craft.quantities import TemperatureUnit, show_rate, show_temperature

COOLEST_C: Final = 20
HOTTEST_C: Final = 1400
FASTEST_C_PER_H: Final = 1000
LONGEST_HOLD_MIN: Final = 48 * 60
OFF_CONE_C: Final = 100
"""A top this far [°C] from its cone's own temperature is a slip such as 06 for 6.

Common practice, no source: holds and slow climbs replace 30 °C or so of peak, a kiln's own
thermocouple may be out by 25 °C.
"""
MOST_STEPS: Final = 20


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One row of a schedule [°C/h, °C, min]."""

    rate_c_per_h: float | None
    target_c: float
    hold_min: int = 0


def wrong_steps(
    steps: Sequence[Step], *, cone: str, unit: TemperatureUnit = "C"
) -> list[tuple[int, str]]:
    """What is wrong with the steps: (row, sentence), rows from 1; row 0 is the whole."""
    if not steps:
        return [(0, "A schedule needs one row or more: a rate, a target and a hold.")]
    if len(steps) > MOST_STEPS:
        return [(0, f"A schedule has {MOST_STEPS} rows at most, not {len(steps)}.")]
    found = []
    before = float(COOLEST_C)
    for row, step in enumerate(steps, start=1):
        if sentence := wrong_step(step, before_c=before, unit=unit):
            found.append((row, f"Row {row}: {sentence}"))
        before = step.target_c
    if not found and (sentence := misses_cone(steps, cone=cone, unit=unit)):
        found.append((0, sentence))
    return found


def wrong_step(step: Step, *, before_c: float, unit: TemperatureUnit = "C") -> str:
    """What is wrong with one step that starts at ``before_c`` [°C]; '' when nothing is."""
    if step.rate_c_per_h is not None and step.rate_c_per_h <= 0:
        return (
            "the rate must be more than 0. Leave it empty for as fast as the kiln can; a lower"
            " target makes it cool."
        )
    if step.rate_c_per_h is not None and step.rate_c_per_h > FASTEST_C_PER_H:
        fastest = show_rate(FASTEST_C_PER_H, unit=unit)
        return (
            f"no kiln of a studio follows {show_rate(step.rate_c_per_h, unit=unit)} (at most"
            f" {fastest}). Leave the rate empty for as fast as the kiln can."
        )
    if not COOLEST_C <= step.target_c <= HOTTEST_C:
        low = show_temperature(COOLEST_C, unit=unit)
        high = show_temperature(HOTTEST_C, unit=unit)
        return (
            f"the target {show_temperature(step.target_c, unit=unit)} is outside {low} to {high}."
        )
    if step.hold_min < 0:
        return "a hold is 0 minutes or more."
    if step.hold_min > LONGEST_HOLD_MIN:
        return f"a hold of {step.hold_min} minutes is longer than 48 hours. Is it in minutes?"
    if step.target_c == before_c and step.hold_min == 0:
        return (
            f"it starts and ends at {show_temperature(before_c, unit=unit)} and holds nothing, so"
            " it changes nothing. Give it a hold or take it out."
        )
    return ""


def misses_cone(steps: Sequence[Step], *, cone: str, unit: TemperatureUnit = "C") -> str:
    """Whether the hottest step is so far from the cone that one of the two is a slip."""
    top = max(step.target_c for step in steps)
    down = cone_temperature(cone, rate_c_per_h=60)
    if abs(top - down) <= OFF_CONE_C:
        return ""
    return (
        f"The hottest row goes to {show_temperature(top, unit=unit)}, but cone {cone} goes down at"
        f" about {show_temperature(down, unit=unit)}. Look at the cone and its leading 0, or at"
        " the row."
    )
