"""How do blocks of text, tables and pictures fall onto pages, and what says 'page 2 of 3'?

A paper is a list of sections; each section begins a page and counts its own pages. A section is a
list of blocks that know their height; blocks never split, so nothing is cut at a page's end.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from reportlab.lib.colors import Color
from reportlab.pdfgen.canvas import Canvas

from studio.drawing import text
from studio.drawing.fonts import Weight

Paper = Literal["A4", "Letter"]
Draw = Callable[[Canvas, float, float], None]

MM = 72 / 25.4
"""Points in a millimetre."""
PAPERS: dict[str, tuple[float, float]] = {"A4": (210 * MM, 297 * MM), "Letter": (612.0, 792.0)}
"""Width and height [pt] of upright paper: A4 by ISO 216, Letter 8.5 x 11 in."""
MARGIN = 15 * MM
FOOT = 9 * MM
"""Room kept above the lower margin for the page number."""

INK = Color(0.09, 0.12, 0.20)
SOFT = Color(0.36, 0.39, 0.45)
HAIR = Color(0.72, 0.74, 0.78)
WASH = Color(0.94, 0.945, 0.95)
WHITE = Color(1, 1, 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Block:
    """Something with a height [pt] that can draw itself below a point (canvas, x, top)."""

    height_pt: float
    draw: Draw
    head: Block | None = None
    keep_with_next: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """Blocks that begin a page, and what stands at the foot of each of its pages."""

    blocks: tuple[Block, ...]
    foot: str


def page_size(paper: str, *, landscape: bool = False) -> tuple[float, float]:
    """Width and height [pt] of a paper. Raises: ValueError for a paper not known."""
    if paper not in PAPERS:
        raise ValueError(f"paper must be one of {', '.join(PAPERS)}, not {paper!r}")
    width, height = PAPERS[paper]
    return (height, width) if landscape else (width, height)


def inner_width(paper: str, *, landscape: bool = False) -> float:
    """The width [pt] between the margins."""
    return page_size(paper, landscape=landscape)[0] - 2 * MARGIN


def write(sections: Iterable[Section], *, title: str, paper: str, landscape: bool = False) -> bytes:
    """Put sections on paper and give the PDF; the same sections give the same bytes."""
    size = page_size(paper, landscape=landscape)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=size, invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(text.clean(title))
    canvas.setCreator("Wareboard")
    canvas.setAuthor("")
    canvas.setSubject("")
    room = size[1] - 2 * MARGIN - FOOT
    for section in sections:
        pages = paginate(section.blocks, room_pt=room)
        for number, blocks in enumerate(pages, start=1):
            top = size[1] - MARGIN
            for block in blocks:
                block.draw(canvas, MARGIN, top)
                top -= block.height_pt
            _foot(canvas, section.foot, number, len(pages), width_pt=size[0] - 2 * MARGIN)
            canvas.showPage()
    canvas.save()
    return out.getvalue()


def _foot(canvas: Canvas, words: str, number: int, count: int, *, width_pt: float) -> None:
    canvas.setStrokeColor(HAIR)
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, MARGIN + FOOT - 12, MARGIN + width_pt, MARGIN + FOOT - 12)
    canvas.setFillColor(SOFT)
    top = MARGIN + FOOT - 14
    page = text.wrap(f"page {number} of {count}", width_pt=90, size_pt=8.5)
    text.draw_lines(
        canvas, page, x_pt=MARGIN + width_pt - 90, y_pt=top, width_pt=90, size_pt=8.5, align="right"
    )
    lines = text.wrap(words, width_pt=width_pt - 100, size_pt=8.5)[:1]
    text.draw_lines(
        canvas, lines, x_pt=MARGIN, y_pt=top, width_pt=width_pt - 100, size_pt=8.5, align="left"
    )


def paginate(blocks: Sequence[Block], *, room_pt: float) -> list[list[Block]]:
    """Share blocks among pages of room_pt [pt]; a block with a head brings it to each new page.

    Raises: ValueError for a block taller than a page, because it would be cut.
    """
    if any(block.height_pt > room_pt for block in blocks):
        raise ValueError("a text that must stay together is longer than a page")
    pages: list[list[Block]] = [[]]
    left = room_pt
    for group in _groups(blocks):
        needed = sum(block.height_pt for block in group)
        if needed > left and pages[-1]:
            pages.append([])
            left = room_pt
            head = group[0].head
            if head is not None:
                pages[-1].append(head)
                left -= head.height_pt
        for block in group:
            if block.height_pt > left and pages[-1]:
                pages.append([])
                left = room_pt
            pages[-1].append(block)
            left -= block.height_pt
    return pages


def _groups(blocks: Sequence[Block]) -> list[list[Block]]:
    groups: list[list[Block]] = [[]]
    for block in blocks:
        groups[-1].append(block)
        if not block.keep_with_next:
            groups.append([])
    return [group for group in groups if group]


def gap(height_pt: float) -> Block:
    """Empty room."""
    return Block(height_pt=height_pt, draw=lambda canvas, x, top: None)


def rule(*, width_pt: float, weight_pt: float = 1.2, below_pt: float = 8) -> Block:
    """A line across, with room under it."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(weight_pt)
        canvas.line(x, top - weight_pt / 2, x + width_pt, top - weight_pt / 2)

    return Block(height_pt=weight_pt + below_pt, draw=draw, keep_with_next=True)


