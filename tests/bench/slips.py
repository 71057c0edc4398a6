"""How long do a thousand packing slips take beside reportlab drawing the same plainly?

The plain way is given what the slips had to work out: every string with its font and place, read
off a first run. It then draws those strings, the same pictures made small by Pillow, and the same
QR codes by the widget of reportlab, page after page. Run by hand; nothing is asserted.

python -m tests.bench.slips [count]
"""

from __future__ import annotations

import io
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from PIL import Image
from reportlab.graphics import renderPDF
from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from studio.drawing.slips import Slip, SlipPiece, slips_pdf

MM = 72 / 25.4
NAMES = ("Zoë Đặng", "Юрий Щербаков", "山田 花子", "محمد الأحمدي", "דוד כהן", "홍길동")
MOST_RATIO = 1.5
"""What the slips may take beside the plain way."""

Strings = list[list[tuple[str, float, float, float, str]]]


def memory_mb() -> float:
    """The most memory this process ever held [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def draw_pictures(folder: Path, count: int) -> list[Path]:
    """As many photographs of noise, which no compression makes small."""
    made = []
    for number in range(count):
        path = folder / f"{number}.jpg"
        tone = (number * 37 % 256, number * 91 % 256, 120)
        Image.effect_noise((1600, 1200), 60).convert("RGB").point(
            [(v + t) // 2 for t in tone for v in range(256)]
        ).save(path, quality=80)
        made.append(path)
    return made


def make_slips(count: int, pictures: list[Path]) -> list[Slip]:
    """Slips of six scripts, each with a pot and its picture."""
    return [
        Slip(
            parcel_number=f"2026-11-{number:04}",
            studio_name="Lantern Yard Pots",
            studio_mark=None,
            studio_lines=("4 Lantern Yard", "Whitby YO22 4DE"),
            ship_to=(NAMES[number % len(NAMES)], f"{number} Long Street", "TOWN", "FRANCE"),
            ship_name=NAMES[number % len(NAMES)],
            pieces=(
                SlipPiece(
                    number=f"M-{number}",
                    form="Mug",
                    line="Tide over Chalk on Harbour stoneware",
                    facts="Clay lot 7, fired to cone 6, out of the kiln on 14 October 2026",
                    picture=pictures[number % len(pictures)],
                ),
            ),
            care_note="Hand washing keeps it nicest. It has not been tested in a microwave.",
            broken_note="Send a photograph of the pot and the box within 7 days.",
            month_name="November 2026",
        )
        for number in range(count)
    ]


def recorded(slips: list[Slip]) -> Strings:
    """Every string of every page as the slips draw it: font, size, place, letters."""
    pages: Strings = [[]]
    draw, show = Canvas.drawString, Canvas.showPage

    def note(self: Any, x: float, y: float, text: str, *args: Any, **more: Any) -> None:
        pages[-1].append((self._fontname, self._fontsize, x, y, text))
        draw(self, x, y, text, *args, **more)

    def turn(self: Any) -> None:
        pages.append([])
        show(self)

    Canvas.drawString, Canvas.showPage = note, turn  # type: ignore[method-assign]
    try:
        slips_pdf(slips=slips, paper="A4")
    finally:
        Canvas.drawString, Canvas.showPage = draw, show  # type: ignore[method-assign]
    return pages[:-1]


def plain_pdf(slips: list[Slip], pages: Strings, *, codes: bool) -> bytes:
    """The same strings and pictures, and the codes or not, drawn by reportlab and Pillow alone."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(210 * MM, 297 * MM), invariant=1, pageCompression=1)
    small: dict[Path, bytes] = {}
    for slip, strings in zip(slips, pages, strict=True):
        for font, size, x, y, text in strings:
            canvas.setFont(font, size)
            canvas.drawString(x, y, text)
        for piece in slip.pieces:
            assert piece.picture is not None
            if piece.picture not in small:
                with Image.open(piece.picture) as source:
                    source.draft("RGB", (420, 420))
                    flat = source.convert("RGB")
                flat.thumbnail((420, 420))
                data = io.BytesIO()
                flat.save(data, "JPEG", quality=82)
                small[piece.picture] = data.getvalue()
            reader = ImageReader(io.BytesIO(small[piece.picture]))
            canvas.drawImage(reader, 50, 400, width=40 * MM, height=40 * MM)
        if codes:
            drawing = Drawing(25 * MM, 25 * MM)
            drawing.add(QrCodeWidget(slip.parcel_number, barLevel="M", barWidth=25 * MM))
            renderPDF.draw(drawing, canvas, 450, 700)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def timed(act: Any) -> tuple[float, bytes]:
    """How much time of the processor it took [s], and what came of it."""
    started = time.process_time()
    data = act()
    return time.process_time() - started, data


def memory_after(count: int) -> float:
    """The most memory [MB] that a process of its own holds for so many slips."""
    code = (
        "from tests.bench.slips import *\n"
        "with tempfile.TemporaryDirectory() as folder:\n"
        "    pictures = draw_pictures(Path(folder), 50)\n"
        f"    slips_pdf(slips=make_slips({count}, pictures), paper='A4')\n"
        "print(memory_mb())"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(done.stdout)


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as folder:
        pictures = draw_pictures(Path(folder), min(count, 200))
        slips = make_slips(count, pictures)
        pages = recorded(slips)  # which also warms the fonts, for both alike
        rows = []
        for _ in range(3):
            from studio.drawing import pictures as kept
            from studio.drawing import text

            kept._small_jpeg.cache_clear()
            kept._qr_drawn.cache_clear()
            text._wrapped.cache_clear()
            ours, data = timed(lambda: slips_pdf(slips=slips, paper="A4"))
            plain, other = timed(lambda: plain_pdf(slips, pages, codes=True))
            bare, _ = timed(lambda: plain_pdf(slips, pages, codes=False))
            rows.append((ours, plain, ours / plain, bare, ours / bare, len(data), len(other)))
    print(f"{count} slips of one page, A4, processor time [s]; the ratio may be {MOST_RATIO}")
    print("   slips   plain   ratio   plain without codes   ratio   MB of PDF   MB plain")
    for ours, plain, ratio, bare, bare_ratio, size, other_size in rows:
        print(
            f"{ours:8.2f}{plain:8.2f}{ratio:8.2f}{bare:22.2f}{bare_ratio:8.2f}"
            f"{size / 1e6:12.1f}{other_size / 1e6:11.1f}"
        )
    few, many = memory_after(count // 10), memory_after(count)
    print(f"most memory: {few:.0f} MB for {count // 10} slips, {many:.0f} MB for {count}")


if __name__ == "__main__":
    main()
