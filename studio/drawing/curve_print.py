"""How is a firing curve drawn on paper?"""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas

from studio.drawing import text
from studio.drawing.curve import Curve
from studio.drawing.paper import HAIR, INK, SOFT, WASH, Block


def curve_block(curve: Curve, *, width_pt: float, letters: float = 18) -> Block:
    """The firing curve in vectors: the same geometry as on the page.

    ``letters`` are in the curve's own units, which shrink with its width.
    """
    scale = width_pt / curve.width
    height = curve.height * scale

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.saveState()
        canvas.translate(x, top)
        canvas.scale(scale, scale)
        if curve.quartz_top is not None:
            canvas.setFillColor(WASH)
            canvas.rect(
                curve.left,
                -curve.quartz_foot,
                curve.inner_width,
                curve.quartz_high,
                stroke=0,
                fill=1,
            )
            canvas.setStrokeColor(SOFT)
            canvas.setLineWidth(0.8)
            canvas.setDash(3, 5)
            for edge in (curve.quartz_top, curve.quartz_foot):
                canvas.line(curve.left, -edge, curve.right, -edge)
            canvas.setDash()
        canvas.setStrokeColor(HAIR)
        canvas.setLineWidth(0.8)
        canvas.setFillColor(INK)
        for tick in curve.y_ticks:
            canvas.line(curve.left, -tick.at, curve.right, -tick.at)
            text.draw_words(
                canvas,
                tick.words,
                x_pt=curve.left - 7,
                baseline_pt=-tick.at - letters / 3,
                size_pt=letters,
                anchor="end",
            )
        for tick in curve.x_ticks[:: 2 if len(curve.x_ticks) > 7 else 1]:
            text.draw_words(
                canvas,
                tick.words,
                x_pt=tick.at,
                baseline_pt=-curve.foot - letters - 2,
                size_pt=letters,
                anchor="middle",
            )
        canvas.setFillColor(SOFT)
        text.draw_words(
            canvas,
            curve.unit_words,
            x_pt=curve.left + 6,
            baseline_pt=-curve.top + 10,
            size_pt=letters,
        )
        text.draw_words(
            canvas,
            "hours",
            x_pt=curve.middle,
            baseline_pt=-curve.height + 2,
            size_pt=letters - 1,
            anchor="middle",
        )
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.2)
        canvas.line(curve.left, -curve.foot, curve.right, -curve.foot)
        canvas.line(curve.left, -curve.top, curve.left, -curve.foot)
        canvas.setLineWidth(3)
        _polyline(canvas, curve.path)
        for line in curve.lines:
            canvas.setDash(*((8, 5) if line.pattern == "s-cool" else ()))
            canvas.line(curve.left + 90, -line.key_y, curve.left + 140, -line.key_y)
            text.draw_words(
                canvas,
                line.name,
                x_pt=curve.left + 150,
                baseline_pt=-line.key_y - letters / 3,
                size_pt=letters,
            )
        if curve.measured_path:
            canvas.setDash(8, 5)
            _polyline(canvas, curve.measured_path)
        canvas.restoreState()

    return Block(height_pt=height, draw=draw)


def _polyline(canvas: Canvas, path: str) -> None:
    spots = [tuple(float(n) for n in pair.split(",")) for pair in path.split()]
    line = canvas.beginPath()
    line.moveTo(spots[0][0], -spots[0][1])
    for x, y in spots[1:]:
        line.lineTo(x, -y)
    canvas.drawPath(line, stroke=1, fill=0)
