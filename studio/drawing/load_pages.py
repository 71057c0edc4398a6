"""How does a drawn load come onto paper: each level from above, the stack from the side?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reportlab.lib.colors import Color
from reportlab.pdfgen.canvas import Canvas

from studio.drawing import paper as sheet
from studio.drawing import text
from studio.drawing.load_levels import LevelPicture, Mark, Shape
from studio.drawing.load_stack import StackPicture
from studio.drawing.paper import INK, MM, WASH, WHITE, Block
from studio.drawing.tables import Column, table

GREY = Color(0.45, 0.45, 0.45)
_PICTURE = 92 * MM
"""A level is drawn this high at most: two of them and their words on a page."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LevelOnPaper:
    """A level, its words and its table: (places, ware, how many)."""

    words: str
    picture: LevelPicture
    rows: tuple[tuple[str, str, str], ...]


def load_blocks(
    levels: Iterable[LevelOnPaper], stack: StackPicture | None, *, width_pt: float
) -> list[Block]:
    """The drawn load of a firing, lowest level first, then the stack."""
    blocks = [
        *sheet.heading("Where each piece stands, lowest level first", width_pt=width_pt),
        *sheet.words(
            "The front of the kiln is at the bottom of each drawing. Black discs are posts.",
            width_pt=width_pt,
            size_pt=9,
        ),
        sheet.gap(4),
    ]
    for level in levels:
        picture = _level(level.picture, width_pt=width_pt * 0.55)
        left = width_pt * 0.55 + 12
        columns = (
            Column(heading="Places", share=34, weight="bold"),
            Column(heading="Ware", share=50),
            Column(heading="Count", share=16, align="right"),
        )
        rows = table(columns, level.rows, width_pt=width_pt - left, size_pt=9)
        blocks += sheet.words(
            level.words, width_pt=width_pt, size_pt=11, weight="bold", keep_with_next=True
        )
        blocks += [sheet.beside([picture], rows, right_x_pt=left), sheet.gap(10)]
    if stack is not None:
        blocks += sheet.words(
            "From the side", width_pt=width_pt, size_pt=11, weight="bold", keep_with_next=True
        )
        blocks.append(_stack(stack, width_pt=width_pt * 0.55))
    return blocks


def words_on_paper(levels: Iterable[LevelOnPaper]) -> Iterable[str]:
    """Every word that a font must have."""
    for level in levels:
        yield level.words
        for row in level.rows:
            yield from row


def _level(picture: LevelPicture, *, width_pt: float) -> Block:
    scale = min(width_pt / picture.width, _PICTURE / picture.height)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.saveState()
        canvas.translate(x, top)
        canvas.scale(scale, -scale)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(4)
        _shape(canvas, picture.wall, fill=WASH)
        canvas.setLineWidth(1.5)
        _shape(canvas, picture.shelf, fill=WHITE)
        if picture.seam is not None:
            canvas.setDash(14, 6)
            canvas.line(*picture.seam)
            canvas.setDash()
        if picture.probe is not None:
            _probe(canvas, picture.probe)
        for mark in picture.marks:
            _mark(canvas, mark)
        for post in picture.posts:
            _shape(canvas, post, fill=INK)
        for mark in picture.marks:
            _number(canvas, mark, size=picture.text_size)
        canvas.restoreState()

    return Block(height_pt=picture.height * scale, draw=draw)


def _probe(canvas: Canvas, probe: Shape) -> None:
    canvas.setDash(3, 5)
    canvas.circle(probe.x, probe.y, probe.radius, stroke=1, fill=0)
    canvas.setDash()
    for way in (1, -1):
        canvas.line(probe.x - 8, probe.y - 8 * way, probe.x + 8, probe.y + 8 * way)


def _mark(canvas: Canvas, mark: Mark) -> None:
    canvas.setStrokeColor(INK)
    if mark.tile is not None:
        canvas.setLineWidth(1.5)
        canvas.setDash(5, 4)
        _shape(canvas, mark.tile, fill=WHITE)
    canvas.setLineWidth(2.5)
    canvas.setDash(*((8, 6) if mark.is_free else ()))
    for shape in mark.shapes:
        _shape(canvas, shape, fill=WHITE)
    canvas.setDash()
    canvas.setLineWidth(1)
    for line in mark.hatch:
        canvas.line(*line)
    if mark.is_kept:
        _shape(canvas, Shape(x=mark.pin_x, y=mark.y, radius=7), fill=INK)


def _number(canvas: Canvas, mark: Mark, *, size: float) -> None:
    x, y, width, height = mark.plate
    canvas.setFillColor(WHITE)
    canvas.roundRect(x, y, width, height, 6, stroke=0, fill=1)
    canvas.saveState()
    canvas.translate(mark.x, mark.text_y)
    canvas.scale(1, -1)
    canvas.setFillColor(INK)
    text.draw_words(
        canvas, mark.label, x_pt=0, baseline_pt=0, size_pt=size, weight="bold", anchor="middle"
    )
    canvas.restoreState()


def _shape(canvas: Canvas, shape: Shape, *, fill: Color) -> None:
    canvas.setFillColor(fill)
    if shape.radius:
        canvas.circle(shape.x, shape.y, shape.radius, stroke=1, fill=1)
        return
    path = canvas.beginPath()
    path.moveTo(*shape.corners[0])
    for corner in shape.corners[1:]:
        path.lineTo(*corner)
    path.close()
    canvas.drawPath(path, stroke=1, fill=1)


def _stack(stack: StackPicture, *, width_pt: float) -> Block:
    scale = min(width_pt / stack.width, _PICTURE / stack.height)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.saveState()
        canvas.translate(x, top)
        canvas.scale(scale, -scale)
        canvas.setStrokeColor(INK)
        for boxes, fill, line in (
            ((stack.inside,), WHITE, 4.0),
            (stack.wares, WHITE, 1.5),
            (stack.posts, GREY, 0.5),
            (stack.shelves, INK, 0.5),
        ):
            canvas.setFillColor(fill)
            canvas.setLineWidth(line)
            for box in boxes:
                canvas.rect(box.x, box.y, box.width, box.height, stroke=1, fill=1)
        canvas.setFillColor(INK)
        for words, y in stack.labels:
            canvas.saveState()
            canvas.translate(stack.text_x, y)
            canvas.scale(1, -1)
            text.draw_words(
                canvas, words, x_pt=0, baseline_pt=0, size_pt=stack.text_size, anchor="end"
            )
            canvas.restoreState()
        canvas.restoreState()

    return Block(height_pt=stack.height * scale, draw=draw)
