"""What goes into the parcel with the pots, and what does the packer hold while packing?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from studio.drawing import paper as sheet
from studio.drawing import pictures, text
from studio.drawing.paper import HAIR, INK, MM, SOFT, Block, Paper, Section
from studio.drawing.tables import Column, table

TICKS = ("rings true", "dry", "photographed", "weighed", "note", "slip", "label")
"""What the packer ticks before the box is closed."""

_QR = 25 * MM
_MARK = 15 * MM
_PICTURES = {1: 40 * MM, 2: 32 * MM}  # by pieces: smaller, so that a slip keeps to one page
_PICTURE_OF_MANY = 25 * MM
_BODY_PT = 11.5
_SMALL_PT = 10.5
_ADDRESS_PT = 14


@dataclass(frozen=True, kw_only=True, slots=True)
class SlipPiece:
    """One pot of the parcel. The texts are shown as given."""

    number: str
    form: str
    line: str
    facts: str
    picture: Path | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Slip:
    """One parcel's slip. ``ship_to`` stands in the order of its country, as given.

    Raises: ValueError for a gift with a price, a parcel without a number, an address or a piece.
    """

    parcel_number: str
    studio_name: str
    studio_mark: Path | None
    studio_lines: tuple[str, ...]
    ship_to: tuple[str, ...]
    ship_name: str
    pieces: tuple[SlipPiece, ...]
    note: str = ""
    care_note: str = ""
    gift: bool = False
    gift_from: str = ""
    price_line: str | None = None
    broken_note: str = ""
    month_name: str = ""
    box: str = ""

    def __post_init__(self) -> None:
        if self.gift and self.price_line:
            raise ValueError(
                f"parcel {self.parcel_number} is a gift: its slip must not show a price"
            )
        if not self.parcel_number.strip():
            raise ValueError("a slip needs a parcel number")
        if not any(line.strip() for line in self.ship_to):
            raise ValueError(f"parcel {self.parcel_number}: the slip needs an address")
        if not self.pieces:
            raise ValueError(f"parcel {self.parcel_number}: a slip needs at least one piece")


@dataclass(frozen=True, kw_only=True, slots=True)
class PackerRow:
    """One parcel on the packer's list, as short texts."""

    parcel_number: str
    name: str
    country: str
    pieces: str
    stands: str
    box: str
    wishes: str
    address_confirmed: str


def slips_pdf(*, slips: Iterable[Slip], paper: Paper) -> bytes:
    """One packing slip a parcel, each beginning a page.

    Raises: ValueError when there is no slip, or the paper is not known.
    """
    slips = tuple(slips)
    if not slips:
        raise ValueError("there is no parcel to print a slip for")
    width = sheet.inner_width(paper)
    text.prepare(_all_words(slips))
    sections = (
        Section(
            blocks=tuple(_slip_blocks(slip, width_pt=width)),
            foot=f"parcel {slip.parcel_number} · {slip.studio_name}",
        )
        for slip in slips
    )
    names = sorted({slip.month_name for slip in slips if slip.month_name})
    return sheet.write(sections, title=" ".join(["Packing slips", *names]), paper=paper)


def packers_pdf(*, title: str, rows: tuple[PackerRow, ...], paper: Paper) -> bytes:
    """The packer's list on paper laid sideways; its heading stands on every page."""
    width = sheet.inner_width(paper, landscape=True)
    text.prepare(getattr(row, field.name) for row in rows for field in fields(PackerRow))
    columns = (
        Column(heading="Packed", share=9, box=True),
        Column(heading="Parcel", share=16, weight="bold"),
        Column(heading="Name", share=19),
        Column(heading="Country", share=12),
        Column(heading="Pieces", share=22),
        Column(heading="They stand", share=16),
        Column(heading="Box", share=12),
        Column(heading="Wishes, allergies", share=22, weight="bold"),
        Column(heading="Address confirmed", share=13),
    )
    count = "1 parcel" if len(rows) == 1 else f"{len(rows)} parcels"
    blocks = [
        *sheet.title_blocks(
            title, f"{count}. Not for the parcel: it stays in the studio.", width_pt=width
        ),
        *table(
            columns,
            [
                (
                    "",
                    row.parcel_number,
                    row.name,
                    row.country,
                    row.pieces,
                    row.stands,
                    row.box,
                    row.wishes,
                    row.address_confirmed or "not confirmed",
                )
                for row in rows
            ],
            width_pt=width,
            row_min_pt=22,
        ),
    ]
    section = Section(blocks=tuple(blocks), foot=title)
    return sheet.write([section], title=title, paper=paper, landscape=True)


