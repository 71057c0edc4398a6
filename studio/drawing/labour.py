"""How many minutes does each day give and ask, for each kind of work: where does each bar stand?

Pure geometry in user units; a template draws it on a page, ``plan_sheets`` on paper. What a day
gives is an outline, what is asked is solid, so it reads in black and white.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

DAY_WIDE = 17.0
NAME_WIDE = 96.0
HEAD_HIGH = 34.0
ROW_HIGH = 62.0
BAR_HIGH = 46.0


class BadLabour(ValueError):
    """The bars cannot be drawn from what was given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LabourBar:
    """One day of one kind of work: an outline for what it gives, a solid for what is asked."""

    x: float
    foot: float
    width: float
    given_top: float
    given_high: float
    asked_top: float
    asked_high: float
    full: str


@dataclass(frozen=True, kw_only=True, slots=True)
class LabourRow:
    """One kind of work: its name, its foot line and the minutes of a full bar."""

    name: str
    most: str
    y: float
    foot: float


@dataclass(frozen=True, kw_only=True, slots=True)
class LabourTick:
    """A week's first day, or the first day of all."""

    x: float
    words: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Labour:
    """The whole drawing in user units."""

    width: float
    height: float
    left: float
    title: str
    desc: str
    rows: tuple[LabourRow, ...]
    bars: tuple[LabourBar, ...]
    ticks: tuple[LabourTick, ...]

    @classmethod
    def of(
        cls,
        *,
        names: Sequence[str],
        days: Sequence[tuple[date, Sequence[int], Sequence[int]]],
        title: str = "Minutes given and asked, by day",
    ) -> Labour:
        """Lay out (day, minutes given, minutes asked), one number a name.

        Raises: BadLabour without a day or a name, for a day whose numbers are not one a name, and
        for minutes below 0.
        """
        if not days or not names:
            raise BadLabour("there is no day or no work to draw")
        for day, given, asked in days:
            if len(given) != len(names) or len(asked) != len(names):
                raise BadLabour(f"{day}: one number for each of {', '.join(names)}")
            if min(*given, *asked) < 0:
                raise BadLabour(f"{day}: minutes are not below 0")
        rows, bars = [], []
        for n, name in enumerate(names):
            most = max(max(given[n], asked[n]) for _, given, asked in days) or 1
            y = HEAD_HIGH + n * ROW_HIGH
            foot = y + ROW_HIGH - 4
            rows.append(LabourRow(name=name, most=f"{most} min", y=y, foot=foot))
            for i, (day, given, asked) in enumerate(days):
                high = round(BAR_HIGH * given[n] / most, 1)
                solid = round(BAR_HIGH * asked[n] / most, 1)
                if not (high or solid):
                    continue
                bars.append(
                    LabourBar(
                        x=NAME_WIDE + i * DAY_WIDE + 2,
                        foot=foot,
                        width=DAY_WIDE - 4,
                        given_top=round(foot - high, 1),
                        given_high=high,
                        asked_top=round(foot - solid, 1),
                        asked_high=solid,
                        full=f"{day:%a} {day.day} {day:%b}, {name}: {asked[n]} of {given[n]} min",
                    )
                )
        return cls(
            width=NAME_WIDE + len(days) * DAY_WIDE,
            height=HEAD_HIGH + len(names) * ROW_HIGH + 4,
            left=NAME_WIDE,
            title=title,
            desc=_description(names, days),
            rows=tuple(rows),
            bars=tuple(bars),
            ticks=tuple(
                LabourTick(x=NAME_WIDE + i * DAY_WIDE, words=f"{day.day} {day:%b}")
                for i, (day, _, _) in enumerate(days)
                if i == 0 or (day.weekday() == 0 and i > 2)
            ),
        )


def _description(
    names: Sequence[str], days: Sequence[tuple[date, Sequence[int], Sequence[int]]]
) -> str:
    """The sums in a sentence, for those who hear it."""
    said = [
        f"{name}: {sum(asked[n] for _, _, asked in days)} of "
        f"{sum(given[n] for _, given, _ in days)} minutes"
        for n, name in enumerate(names)
    ]
    return "; ".join(said) + "."
