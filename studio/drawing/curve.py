"""How does a firing rise and fall: where does each point and tick of its curve stand?

Pure geometry in user units; a template draws it on a page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

Unit = Literal["C", "F"]
Points = Sequence[tuple[float, float]]
"""(hours from lighting [h], temperature [°C])"""

WIDTH, HEIGHT = 640.0, 340.0
LEFT, RIGHT, TOP, FOOT = 58.0, 14.0, 28.0, 42.0
QUARTZ_C = (550.0, 600.0)
"""Where a firing goes slowly because quartz turns over; the inversion is at 573 °C.
Source of the inversion: "Effect of the alpha-beta transition on mechanical properties of quartz"
(abstract, no year shown). Source of the band: common practice, no source."""
CRISTOBALITE_C = 226.0
"""Where cristobalite, if a body holds any, turns over on the way down: trade glossaries, under
dunting; no year."""
LEGEND_HIGH = 22.0
MOST_LINES = 4


class BadCurve(ValueError):
    """The curve cannot be drawn from what was given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Tick:
    """A mark on an axis: where it stands and what it says."""

    at: float
    words: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One of several curves: its points, its pattern (a class of the style sheet), its name and
    where its key stands."""

    name: str
    path: str
    pattern: str
    key_y: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Curve:
    """The whole drawing in user units."""

    width: float
    height: float
    left: float
    right: float
    top: float
    foot: float
    title: str
    desc: str
    path: str
    measured_path: str
    """What a log says, when there is one; drawn dashed over the programme."""
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    unit_words: str
    quartz_top: float | None
    quartz_high: float
    cristobalite_y: float | None
    lines: tuple[Line, ...] = ()
    """Several curves to compare, instead of ``path``; or the names of the two that are there."""

    @classmethod
    def of(
        cls,
        points: Points,
        *,
        unit: Unit = "C",
        title: str = "Firing curve",
        measured: Points = (),
    ) -> Curve:
        """Lay out a curve of at least two points, hours never going back.

        Raises: BadCurve for fewer points, hours that go back, or numbers that are none.
        """
        _check(points, least=2)
        _check(measured, least=0)
        named = [("planned", points, "s-hot"), ("logged", measured, "s-cool")] if measured else []
        return cls._laid([*points, *measured], unit=unit, title=title, named=named,
                         path=points, measured=measured)  # fmt: skip

    @classmethod
    def compared(
        cls, named: Sequence[tuple[str, Points]], *, unit: Unit = "C", title: str = "Compared"
    ) -> Curve:
        """Lay out two to four curves in one picture, each with its own pattern and its name.

        Raises: BadCurve for another number of them, and as ``of`` does.
        """
        if not 2 <= len(named) <= MOST_LINES:
            raise BadCurve(f"two to {MOST_LINES} curves can be compared, not {len(named)}")
        for _, points in named:
            _check(points, least=2)
        every = [point for _, points in named for point in points]
        lines = [(name, points, f"s-kiln{i}") for i, (name, points) in enumerate(named, 1)]
        return cls._laid(every, unit=unit, title=title, named=lines, path=(), measured=())

    @classmethod
    def _laid(
        cls,
        every: Points,
        *,
        unit: Unit,
        title: str,
        named: Sequence[tuple[str, Points, str]],
        path: Points,
        measured: Points,
    ) -> Curve:
        top = TOP + LEGEND_HIGH * len(named)
        height = HEIGHT + LEGEND_HIGH * len(named)
        hours = max(h for h, _ in every)
        top_c = max(c for _, c in every)
        x_step = _step(hours, most=12, choices=(1, 2, 4, 6, 12, 24, 48))
        shown_hours = max(x_step, math.ceil(hours / x_step) * x_step)
        top_shown = _shown(top_c, unit)
        y_step = _step(top_shown, most=8, choices=(50, 100, 200, 250, 500))
        shown_top = max(y_step, math.ceil((top_shown + y_step * 0.1) / y_step) * y_step)

        def x(h: float) -> float:
            return round(LEFT + (WIDTH - LEFT - RIGHT) * h / shown_hours, 1)

        def y(shown: float) -> float:
            return round(height - FOOT - (height - top - FOOT) * max(0.0, shown) / shown_top, 1)

        def line(some: Points) -> str:
            return " ".join(f"{x(h):g},{y(_shown(c, unit)):g}" for h, c in some)

        quartz = [y(_shown(c, unit)) for c in QUARTZ_C]
        crossed = top_c >= QUARTZ_C[0]
        return cls(
            width=WIDTH,
            height=height,
            left=LEFT,
            right=WIDTH - RIGHT,
            top=top,
            foot=height - FOOT,
            title=title,
            desc=_description(path, measured, unit) if path else _all_described(named, unit),
            path=line(path),
            measured_path=line(measured),
            x_ticks=tuple(Tick(at=x(h), words=f"{h:g}") for h in _range(x_step, shown_hours)),
            y_ticks=tuple(Tick(at=y(v), words=f"{v:g}") for v in _range(y_step, shown_top)),
            unit_words=f"°{unit}",
            quartz_top=quartz[1] if crossed else None,
            quartz_high=round(quartz[0] - quartz[1], 1),
            cristobalite_y=y(_shown(CRISTOBALITE_C, unit)) if crossed else None,
            lines=tuple(
                Line(
                    name=name,
                    path=line(points),
                    pattern=pattern,
                    key_y=round(TOP + LEGEND_HIGH * (i + 0.4), 1),
                )
                for i, (name, points, pattern) in enumerate(named)
            ),
        )

    @property
    def key_end(self) -> float:
        """Where the stroke of a key ends."""
        return self.left + 50

    @property
    def key_text(self) -> float:
        """Where the name beside a key begins."""
        return self.left + 60

    @property
    def cristobalite_text_y(self) -> float:
        """The baseline of the lower line's name, just over it."""
        return round((self.cristobalite_y or 0) - 4, 1)

    @property
    def quartz_text_y(self) -> float:
        """The baseline of the band's name, just over it."""
        return round((self.quartz_top or 0) - 4, 1)

    @property
    def tick_foot(self) -> float:
        """Where the small strokes under the hours end."""
        return self.foot + 5

    @property
    def quartz_foot(self) -> float:
        """The lower edge of the band."""
        return round((self.quartz_top or 0) + self.quartz_high, 1)

    @property
    def inner_width(self) -> float:
        """The room between the axes."""
        return self.right - self.left

    @property
    def middle(self) -> float:
        """Where the name of the hours stands."""
        return round((self.left + self.right) / 2, 1)