def _all_words(slips: Iterable[Slip]) -> Iterable[str]:
    for slip in slips:
        yield from (slip.studio_name, slip.ship_name, slip.note, slip.care_note, slip.broken_note)
        yield from (
            slip.gift_from,
            slip.box,
            slip.price_line or "",
            slip.month_name,
            slip.parcel_number,
        )
        yield from slip.studio_lines
        yield from slip.ship_to
        for piece in slip.pieces:
            yield from (piece.number, piece.form, piece.line, piece.facts)


def _slip_blocks(slip: Slip, *, width_pt: float) -> list[Block]:
    blocks = [
        _masthead(slip, width_pt=width_pt),
        sheet.rule(width_pt=width_pt, below_pt=10),
        _address(slip, width_pt=width_pt),
        sheet.gap(14),
        *_label(f"In this parcel: {_count(slip)}", width_pt=width_pt),
    ]
    side = _PICTURES.get(len(slip.pieces), _PICTURE_OF_MANY)
    for piece in slip.pieces:
        blocks.append(_piece(piece, side_pt=side, width_pt=width_pt))
    blocks.append(sheet.gap(10))
    if slip.price_line:
        blocks += sheet.words(slip.price_line, width_pt=width_pt, size_pt=_BODY_PT, weight="bold")
        blocks.append(sheet.gap(10))
    blocks += _note(slip, width_pt=width_pt)
    if slip.care_note:
        blocks += _label("Care", width_pt=width_pt)
        blocks += sheet.words(slip.care_note, width_pt=width_pt, size_pt=_BODY_PT)
        blocks.append(sheet.gap(10))
    if slip.broken_note:
        blocks += _label("Arrived broken?", width_pt=width_pt)
        blocks += sheet.words(slip.broken_note, width_pt=width_pt, size_pt=_BODY_PT)
        blocks.append(sheet.gap(10))
    blocks.append(_ticks(width_pt=width_pt))
    return blocks


def _count(slip: Slip) -> str:
    return "1 piece" if len(slip.pieces) == 1 else f"{len(slip.pieces)} pieces"


def _label(value: str, *, width_pt: float) -> list[Block]:
    return [
        *sheet.words(
            value,
            width_pt=width_pt,
            size_pt=_SMALL_PT,
            weight="bold",
            colour=SOFT,
            keep_with_next=True,
        ),
        Block(height_pt=2, draw=lambda canvas, x, top: None, keep_with_next=True),
    ]


def _masthead(slip: Slip, *, width_pt: float) -> Block:
    """The mark, the studio's name and address; the parcel's number as a QR code."""
    indent = _MARK + 4 * MM if slip.studio_mark is not None else 0.0
    room = width_pt - indent - _QR - 4 * MM
    name = text.wrap(slip.studio_name, width_pt=room, size_pt=19, weight="bold")
    lines = [
        line
        for words in slip.studio_lines
        for line in text.wrap(words, width_pt=room, size_pt=_SMALL_PT)
    ]
    tall = text.height_pt(name, size_pt=19) + text.height_pt(lines, size_pt=_SMALL_PT) + 4
    height = max(tall, _QR, _MARK) + 4

    def draw(canvas: Canvas, x: float, top: float) -> None:
        if slip.studio_mark is not None:
            pictures.picture(canvas, slip.studio_mark, x, top - 2, side=_MARK)
        canvas.setFillColor(INK)
        y = text.draw_lines(
            canvas, name, x_pt=x + indent, y_pt=top, width_pt=room, size_pt=19, align="left"
        )
        canvas.setFillColor(SOFT)
        text.draw_lines(
            canvas,
            lines,
            x_pt=x + indent,
            y_pt=y - 2,
            width_pt=room,
            size_pt=_SMALL_PT,
            align="left",
        )
        # The quiet zone of the code is white, so the code itself stands flush with the margin.
        pictures.qr(canvas, slip.parcel_number, x + width_pt - _QR + 7, top + 7, side=_QR)

    return Block(height_pt=height, draw=draw, keep_with_next=True)


