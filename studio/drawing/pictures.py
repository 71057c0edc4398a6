"""How does a photograph or a code come onto paper, small enough and never missing silently?"""

from __future__ import annotations

import io
from functools import lru_cache
from itertools import groupby
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError
from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.lib.colors import Color
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from studio.drawing import text
from studio.drawing.paper import HAIR, SOFT

_PICTURE_PX = 420
_QUIET = 4
"""Light modules that the standard asks for on every side of a code."""
BLACK = Color(0, 0, 0)


def qr(canvas: Canvas, value: str, x: float, top: float, *, side: float) -> None:
    """A QR code (ISO/IEC 18004) of a text, quiet zone within the side [pt]."""
    modules, drawn = _qr_drawn(value)
    canvas.saveState()
    canvas.setFillColor(BLACK)
    canvas.translate(x, top - side)
    canvas.scale(side / modules, side / modules)
    canvas.addLiteral(drawn)
    canvas.restoreState()


@lru_cache(maxsize=256)
def _qr_drawn(value: str) -> tuple[int, str]:
    """How many modules wide a code is with its quiet zone, and its dark ones as one filled path.

    Encoded by reportlab; drawn apart from its widget, whose every module sets its colours anew.
    """
    code = getattr(QrCodeWidget(value, barLevel="M"), "qr")  # noqa: B009
    code.make()
    size = len(code.modules)
    path = []
    for number, row in enumerate(code.modules):
        bottom = _QUIET + size - 1 - number
        start = _QUIET
        for dark, run in groupby(row, key=bool):
            length = len(list(run))
            if dark:
                path.append(f"{start} {bottom} {length} 1 re")
            start += length
    return size + 2 * _QUIET, f"{' '.join(path)} f"


def picture(canvas: Canvas, path: Path | None, x: float, top: float, *, side: float) -> None:
    """A picture fitted into a square; an empty frame when there is none or it cannot be read."""
    data = _small_jpeg(path, _changed_ns(path)) if path is not None else None
    if data is None:
        canvas.setStrokeColor(HAIR)
        canvas.setLineWidth(0.7)
        canvas.rect(x, top - side, side, side, stroke=1, fill=0)
        canvas.setFillColor(SOFT)
        lines = text.wrap("no picture", width_pt=side - 4, size_pt=7.5)
        text.draw_lines(
            canvas,
            lines,
            x_pt=x + 2,
            y_pt=top - side / 2 + 5,
            width_pt=side - 4,
            size_pt=7.5,
            align="centre",
        )
        return
    canvas.drawImage(
        ImageReader(io.BytesIO(data)),
        x,
        top - side,
        width=side,
        height=side,
        preserveAspectRatio=True,
        anchor="c",
    )


def _changed_ns(path: Path) -> int:
    """When the file was last written: a picture put in its place is a new one."""
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


@lru_cache(maxsize=256)
def _small_jpeg(path: Path, changed_ns: int) -> bytes | None:
    """The picture at the size it is printed; a phone's 12 million pixels would fill the file."""
    try:
        with Image.open(path) as source:
            source.draft("RGB", (_PICTURE_PX, _PICTURE_PX))
            upright = ImageOps.exif_transpose(source) or source
            flat = Image.new("RGB", upright.size, "white")
            clear = upright.convert("RGBA")
            flat.paste(clear, mask=clear.getchannel("A"))
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError, ValueError):
        return None
    flat.thumbnail((_PICTURE_PX, _PICTURE_PX))
    out = io.BytesIO()
    flat.save(out, "JPEG", quality=82)
    return out.getvalue()
