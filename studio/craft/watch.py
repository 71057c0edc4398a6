"""When does a firing ask for somebody: is it lit, or at its top, in the night?

A night is two times of day; it may pass midnight. A start is good when neither the lighting nor the
time at the top, as far as it may be off, falls in the night.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

DAY_MIN: Final = 24 * 60
STEP_MIN: Final = 30


@dataclass(frozen=True, kw_only=True, slots=True)
class Night:
    """From and until, in minutes of the day, 0 to 1439; they differ."""

    from_min: int
    until_min: int

    def __post_init__(self) -> None:
        if not (0 <= self.from_min < DAY_MIN and 0 <= self.until_min < DAY_MIN):
            raise ValueError("a time of day is 0 to 1439 minutes")
        if self.from_min == self.until_min:
            raise ValueError("a night begins and ends at two times")

    def holds(self, minute: float) -> bool:
        """Whether a minute, of this day or a later one, is in the night."""
        return (minute - self.from_min) % DAY_MIN < (self.until_min - self.from_min) % DAY_MIN

    def meets(self, first: float, last: float) -> bool:
        """Whether any of the minutes from ``first`` to ``last`` is in the night."""
        return self.holds(first) or (self.from_min - first) % DAY_MIN <= last - first


@dataclass(frozen=True, kw_only=True, slots=True)
class Heat:
    """Hours from lighting until the top is reached and left [h], and how far they may be off."""

    top_h: float
    left_h: float
    off_h: float = 0

    def __post_init__(self) -> None:
        if not 0 <= self.top_h <= self.left_h or self.off_h < 0:
            raise ValueError("a top is reached before it is left")


def top_in_night(*, start_min: int, heat: Heat, night: Night) -> bool:
    """Whether a firing lit at a minute of the day may be at its top in the night."""
    first = start_min + 60 * max(heat.top_h - heat.off_h, 0)
    return night.meets(first, start_min + 60 * (heat.left_h + heat.off_h))


def best_start(*, wish_min: int, heat: Heat, night: Night) -> int | None:
    """The start nearest to a wished one, in steps of half an hour, with lighting and top by day.

    One whose whole heating is by day goes before one that heats through a night. ``wish_min``:
    minute of the day. None when no start does it.
    """
    good = [
        minute
        for minute in range(0, DAY_MIN, STEP_MIN)
        if not night.holds(minute) and not top_in_night(start_min=minute, heat=heat, night=night)
    ]

    def less_good(minute: int) -> tuple[bool, int, int]:
        through = night.meets(minute, minute + 60 * (heat.left_h + heat.off_h))
        return through, abs(minute - wish_min), minute

    return min(good, key=less_good, default=None)
