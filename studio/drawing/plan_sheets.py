"""The plan on paper: which kiln fires when, what to throw by when, and what falls short."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas

from studio.drawing import paper as sheet
from studio.drawing import text
from studio.drawing.labour import Labour
from studio.drawing.paper import HAIR, INK, SOFT, WASH, WHITE, Block, Paper, Section
from studio.drawing.strip import Bar, Strip
from studio.drawing.tables import Column, table

FIRING_HEADS = ("Starts", "Kiln", "Firing", "Holds", "Free again", "May slip")
THROWING_HEADS = ("By", "Throw", "How many", "For")
SHORT_HEADS = ("Wanted", "By", "Short", "Why", "What would help")
GETS_HEADS = ("For", "By", "Wanted", "Gets")
THROW_BY_HEADS = ("Throw", "How many", "At the latest", "For")
USE_HEADS = ("What", "Used", "Of", "Share")
"""What the texts of a row are, in order, for each table."""

_DAYS_A_PART = 21
_SHARES = {
    FIRING_HEADS: (13, 17, 17, 30, 13, 10),
    THROWING_HEADS: (14, 44, 12, 30),
    SHORT_HEADS: (24, 12, 10, 30, 24),
    GETS_HEADS: (24, 14, 32, 30),
    THROW_BY_HEADS: (40, 12, 18, 30),
    USE_HEADS: (40, 20, 20, 20),
}
_NUMBERS = frozenset({"How many", "Short", "Used", "Of", "Share"})

Rows = Sequence[Sequence[str]]


def plan_pdf(
    *,
    title: str,
    strip: Strip,
    firings_rows: Rows,
    throwing_rows: Rows,
    short_rows: Rows,
    use_rows: Rows = (),
    helps: Sequence[str] = (),
    changes: Sequence[str] = (),
    gets_rows: Rows = (),
    throw_by_rows: Rows = (),
    labour: Labour | None = None,
    sentence: str,
    paper: Paper,
) -> bytes:
    """The plan on paper laid sideways: the strip three weeks a row, then its tables.

    Rows are texts in the order of the HEADS of their table. ``helps`` are sentences below what
    falls short, ``changes`` those of what is new against the plan before. What is empty and may be
    left out is left out.

    Raises: ValueError for a row with too few or too many texts, or a paper not known.
    """
    width = sheet.inner_width(paper, landscape=True)
    text.prepare([title, sentence, *strip.kilns, *(load.label for load in strip.loads)])
    text.prepare(name for _, name in strip.dates)
    for rows in (firings_rows, throwing_rows, short_rows, use_rows, gets_rows, throw_by_rows):
        text.prepare(value for row in rows for value in row)
    text.prepare([*helps, *changes])
    blocks = sheet.title_blocks(title, sentence, width_pt=width)
    # What falls short is the news: it comes before the drawing.
    if short_rows:
        blocks += _table("What falls short", SHORT_HEADS, short_rows, width_pt=width)
        blocks += _sentences("", helps, width_pt=width)
        blocks += _if_any("How full hands and kilns are", USE_HEADS, use_rows, width_pt=width)
    blocks += _sentences("What changes from the plan before", changes, width_pt=width)
    for part in strip.parts(days=_DAYS_A_PART):
        blocks += [_strip(part, width_pt=width), sheet.gap(10)]
    blocks.append(_key(width_pt=width))
    blocks += _table("Firings", FIRING_HEADS, firings_rows, width_pt=width)
    blocks += _if_any("What each date gets", GETS_HEADS, gets_rows, width_pt=width)
    blocks += _table("Throwing", THROWING_HEADS, throwing_rows, width_pt=width)
    blocks += _if_any("Throw by", THROW_BY_HEADS, throw_by_rows, width_pt=width)
    if labour is not None:
        blocks += sheet.heading("Hands by day", width_pt=width)
        blocks += [_labour(labour, width_pt=width), sheet.gap(6)]
        blocks += sheet.words(
            "The outline is what a day gives, the solid bar what the plan asks of it.",
            width_pt=width,
            size_pt=9,
            colour=SOFT,
        )
    section = Section(blocks=tuple(blocks), foot=title)
    return sheet.write([section], title=title, paper=paper, landscape=True)


def _sentences(name: str, sentences: Sequence[str], *, width_pt: float) -> list[Block]:
    if not sentences:
        return []
    blocks = sheet.heading(name, width_pt=width_pt) if name else []
    for sentence in sentences:
        blocks += sheet.words(sentence, width_pt=width_pt, size_pt=10)
    return [*blocks, sheet.gap(12)]


def _if_any(name: str, heads: tuple[str, ...], rows: Rows, *, width_pt: float) -> list[Block]:
    return _table(name, heads, rows, width_pt=width_pt) if rows else []


def _table(name: str, heads: tuple[str, ...], rows: Rows, *, width_pt: float) -> list[Block]:
    for row in rows:
        if len(row) != len(heads):
            raise ValueError(f"a row of {name.lower()} is {', '.join(heads).lower()}; not {row!r}")
    blocks = sheet.heading(name, width_pt=width_pt)
    if not rows:
        return [
            *blocks,
            *sheet.words("Nothing.", width_pt=width_pt, size_pt=10, colour=SOFT),
            sheet.gap(12),
        ]
    columns = [
        Column(
            heading=head,
            share=share,
            weight="bold" if n == 0 else "regular",
            align="right" if head in _NUMBERS else "start",
        )
        for n, (head, share) in enumerate(zip(heads, _SHARES[heads], strict=True))
    ]
    return [*blocks, *table(columns, rows, width_pt=width_pt, size_pt=10), sheet.gap(14)]


def _strip(strip: Strip, *, width_pt: float) -> Block:
    """A part of the strip in vectors; a short last part keeps the scale of the others."""
    whole = strip.width + (_DAYS_A_PART - len(strip.days)) * strip.days[0].width
    scale = width_pt / whole
    height = strip.height * scale

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.saveState()
        canvas.translate(x, top)
        canvas.scale(scale, scale)
        _draw_days(canvas, strip)
        _draw_rows(canvas, strip)
        for bar in strip.bars:
            draw_bar(canvas, bar)
        _draw_flags(canvas, strip)
        canvas.restoreState()

    return Block(height_pt=height, draw=draw)


def _labour(labour: Labour, *, width_pt: float) -> Block:
    """The minutes of each day in vectors, no larger than they stand on a page."""
    scale = min(1.0, width_pt / labour.width)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.saveState()
        canvas.translate(x, top)
        canvas.scale(scale, scale)
        for tick in labour.ticks:
            canvas.setFillColor(SOFT)
            text.draw_words(canvas, tick.words, x_pt=tick.x, baseline_pt=-14, size_pt=11)
        for row in labour.rows:
            canvas.setFillColor(INK)
            text.draw_words(canvas, row.name, x_pt=2, baseline_pt=-row.foot + 24, size_pt=13)
            canvas.setFillColor(SOFT)
            text.draw_words(canvas, row.most, x_pt=2, baseline_pt=-row.foot + 8, size_pt=11)
            canvas.setStrokeColor(INK)
            canvas.setLineWidth(0.8)
            canvas.line(0, -row.foot, labour.width, -row.foot)
        canvas.setFillColor(INK)
        canvas.setStrokeColor(INK)
        for bar in labour.bars:
            foot = -bar.foot
            canvas.setLineWidth(0.6)
            if bar.given_high:
                canvas.rect(bar.x, foot, bar.width, bar.given_high, stroke=1, fill=0)
            if bar.asked_high:
                canvas.rect(bar.x, foot, bar.width, bar.asked_high, stroke=0, fill=1)
        canvas.restoreState()

    return Block(height_pt=labour.height * scale, draw=draw)


def _draw_days(canvas: Canvas, strip: Strip) -> None:
    for day in strip.days:
        if day.off:
            canvas.setFillColor(WASH)
            canvas.rect(day.x, -strip.rows_foot, day.width, strip.rows_high, stroke=0, fill=1)
    for day in strip.days:
        canvas.setStrokeColor(HAIR)
        canvas.setLineWidth(0.6)
        canvas.line(day.x, -strip.rows_top, day.x, -strip.rows_foot)
        for x1, y1, x2, y2 in day.cross:
            canvas.setStrokeColor(SOFT)
            canvas.line(x1, -y1, x2, -y2)
        canvas.setFillColor(SOFT)
        text.draw_words(
            canvas, day.letter, x_pt=day.middle, baseline_pt=-32, size_pt=11, anchor="middle"
        )
        canvas.setFillColor(INK)
        text.draw_words(
            canvas, day.number, x_pt=day.middle, baseline_pt=-48, size_pt=13, anchor="middle"
        )
        if day.month:
            text.draw_words(
                canvas, day.month, x_pt=day.x, baseline_pt=-14, size_pt=13, weight="bold"
            )


def _draw_rows(canvas: Canvas, strip: Strip) -> None:
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.8)
    canvas.setFillColor(INK)
    for row in strip.rows:
        canvas.line(0, -row.y, strip.width, -row.y)
        for words, y in row.lines:
            text.draw_words(canvas, words, x_pt=2, baseline_pt=-y, size_pt=13)
    canvas.line(0, -strip.rows_foot, strip.width, -strip.rows_foot)


def draw_bar(canvas: Canvas, bar: Bar) -> None:
    """One firing's bar, y counted downwards from the canvas's zero."""
    solid = bar.kind == "glaze"
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1.4)
    canvas.setFillColor(INK if solid else WHITE)
    canvas.roundRect(bar.x, -bar.y - bar.height, bar.width, bar.height, 3, stroke=1, fill=1)
    canvas.setLineWidth(0.8)
    for x1, y1, x2, y2 in bar.hatch:
        canvas.line(x1, -y1, x2, -y2)
    canvas.setFillColor(WHITE if solid else INK)
    if bar.kind_words:
        text.draw_words(
            canvas, bar.kind_words, x_pt=bar.text_x, baseline_pt=-bar.kind_y, size_pt=11
        )
    text.draw_words(canvas, bar.label, x_pt=bar.text_x, baseline_pt=-bar.label_y, size_pt=11)
    if bar.pinned:
        canvas.setLineWidth(1.4)
        canvas.setFillColor(WHITE)
        canvas.circle(bar.pin_x, -bar.pin_y, 5, stroke=1, fill=1)
        canvas.setFillColor(INK)
        canvas.circle(bar.pin_x, -bar.pin_y, 2, stroke=0, fill=1)


def _draw_flags(canvas: Canvas, strip: Strip) -> None:
    canvas.setStrokeColor(INK)
    canvas.setFillColor(INK)
    for flag in strip.flags:
        canvas.setLineWidth(2)
        canvas.line(flag.x, -flag.top, flag.x, -flag.foot)
        pennant = canvas.beginPath()
        pennant.moveTo(flag.corners[0][0], -flag.corners[0][1])
        for x, y in flag.corners[1:]:
            pennant.lineTo(x, -y)
        pennant.close()
        canvas.drawPath(pennant, stroke=0, fill=1)
    for flag in strip.flags:
        wide = text.width_pt(flag.name, size_pt=11)
        left = flag.text_x if flag.anchor == "start" else flag.text_x - wide
        canvas.setFillColor(WHITE)
        canvas.rect(left - 2, -flag.foot - 3, wide + 4, 14, stroke=0, fill=1)
        canvas.setFillColor(INK)
        text.draw_words(canvas, flag.name, x_pt=left, baseline_pt=-flag.foot, size_pt=11)


def _key(*, width_pt: float) -> Block:
    """What the marks of the strip mean."""
    words = (
        "Open bar with a hatched edge: bisque. Solid bar: glaze. Ring: pinned, not to be moved. "
        "Grey: weekend. Crossed: day off. Flag: due at the end of that day."
    )
    lines = text.wrap(words, width_pt=width_pt, size_pt=9)
    height = text.height_pt(lines, size_pt=9)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(SOFT)
        text.draw_lines(canvas, lines, x_pt=x, y_pt=top, width_pt=width_pt, size_pt=9)

    return Block(height_pt=height + 14, draw=draw)