def _check(points: Points, *, least: int) -> None:
    if len(points) < least:
        raise BadCurve(f"a curve needs at least {least} points")
    if any(not (math.isfinite(h) and math.isfinite(c)) for h, c in points):
        raise BadCurve("a point of the curve is no number")
    if any(h < 0 for h, _ in points):
        raise BadCurve("a curve begins at hour 0")
    if any(b[0] < a[0] for a, b in pairwise(points)):
        raise BadCurve("the hours of a curve must not go back")


def _shown(c: float, unit: Unit) -> float:
    return c if unit == "C" else c * 9 / 5 + 32


def _step(top: float, *, most: int, choices: Sequence[int]) -> int:
    return next((step for step in choices if top / step <= most), choices[-1])


def _range(step: int, top: float) -> range:
    return range(0, int(top) + 1, step)


def _said(c: float, unit: Unit) -> str:
    return f"{_shown(c, unit):.0f} °{unit}"


def _all_described(named: Sequence[tuple[str, Points, str]], unit: Unit) -> str:
    return " ".join(f"{name}: {_description(points, (), unit)}" for name, points, _ in named)


def _description(points: Points, measured: Points, unit: Unit) -> str:
    """The curve in sentences, for those who hear it."""
    peak_h, peak_c = max(points, key=lambda point: point[1])
    end_h, end_c = points[-1]
    out = f"Rises from {_said(points[0][1], unit)} to {_said(peak_c, unit)} after {peak_h:.1f} h"
    if end_h > peak_h:
        out += f"; at {_said(end_c, unit)} after {end_h:.1f} h"
    out += "."
    if measured:
        high_h, high_c = max(measured, key=lambda point: point[1])
        out += f" Measured: highest {_said(high_c, unit)} after {high_h:.1f} h."
    return out
