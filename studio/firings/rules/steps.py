"""Can a kiln follow these steps, and which row is wrong?

A step is a rate to a target and then a hold. No rate means as fast as the kiln can.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from studio.craft.cones import cone_temperature
from studio.craft.programme import (
    FASTEST_C_PER_H,
    HIGHEST_TARGET_C,
    LONGEST_HOLD_MIN,
    LOWEST_TARGET_C,
    MOST_ROWS,
    SLOWEST_C_PER_H,
    BadProgramme,
    Programme,
    Segment,
    curve,
)
from studio.craft.quantities import TemperatureUnit, show_rate, show_temperature

OFF_CONE_C: Final = 100
"""A top this far [°C] from its cone's own temperature is a slip such as 06 for 6.

Common practice, no source: holds and slow climbs replace 30 °C or so of peak, a kiln's own
thermocouple may be out by 25 °C.
"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One row of a schedule [°C/h, °C, min]."""

    rate_c_per_h: float | None
    target_c: float
    hold_min: int = 0


def wrong_steps(
    steps: Sequence[Step],
    *,
    cone: str,
    unit: TemperatureUnit = "C",
    numbers: Sequence[int] | None = None,
) -> list[tuple[int, str]]:
    """What is wrong with the steps: (row, sentence); row 0 is the whole.

    ``numbers`` are the rows as the page counts them, 1, 2, 3 ... when left out.
    """
    if not steps:
        return [(0, "A schedule needs one row or more: a rate, a target and a hold.")]
    if len(steps) > MOST_ROWS:
        return [(0, f"A schedule has {MOST_ROWS} rows at most, not {len(steps)}.")]
    found = []
    before = float(LOWEST_TARGET_C)
    for row, step in zip(numbers or range(1, len(steps) + 1), steps, strict=True):
        if sentence := wrong_step(step, before_c=before, unit=unit):
            found.append((row, f"Row {row}: {sentence}"))
        before = step.target_c
    if not found and (sentence := misses_cone(steps, cone=cone, unit=unit)):
        found.append((0, sentence))
    if not found:
        try:
            curve(programme(steps))
        except BadProgramme as problem:
            found.append((0, str(problem)))
    return found


def programme(steps: Sequence[Step]) -> Programme:
    """The steps as ``studio.craft`` reckons with them. Raises ``BadProgramme``."""
    return Programme(
        segments=tuple(
            Segment(rate_c_per_h=s.rate_c_per_h, target_c=s.target_c, hold_min=s.hold_min)
            for s in steps
        )
    )


def wrong_step(step: Step, *, before_c: float, unit: TemperatureUnit = "C") -> str:
    """What is wrong with one step that starts at ``before_c`` [°C]; '' when nothing is."""
    if step.rate_c_per_h is not None and step.rate_c_per_h < SLOWEST_C_PER_H:
        return (
            f"the rate must be {show_rate(SLOWEST_C_PER_H, unit=unit)} or more. Leave it empty for"
            " as fast as the kiln can; a lower target makes it cool."
        )
    if step.rate_c_per_h is not None and step.rate_c_per_h > FASTEST_C_PER_H:
        fastest = show_rate(FASTEST_C_PER_H, unit=unit)
        return (
            f"no kiln of a studio follows {show_rate(step.rate_c_per_h, unit=unit)} (at most"
            f" {fastest}). Leave the rate empty for as fast as the kiln can."
        )
    if not LOWEST_TARGET_C <= step.target_c <= HIGHEST_TARGET_C:
        low = show_temperature(LOWEST_TARGET_C, unit=unit)
        high = show_temperature(HIGHEST_TARGET_C, unit=unit)
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


def wrong_way(*, word: str, before_c: float, target_c: float, unit: TemperatureUnit = "C") -> str:
    """Whether a row that says "full power" or "off" goes the other way; '' when it does not."""
    target = show_temperature(target_c, unit=unit)
    before = show_temperature(before_c, unit=unit)
    if word == "full" and target_c <= before_c:
        return (
            f"full power goes up, and {target} is not above {before}. Write off to let it cool,"
            " or a rate."
        )
    if word == "off" and target_c >= before_c:
        return (
            f"a kiln that is off cools, and {target} is not below {before}. Write full for full"
            " power, or a rate."
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
