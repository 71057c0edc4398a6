"""How does a table wrap in its cells and repeat its heading on every page?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from reportlab.pdfgen.canvas import Canvas

from studio.drawing import text
from studio.drawing.fonts import Weight
from studio.drawing.paper import HAIR, INK, WASH, Block, box
from studio.drawing.text import Align

# A row never holds more lines than surely fit a page; the rest follows as a second row.
_MOST_LINES = 24


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """A table column: its heading, its share of the width, its weight and side."""

    heading: str
    share: float
    weight: Weight = "regular"
    align: Align = "start"
    box: bool = False
    """An empty box to tick or write in, instead of the text."""


def table(
    columns: Sequence[Column],
    rows: Iterable[Sequence[str]],
    *,
    width_pt: float,
    size_pt: float = 9.5,
    row_min_pt: float = 0,
) -> list[Block]:
    """A table that wraps in its cells and repeats its heading on each page."""
    whole = sum(column.share for column in columns)
    widths = [width_pt * column.share / whole for column in columns]
    head = _table_head(columns, widths, size_pt=size_pt)
    body = [
        part
        for row in rows
        for part in _table_row(columns, widths, row, size_pt=size_pt, row_min_pt=row_min_pt)
    ]
    return [head, *(replace(block, head=head) for block in body)]


_CELL_X = 4.0
_CELL_Y = 2.0


def _table_head(columns: Sequence[Column], widths: Sequence[float], *, size_pt: float) -> Block:
    size = size_pt - 1
    cells = [
        text.wrap(c.heading, width_pt=w - 2 * _CELL_X, size_pt=size, weight="bold")
        for c, w in zip(columns, widths, strict=True)
    ]
    height = max(text.height_pt(cell, size_pt=size) for cell in cells) + 2 * _CELL_Y

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(WASH)
        canvas.rect(x, top - height, sum(widths), height, stroke=0, fill=1)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1)
        canvas.line(x, top - height, x + sum(widths), top - height)
        canvas.setFillColor(INK)
        for column, width, cell in zip(columns, widths, cells, strict=True):
            tall = text.height_pt(cell, size_pt=size)
            text.draw_lines(
                canvas,
                cell,
                x_pt=x + _CELL_X,
                y_pt=top - (height - tall) + _CELL_Y,
                width_pt=width - 2 * _CELL_X,
                size_pt=size,
                align=column.align,
            )
            x += width

    return Block(height_pt=height, draw=draw, keep_with_next=True)


def _table_row(
    columns: Sequence[Column],
    widths: Sequence[float],
    row: Sequence[str],
    *,
    size_pt: float,
    row_min_pt: float,
) -> list[Block]:
    cells = [
        text.wrap(value, width_pt=w - 2 * _CELL_X, size_pt=size_pt, weight=c.weight)
        for c, w, value in zip(columns, widths, row, strict=True)
    ]
    tallest = max(1, *(len(cell) for cell in cells))
    blocks = []
    for start in range(0, tallest, _MOST_LINES):
        part = [cell[start : start + _MOST_LINES] for cell in cells]
        blocks.append(
            _table_part(
                columns, widths, part, first=start == 0, size_pt=size_pt, row_min_pt=row_min_pt
            )
        )
    return blocks


def _table_part(
    columns: Sequence[Column],
    widths: Sequence[float],
    cells: Sequence[Sequence[text.Line]],
    *,
    first: bool,
    size_pt: float,
    row_min_pt: float,
) -> Block:
    tall = max(text.height_pt(cell, size_pt=size_pt) for cell in cells) + 2 * _CELL_Y
    height = max(tall, row_min_pt, size_pt + 2 * _CELL_Y)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(HAIR)
        canvas.setLineWidth(0.5)
        canvas.line(x, top - height, x + sum(widths), top - height)
        for column, width, cell in zip(columns, widths, cells, strict=True):
            if column.box and first:
                side = min(12.0, height - 4)
                box(canvas, x + _CELL_X, top - 3, side=side)
            canvas.setFillColor(INK)
            text.draw_lines(
                canvas,
                cell,
                x_pt=x + _CELL_X,
                y_pt=top - _CELL_Y,
                width_pt=width - 2 * _CELL_X,
                size_pt=size_pt,
                align=column.align,
            )
            x += width

    return Block(height_pt=height, draw=draw)
