"""A printed page read back with tools that did not draw it: pypdf, PDFium and ZXing."""

from __future__ import annotations

import io
from dataclasses import dataclass

import pypdf
import pypdfium2
import zxingcpp
from PIL import Image

MM = 72 / 25.4


@dataclass(frozen=True, kw_only=True)
class Letter:
    """A visible character and the corners of its drawn box [pt from the lower left]."""

    character: str
    left: float
    bottom: float
    right: float
    top: float


def texts(data: bytes) -> list[str]:
    """The text of each page, one space between words."""
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    return [" ".join(page.extract_text().split()) for page in pages]


def letters(data: bytes, page: int = 0) -> list[Letter]:
    """Every visible character of a page with its place."""
    document = pypdfium2.PdfDocument(data)
    try:
        found = document[page].get_textpage()
        out = []
        whole = found.get_text_range()
        for index in range(found.count_chars()):
            if index < len(whole) and whole[index].strip():
                left, bottom, right, top = found.get_charbox(index)
                out.append(
                    Letter(character=whole[index], left=left, bottom=bottom, right=right, top=top)
                )
        return out
    finally:
        document.close()


def picture(data: bytes, page: int = 0, *, scale: float = 2.0) -> Image.Image:
    """The page as a picture, scale 1 = 72 dpi."""
    document = pypdfium2.PdfDocument(data)
    try:
        return document[page].render(scale=scale).to_pil().convert("RGB")
    finally:
        document.close()


def qr_texts(data: bytes, page: int = 0) -> list[str]:
    """What the QR codes of a page say."""
    return [code.text for code in zxingcpp.read_barcodes(picture(data, page, scale=3))]


def size_pt(data: bytes, page: int = 0) -> tuple[float, float]:
    """Width and height of a page."""
    box = pypdf.PdfReader(io.BytesIO(data)).pages[page].mediabox
    return float(box.width), float(box.height)
