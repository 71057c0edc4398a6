"""How many pieces have come how far on which day: where does each line of the drawing run?

Pure geometry in user units; a template draws it. Each stage is a line of steps that differs by
dash as well as by colour; what is wanted is a level line across the top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

WIDTH = 480.0
LEFT, RIGHT = 40.0, 8.0
KEY_HIGH = 46.0
GRAPH_HIGH = 130.0
FOOT_HIGH = 26.0


class BadStockLines(ValueError):
    """The lines cannot be drawn from what was given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StageLine:
    """One stage: its points, and where its key stands."""

    name: str
    style: str
    points: str
    key_x: float
    key_y: float

    @property
    def key_end(self) -> float:
        """Where the key's stroke ends."""
        return self.key_x + 26

    @property
    def text_x(self) -> float:
        """Where the key's word begins."""
        return self.key_x + 31

    @property
    def text_y(self) -> float:
        """Baseline of the key's word."""
        return self.key_y + 4.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Tick:
    """A number beside an axis."""

    at: float
    words: str
    anchor: str = "middle"


@dataclass(frozen=True, kw_only=True, slots=True)
class StockLines:
    """The whole drawing in user units."""

    width: float
    height: float
    left: float
    right: float
    top: float
    foot: float
    title: str
    desc: str
    lines: tuple[StageLine, ...]
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    wanted_y: float

    @classmethod
    def of(
        cls,
        *,
        name: str,
        stages: Sequence[str],
        days: Sequence[tuple[date, Sequence[int]]],
        due_date: date,
        wanted: int,
    ) -> StockLines:
        """Lay out the counts of each stage from the first day to the date.

        ``days`` are those on which a count changes, in order. Raises: BadStockLines without a day,
        for a row with too few or too many counts, for a day after the date.
        """
        if not days:
            raise BadStockLines(f"{name}: there is no day to draw")
        for day, counts in days:
            if len(counts) != len(stages):
                raise BadStockLines(f"{name}, {day}: one count for each stage")
            if day > due_date:
                raise BadStockLines(f"{name}: {day} is after the date")
        first, last = days[0][0], due_date
        span = max(1, (last - first).days + 1)
        most = max(wanted, *(max(counts) for _, counts in days), 1)
        top, foot = KEY_HIGH + 8, KEY_HIGH + 8 + GRAPH_HIGH
        wide = WIDTH - LEFT - RIGHT

        def x(day: date) -> float:
            return round(LEFT + wide * (day - first).days / span, 1)

        def y(count: int) -> float:
            return round(foot - GRAPH_HIGH * count / most, 1)

        end = round(LEFT + wide, 1)
        lines = []
        for n, stage in enumerate(stages):
            points = []
            level = None
            for day, counts in days:
                if level is not None:
                    points.append((x(day), y(level)))
                level = counts[n]
                points.append((x(day), y(level)))
            points.append((end, y(level or 0)))
            lines.append(
                StageLine(
                    name=stage,
                    style=f"s-kiln{n % 6 + 1}",
                    points=" ".join(f"{px},{py}" for px, py in points),
                    key_x=LEFT + (n % 3) * 146,
                    key_y=12 + (n // 3) * 21,
                )
            )
        middle = first + timedelta(days=span // 2)
        return cls(
            width=WIDTH,
            height=foot + FOOT_HIGH,
            left=LEFT,
            right=end,
            top=top,
            foot=foot,
            title=f"What comes towards {name}, by stage",
            desc=_description(stages, days, wanted),
            lines=tuple(lines),
            x_ticks=(
                Tick(at=x(first), words=_short(first), anchor="start"),
                Tick(at=x(middle), words=_short(middle)),
                Tick(at=end, words=_short(last), anchor="end"),
            ),
            y_ticks=tuple(
                Tick(at=y(count), words=str(count)) for count in sorted({0, most // 2, most})
            ),
            wanted_y=y(wanted),
        )


def _short(day: date) -> str:
    return f"{day.day} {day:%b}"


def _description(
    stages: Sequence[str], days: Sequence[tuple[date, Sequence[int]]], wanted: int
) -> str:
    """The beginning and the end in sentences, for those who hear it."""

    def say(day: date, counts: Sequence[int]) -> str:
        parts = ", ".join(f"{n} {stage}" for stage, n in zip(stages, counts, strict=True))
        return f"On {_short(day)}: {parts}."

    return f"{wanted} wanted. {say(*days[0])} {say(*days[-1])}"