def words(
    value: str,
    *,
    width_pt: float,
    size_pt: float = 10,
    weight: Weight = "regular",
    colour: Color = INK,
    leading_pt: float | None = None,
    keep_with_next: bool = False,
) -> list[Block]:
    """One block a line, so that a long text runs over to the next page."""
    lines = text.wrap(value, width_pt=width_pt, size_pt=size_pt, weight=weight)
    leading = leading_pt or text.height_pt([lines[0]], size_pt=size_pt) if lines else 0.0

    def block(line: text.Line) -> Block:
        def draw(canvas: Canvas, x: float, top: float) -> None:
            canvas.setFillColor(colour)
            text.draw_lines(
                canvas,
                [line],
                x_pt=x,
                y_pt=top,
                width_pt=width_pt,
                size_pt=size_pt,
                leading_pt=leading,
            )

        return Block(height_pt=leading, draw=draw, keep_with_next=keep_with_next)

    return [block(line) for line in lines]


def heading(value: str, *, width_pt: float, size_pt: float = 12) -> list[Block]:
    """A heading that stays with what follows it."""
    return [
        *words(value, width_pt=width_pt, size_pt=size_pt, weight="bold", keep_with_next=True),
        Block(height_pt=3, draw=lambda canvas, x, top: None, keep_with_next=True),
    ]


def title_blocks(title: str, sentence: str, *, width_pt: float) -> list[Block]:
    """The top of a paper: its name, one sentence, a strong line."""
    return [
        *words(title, width_pt=width_pt, size_pt=18, weight="bold", keep_with_next=True),
        Block(height_pt=2, draw=lambda canvas, x, top: None, keep_with_next=True),
        *words(sentence, width_pt=width_pt, size_pt=10.5, colour=SOFT, keep_with_next=True),
        Block(height_pt=5, draw=lambda canvas, x, top: None, keep_with_next=True),
        rule(width_pt=width_pt),
    ]


def beside(left: Sequence[Block], right: Sequence[Block], *, right_x_pt: float) -> Block:
    """Two short stacks side by side; together they never split."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for blocks, start in ((left, x), (right, x + right_x_pt)):
            y = top
            for block in blocks:
                block.draw(canvas, start, y)
                y -= block.height_pt

    return Block(
        height_pt=max(sum(b.height_pt for b in left), sum(b.height_pt for b in right)), draw=draw
    )


def framed(blocks: Sequence[Block], *, width_pt: float, weight_pt: float = 1.5) -> Block:
    """Blocks inside a strong frame; they are made 2 x 8 pt narrower than width_pt."""
    inside = sum(block.height_pt for block in blocks)
    height = inside + 12

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(weight_pt)
        canvas.rect(x, top - height, width_pt, height, stroke=1, fill=0)
        y = top - 6
        for block in blocks:
            block.draw(canvas, x + 8, y)
            y -= block.height_pt

    return Block(height_pt=height, draw=draw)


def share_bar(percent: int, *, width_pt: float) -> Block:
    """How full something is, as a bar and in figures; beyond 100 it is said in words."""
    high = 15.0
    room = width_pt - 190

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(INK)
        canvas.rect(x, top - high, room * min(percent, 100) / 100, high, stroke=0, fill=1)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1)
        canvas.rect(x, top - high, room, high, stroke=1, fill=0)
        over = " full: more than it holds" if percent > 100 else " full"
        text.draw_words(
            canvas,
            f"{percent} %{over}",
            x_pt=x + room + 10,
            baseline_pt=top - high + 3.5,
            size_pt=11,
            weight="bold",
        )

    return Block(height_pt=high + 8, draw=draw)


def blanks(labels: Sequence[str], *, width_pt: float, size_pt: float = 10) -> Block:
    """Words with room after them to write by hand, side by side."""
    each = width_pt / len(labels)
    high = 26.0

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for label in labels:
            canvas.setFillColor(INK)
            text.draw_words(canvas, label, x_pt=x, baseline_pt=top - 18, size_pt=size_pt)
            start = x + text.width_pt(label, size_pt=size_pt) + 4
            canvas.setStrokeColor(SOFT)
            canvas.setLineWidth(0.6)
            canvas.line(start, top - 20, x + each - 10, top - 20)
            x += each

    return Block(height_pt=high, draw=draw)


def box(canvas: Canvas, x: float, top: float, *, side: float = 12.0) -> None:
    """An empty box to tick by hand."""
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1)
    canvas.rect(x, top - side, side, side, stroke=1, fill=0)
