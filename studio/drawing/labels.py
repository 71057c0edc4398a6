"""What is stuck on the parcel: the address, large, on sheets of labels or on single ones?

Nothing is cut: a long address is set smaller until it stands in its label, and one that would have
to be smaller than ``LEAST_PT`` is refused by name, so that a larger label is taken.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from reportlab.pdfgen.canvas import Canvas

from studio.drawing import text
from studio.drawing.paper import HAIR, INK, MM, PAPERS, SOFT

IN: Final = 72.0
"""Points in an inch."""
LEAST_PT: Final = 8.0
"""Below this an address is no longer read at arm's length; our own choice."""
_PAD = 4 * MM
_SMALL_PT = 7.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """A paper and the labels on it [pt]; the gaps lie between labels only.

    ``most_pt`` is how large an address is set at most.
    """

    name: str
    paper: tuple[float, float]
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    gap_x: float = 0.0
    gap_y: float = 0.0
    most_pt: float = 17.0

    @property
    def count(self) -> int:
        """How many labels a sheet holds."""
        return self.columns * self.rows

    def corner(self, place: int) -> tuple[float, float]:
        """The left and top [pt] of a label; 0 is the first, counted along the rows."""
        row, column = divmod(place, self.columns)
        return (
            self.left + column * (self.width + self.gap_x),
            self.paper[1] - self.top - row * (self.height + self.gap_y),
        )


SHEETS: Final[dict[str, Sheet]] = {
    "a4": Sheet(
        name="A4 sheet of 8, 99.1 x 67.7 mm",
        paper=PAPERS["A4"],
        columns=2,
        rows=4,
        width=99.1 * MM,
        height=67.7 * MM,
        left=(210 - 2 * 99.1 - 2.5) / 2 * MM,
        top=(297 - 4 * 67.7) / 2 * MM,
        gap_x=2.5 * MM,
    ),
    "letter": Sheet(
        name="Letter sheet of 6, 4 x 3 1/3 in",
        paper=PAPERS["Letter"],
        columns=2,
        rows=3,
        width=4 * IN,
        height=10 / 3 * IN,
        left=(8.5 - 2 * 4 - 0.1875) / 2 * IN,
        top=0.5 * IN,
        gap_x=0.1875 * IN,
    ),
    "4x6": Sheet(
        name="single labels, 4 x 6 in",
        paper=(4 * IN, 6 * IN),
        columns=1,
        rows=1,
        width=4 * IN,
        height=6 * IN,
        left=0.0,
        top=0.0,
        most_pt=22.0,
    ),
}
"""Label sizes that are sold everywhere; common practice, no source."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Label:
    """One parcel's address label. ``to`` stands in the order of its country, as given.

    Raises: ValueError without a number or an address.
    """

    parcel_number: str
    to: tuple[str, ...]
    name: str
    sender: tuple[str, ...] = ()
    marks: str = ""

    def __post_init__(self) -> None:
        if not self.parcel_number.strip():
            raise ValueError("a label needs a parcel number")
        if not any(line.strip() for line in self.to):
            raise ValueError(f"parcel {self.parcel_number}: the label needs an address")


class TooLong(ValueError):
    """An address that no readable size brings into its label; ``parcel_number`` says whose."""

    def __init__(self, parcel_number: str) -> None:
        self.parcel_number = parcel_number
        super().__init__(f"the address of parcel {parcel_number} is too long for this label")


def labels_pdf(*, labels: Sequence[Label], sheet: str, start: int = 1) -> bytes:
    """Address labels on sheets, the first on place ``start`` (1 the first) of the first sheet.

    The same labels give the same bytes. Raises: ValueError when there is none, the sheet is not
    known or has no such place; TooLong.
    """
    if sheet not in SHEETS:
        raise ValueError(f"a sheet is one of {', '.join(SHEETS)}, not {sheet!r}")
    found = SHEETS[sheet]
    if not labels:
        raise ValueError("there is no parcel to print a label for")
    if not 1 <= start <= found.count:
        raise ValueError(f"the first label is 1 to {found.count}, not {start}")
    text.prepare(words for one in labels for words in (*one.to, *one.sender, one.marks))
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=found.paper, invariant=1, pageCompression=1, lang="en")
    canvas.setTitle("Address labels")
    canvas.setCreator("Wareboard")
    canvas.setAuthor("")
    canvas.setSubject("")
    place = start - 1
    for label in labels:
        if place == found.count:
            canvas.showPage()
            place = 0
        left, top = found.corner(place)
        _draw(canvas, label, left=left, top=top, sheet=found)
        place += 1
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw(canvas: Canvas, label: Label, *, left: float, top: float, sheet: Sheet) -> None:
    """Sender small above a line, the address in the middle, number and marks at the foot."""
    x, room = left + _PAD, sheet.width - 2 * _PAD
    sender = text.wrap(
        " · ".join(line for line in label.sender if line.strip()), width_pt=room, size_pt=_SMALL_PT
    )[:3]
    canvas.setFillColor(SOFT)
    y = text.draw_lines(
        canvas, sender, x_pt=x, y_pt=top - _PAD, width_pt=room, size_pt=_SMALL_PT, align="left"
    )
    if sender:
        canvas.setStrokeColor(HAIR)
        canvas.setLineWidth(0.5)
        canvas.line(x, y - 2, x + room, y - 2)
        y -= 6
    bottom = top - sheet.height + _PAD
    foot = text.wrap(label.parcel_number, width_pt=room, size_pt=_SMALL_PT + 1, weight="bold")
    marks = text.wrap(label.marks, width_pt=room, size_pt=_SMALL_PT + 1)
    foot_pt = text.height_pt([*foot, *marks], size_pt=_SMALL_PT + 1)
    size, lines = _sized(
        label, width_pt=room, height_pt=y - bottom - foot_pt - 4, most_pt=sheet.most_pt
    )
    canvas.setFillColor(INK)
    text.draw_lines(canvas, lines, x_pt=x, y_pt=y, width_pt=room, size_pt=size)
    y = text.draw_lines(
        canvas, marks, x_pt=x, y_pt=bottom + foot_pt, width_pt=room, size_pt=_SMALL_PT + 1
    )
    canvas.setFillColor(SOFT)
    text.draw_lines(canvas, foot, x_pt=x, y_pt=y, width_pt=room, size_pt=_SMALL_PT + 1)


def _sized(
    label: Label, *, width_pt: float, height_pt: float, most_pt: float
) -> tuple[float, list[text.Line]]:
    """The largest size at which the whole address stands in its room, and its lines."""
    size = most_pt
    while size >= LEAST_PT:
        lines = [
            line
            for words in label.to
            if words.strip()
            for line in text.wrap(
                words,
                width_pt=width_pt,
                size_pt=size,
                weight="bold" if words == label.name else "regular",
            )
        ]
        if text.height_pt(lines, size_pt=size) <= height_pt:
            return size, lines
        size -= 0.5
    raise TooLong(label.parcel_number)
