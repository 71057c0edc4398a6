"""How many pieces stand at each stage: how long is each bar?

Pure geometry in user units; a template draws it on a page. The number stands beside its bar, so
that nobody has to guess lengths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

WIDTH = 480.0
ROW_HIGH = 34.0
BAR_HIGH = 20.0
NAME_WIDE = 96.0
NUMBER_WIDE = 52.0


class BadBars(ValueError):
    """The bars cannot be drawn from what was given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CountBar:
    """One bar: its name, its count, its place."""

    name: str
    count: int
    y: float
    width: float
    height: float
    text_y: float
    number_x: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Bars:
    """The whole drawing in user units."""

    width: float
    height: float
    left: float
    title: str
    desc: str
    bars: tuple[CountBar, ...]

    @classmethod
    def of(cls, counts: Sequence[tuple[str, int]], *, title: str = "Pieces by stage") -> Bars:
        """Lay out (name, count) pairs from top to bottom, the longest bar filling the width.

        Raises: BadBars for no pair or a count below 0.
        """
        if not counts:
            raise BadBars("there is nothing to count")
        for name, count in counts:
            if count < 0:
                raise BadBars(f"{name}: a count is not below 0")
        most = max(count for _, count in counts) or 1
        room = WIDTH - NAME_WIDE - NUMBER_WIDE
        bars = []
        for n, (name, count) in enumerate(counts):
            wide = round(room * count / most, 1)
            y = n * ROW_HIGH + (ROW_HIGH - BAR_HIGH) / 2
            bars.append(
                CountBar(
                    name=name,
                    count=count,
                    y=y,
                    width=wide,
                    height=BAR_HIGH,
                    text_y=y + BAR_HIGH / 2 + 4.5,
                    number_x=round(NAME_WIDE + wide + 7, 1),
                )
            )
        return cls(
            width=WIDTH,
            height=len(counts) * ROW_HIGH,
            left=NAME_WIDE,
            title=title,
            desc=", ".join(f"{name} {count}" for name, count in counts) + ".",
            bars=tuple(bars),
        )
