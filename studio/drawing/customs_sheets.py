"""What does a parcel declare, on a sheet to copy onto the post's own form?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from studio.drawing import paper as sheet
from studio.drawing import text
from studio.drawing.paper import INK, SOFT, Block, Paper, Section
from studio.drawing.tables import Column, table

CERTIFIED = (
    "I certify that what is written here is right, and that nothing in this item is dangerous or"
    " forbidden by law, by the post or by customs."
)
"""What a sender signs, in our own words; the post's form has the words that count."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CustomsLine:
    """One kind of thing in the parcel, as short texts."""

    description: str
    count: str
    weight: str
    value: str
    heading: str
    origin: str


@dataclass(frozen=True, kw_only=True, slots=True)
class CustomsSheet:
    """One parcel's declaration; texts are shown as given. ``kinds`` are (words, chosen).

    Raises: ValueError without a number, a line or exactly one chosen kind.
    """

    parcel_number: str
    form: str
    why: str
    sender: tuple[str, ...]
    contact: str
    to: tuple[str, ...]
    kinds: tuple[tuple[str, bool], ...]
    lines: tuple[CustomsLine, ...]
    total_count: str
    total_net: str
    total_gross: str
    total_value: str
    sources: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.parcel_number.strip():
            raise ValueError("a customs sheet needs a parcel number")
        if not self.lines:
            raise ValueError(f"parcel {self.parcel_number}: there is nothing to declare")
        if sum(chosen for _, chosen in self.kinds) != 1:
            raise ValueError(f"parcel {self.parcel_number}: one kind of item is chosen")


def customs_pdf(*, sheets: Sequence[CustomsSheet], paper: Paper) -> bytes:
    """One declaration a parcel, each beginning a page.

    Raises: ValueError when there is none, or the paper is not known.
    """
    if not sheets:
        raise ValueError("there is no parcel to declare")
    width = sheet.inner_width(paper)
    text.prepare(words for one in sheets for words in (*one.to, *one.sender))
    sections = [
        Section(
            blocks=tuple(_blocks(one, width_pt=width)),
            foot=f"parcel {one.parcel_number} · customs data for {one.form}",
        )
        for one in sheets
    ]
    return sheet.write(sections, title="Customs data", paper=paper)


def _blocks(one: CustomsSheet, *, width_pt: float) -> list[Block]:
    half = width_pt / 2 - 8
    columns = (
        Column(heading="Quantity and detailed description", share=38),
        Column(heading="Net weight", share=13, align="right"),
        Column(heading="Value", share=15, align="right"),
        Column(heading="Tariff number", share=14),
        Column(heading="Made in", share=10),
    )
    rows = [
        (f"{line.count} {line.description}", line.weight, line.value, line.heading, line.origin)
        for line in one.lines
    ]
    rows.append((f"Together: {one.total_count}", one.total_net, one.total_value, "", ""))
    blocks = [
        *sheet.title_blocks(
            f"Customs data for {one.form}",
            f"Parcel {one.parcel_number}. To copy onto the post's own form.",
            width_pt=width_pt,
        ),
        *sheet.words(one.why, width_pt=width_pt, size_pt=10.5),
        sheet.gap(6),
        sheet.beside(
            _party("From", (*one.sender, one.contact), width_pt=half),
            _party("To", one.to, width_pt=half),
            right_x_pt=width_pt / 2 + 8,
        ),
        sheet.gap(12),
        *_label("Kind of item", width_pt=width_pt),
        _kinds(one.kinds, width_pt=width_pt),
        sheet.gap(8),
        *table(columns, rows, width_pt=width_pt, size_pt=10.5, row_min_pt=22),
        sheet.gap(10),
        *_label("Total weight of the parcel, packed", width_pt=width_pt),
        *sheet.words(one.total_gross, width_pt=width_pt, size_pt=14, weight="bold"),
        sheet.gap(10),
        *sheet.words(CERTIFIED, width_pt=width_pt, size_pt=10.5),
        sheet.gap(6),
        sheet.blanks(("Date", "Signature"), width_pt=width_pt),
        sheet.gap(14),
    ]
    for source in one.sources:
        blocks += sheet.words(source, width_pt=width_pt, size_pt=8.5, colour=SOFT)
    return blocks


def _label(value: str, *, width_pt: float) -> list[Block]:
    return [
        *sheet.words(
            value, width_pt=width_pt, size_pt=10.5, weight="bold", colour=SOFT, keep_with_next=True
        )
    ]


def _party(title: str, lines: Sequence[str], *, width_pt: float) -> list[Block]:
    blocks = _label(title, width_pt=width_pt)
    for line in lines:
        if line.strip():
            blocks += sheet.words(line, width_pt=width_pt, size_pt=12)
    return blocks


def _kinds(kinds: Sequence[tuple[str, bool]], *, width_pt: float) -> Block:
    """The kinds in two rows of boxes, the chosen one crossed."""
    each = width_pt / 3
    height = 22.0 * ((len(kinds) + 2) // 3)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for number, (words, chosen) in enumerate(kinds):
            row, column = divmod(number, 3)
            left, high = x + column * each, top - 4 - row * 22
            sheet.box(canvas, left, high)
            if chosen:
                canvas.setLineWidth(1.6)
                canvas.line(left + 2, high - 2, left + 10, high - 10)
                canvas.line(left + 2, high - 10, left + 10, high - 2)
            canvas.setFillColor(INK)
            text.draw_words(
                canvas,
                words,
                x_pt=left + 18,
                baseline_pt=high - 10,
                size_pt=11,
                weight="bold" if chosen else "regular",
            )

    return Block(height_pt=height, draw=draw)
