"""Where does a kiln lose ware: how is each level's inner and outer half shaded?

Pure geometry: the levels as one sees them from the side, lowest at the bottom; the outer half lies
left and right of the inner. The more of it was lost or became a second, the closer the lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

Segment = tuple[float, float, float, float]
"""A straight line: x1, y1, x2, y2."""

WIDTH: Final = 360.0
_LEFT: Final = 64.0
_HIGH: Final = 44.0
_OUTER: Final = 74.0
_PERCENT_A_LINE: Final = 2


@dataclass(frozen=True, kw_only=True, slots=True)
class Ring:
    """What is known of a half: so many in a hundred were bad, in words; None where nothing is."""

    level: int
    ring: str
    bad_percent: int
    words: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Cell:
    """A half of a level: its rectangle, its lines and its words."""

    x: float
    y: float
    width: float
    height: float
    lines: tuple[Segment, ...]
    words: str

    @property
    def middle(self) -> float:
        """Where the words stand."""
        return round(self.x + self.width / 2, 1)

    @property
    def text_y(self) -> float:
        """Their baseline."""
        return self.y + self.height / 2 + 5


@dataclass(frozen=True, kw_only=True, slots=True)
class RingPicture:
    """The kiln's levels with the shade of each half."""

    width: float
    height: float
    cells: tuple[Cell, ...]
    labels: tuple[tuple[str, float], ...]
    title: str
    desc: str


def ring_picture(rings: Sequence[Ring], *, kiln: str) -> RingPicture | None:
    """Draw what is known of a kiln's places; None when nothing is."""
    if not rings:
        return None
    known = {(one.level, one.ring): one for one in rings}
    levels = sorted({one.level for one in rings}, reverse=True)
    inner = WIDTH - _LEFT - 2 * _OUTER
    cells: list[Cell] = []
    labels = []
    for at, level in enumerate(levels):
        y = 4 + at * _HIGH
        labels.append((f"Level {level}", y + _HIGH / 2 + 5))
        for x, width, name, has_words in (
            (_LEFT, _OUTER, "outer", True),
            (_LEFT + _OUTER, inner, "inner", True),
            (_LEFT + _OUTER + inner, _OUTER, "outer", False),
        ):
            one = known.get((level, name))
            lines = _lines(x, y, width, one.bad_percent) if one else ()
            words = (one.words if one else "none") if has_words else ""
            cells.append(Cell(x=x, y=y, width=width, height=_HIGH - 4, lines=lines, words=words))
    told = "; ".join(f"level {one.level} {one.ring}: {one.words}" for one in rings)
    return RingPicture(
        width=WIDTH + 4,
        height=len(levels) * _HIGH + 8,
        cells=tuple(cells),
        labels=tuple(labels),
        title=f"Lost and seconds by place in {kiln}",
        desc=f"Closer lines mean more lost or seconds. {told}.",
    )


def _lines(x: float, y: float, width: float, percent: int) -> tuple[Segment, ...]:
    """One upright line for each two in a hundred, evenly spread."""
    count = min(percent // _PERCENT_A_LINE, 40)
    step = width / (count + 1)
    return tuple(
        (round(x + step * n, 1), y, round(x + step * n, 1), y + _HIGH - 4)
        for n in range(1, count + 1)
    )