def _address(slip: Slip, *, width_pt: float) -> Block:
    """Where it goes, large; the parcel's number, month and giver beside it."""
    left = width_pt * 0.6
    side = width_pt - left - 6 * MM
    inside = left - 8 * MM
    shown = [words for words in slip.ship_to if words.strip()]
    if slip.ship_name.strip() and slip.ship_name not in shown:
        shown.insert(0, slip.ship_name)
    lines = [
        line
        for words in shown
        for line in text.wrap(
            words,
            width_pt=inside,
            size_pt=_ADDRESS_PT,
            weight="bold" if words == slip.ship_name else "regular",
        )
    ]
    facts: list[tuple[str, float, str]] = [
        ("Parcel", _SMALL_PT, "label"),
        (slip.parcel_number, 17, "bold"),
    ]
    if slip.month_name:
        facts.append((slip.month_name, 12, "plain"))
    if slip.box:
        facts.append((f"Box: {slip.box}", _SMALL_PT, "plain"))
    if slip.gift:
        giver = f"A gift from {slip.gift_from}" if slip.gift_from else "A gift"
        facts.append((giver, 12, "bold"))
    stack = [
        (
            text.wrap(
                words, width_pt=side, size_pt=size, weight="bold" if kind != "plain" else "regular"
            ),
            size,
            kind,
        )
        for words, size, kind in facts
    ]
    tall = text.height_pt(lines, size_pt=_ADDRESS_PT) + _SMALL_PT * 1.28 + 2 * 8
    beside = sum(text.height_pt(part, size_pt=size) + 2 for part, size, _ in stack) + 16
    height = max(tall, beside, 28 * MM)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1)
        canvas.roundRect(x, top - height, left, height, 4, stroke=1, fill=0)
        canvas.setFillColor(SOFT)
        label = text.wrap("To", width_pt=inside, size_pt=_SMALL_PT, weight="bold")
        y = text.draw_lines(
            canvas, label, x_pt=x + 4 * MM, y_pt=top - 7, width_pt=inside, size_pt=_SMALL_PT
        )
        canvas.setFillColor(INK)
        text.draw_lines(
            canvas, lines, x_pt=x + 4 * MM, y_pt=y, width_pt=inside, size_pt=_ADDRESS_PT
        )
        y = top - 7
        for part, size, kind in stack:
            canvas.setFillColor(SOFT if kind == "label" else INK)
            y = text.draw_lines(
                canvas,
                part,
                x_pt=x + left + 6 * MM,
                y_pt=y,
                width_pt=side,
                size_pt=size,
                align="left",
            )
            y -= 2

    return Block(height_pt=height, draw=draw)


def _piece(piece: SlipPiece, *, side_pt: float, width_pt: float) -> Block:
    room = width_pt - side_pt - 5 * MM
    parts = [
        (text.wrap(piece.form, width_pt=room, size_pt=14, weight="bold"), 14.0, INK),
        (text.wrap(piece.line, width_pt=room, size_pt=12), 12.0, INK),
        (text.wrap(piece.facts, width_pt=room, size_pt=11), 11.0, SOFT),
        (text.wrap(f"Piece {piece.number}", width_pt=room, size_pt=11, weight="bold"), 11.0, INK),
    ]
    tall = sum(text.height_pt(lines, size_pt=size) + 2 for lines, size, _ in parts)
    height = max(tall, side_pt) + 10

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(HAIR)
        canvas.setLineWidth(0.6)
        canvas.line(x, top - height, x + width_pt, top - height)
        pictures.picture(canvas, piece.picture, x, top - 5, side=side_pt)
        y = top - 5
        for lines, size, colour in parts:
            canvas.setFillColor(colour)
            y = text.draw_lines(
                canvas,
                lines,
                x_pt=x + side_pt + 5 * MM,
                y_pt=y,
                width_pt=room,
                size_pt=size,
            )
            y -= 2

    return Block(height_pt=height, draw=draw)


def _note(slip: Slip, *, width_pt: float) -> list[Block]:
    """The note as given, or three lines to write it by hand."""
    if slip.note:
        return [
            *_label("A note", width_pt=width_pt),
            *sheet.words(slip.note, width_pt=width_pt, size_pt=12),
            sheet.gap(10),
        ]

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(HAIR)
        canvas.setLineWidth(0.6)
        for line in range(1, 4):
            canvas.line(x, top - line * 8 * MM, x + width_pt, top - line * 8 * MM)

    return [
        *_label("A note", width_pt=width_pt),
        Block(height_pt=24 * MM, draw=draw),
        sheet.gap(12),
    ]


def _ticks(*, width_pt: float) -> Block:
    """The boxes that the packer ticks, in one row."""
    height = 46.0

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(SOFT)
        label = text.wrap(
            "Before the box is closed", width_pt=200, size_pt=_SMALL_PT, weight="bold"
        )
        text.draw_lines(canvas, label, x_pt=x, y_pt=top, width_pt=200, size_pt=_SMALL_PT)
        natural = [text.width_pt(words, size_pt=9.5) + 12 + 5 for words in TICKS]
        spare = (width_pt - sum(natural)) / (len(TICKS) - 1)
        for words, wide in zip(TICKS, natural, strict=True):
            sheet.box(canvas, x, top - 18)
            canvas.setFillColor(INK)
            lines = text.wrap(words, width_pt=wide, size_pt=9.5)
            text.draw_lines(canvas, lines, x_pt=x + 17, y_pt=top - 17.5, width_pt=wide, size_pt=9.5)
            x += wide + spare

    return Block(height_pt=height, draw=draw)
