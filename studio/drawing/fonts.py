"""Which font has a glyph for this character?

reportlab looks for no second font when a glyph is missing, so every character is asked here.

1. The order is Fira Sans, Heebo (Hebrew), Noto Sans Arabic, the fonts of ``_SCRIPTS``, Noto Sans
   CJK, the signs of ``_SIGNS``; the first that has the glyph draws it ('Ł' is never taken from the
   CJK font).
2. The CJK font comes with cubic outlines that reportlab refuses, so the few characters in use are
   redrawn with quadratic ones; each character is redrawn once in the life of the process.
3. In most of ``_SCRIPTS`` letters join and change places, so whole runs are shaped by HarfBuzz;
   letter by letter they would be misspelt.
4. A character that none of them has is looked for in the fonts of this computer; one that no font
   has is drawn as an open box, never left out (a Tibetan letter gives □).
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from threading import RLock
from typing import Literal

import uharfbuzz as hb
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from studio.drawing import installed_fonts

Weight = Literal["regular", "bold"]

LAST_RESORT = "□"
"""Drawn where no font has the glyph."""

_FIRA = {"regular": "FiraSans-Regular.ttf", "bold": "FiraSans-SemiBold.ttf"}
_HEEBO = "Heebo[wght].ttf"
_ARABIC = "NotoSansArabic[wdth,wght].ttf"


@dataclass(frozen=True, slots=True)
class _Script:
    """From which character to which a script runs, and the font that draws it."""

    ranges: tuple[tuple[int, int], ...]
    package: str
    file: str
    shaped: bool = True


_NOTO = "manimgx_fonts"
_SCRIPTS = {
    "armenian": _Script(((0x0530, 0x058F),), _NOTO, "NotoSansArmenian[wght].ttf", shaped=False),
    "devanagari": _Script(
        ((0x0900, 0x097F),), "fontpkg_noto_sans_devanagari", "NotoSansDevanagari[wdth,wght].ttf"
    ),
    "bengali": _Script(((0x0980, 0x09FF),), "fontpkg_hind_siliguri", "HindSiliguri-{weight}.ttf"),
    "gurmukhi": _Script(((0x0A00, 0x0A7F),), _NOTO, "NotoSansGurmukhi[wght].ttf"),
    "gujarati": _Script(((0x0A80, 0x0AFF),), _NOTO, "NotoSansGujarati[wght].ttf"),
    "odia": _Script(((0x0B00, 0x0B7F),), _NOTO, "NotoSansOriya[wght].ttf"),
    "tamil": _Script(
        ((0x0B80, 0x0BFF),), "fontpkg_noto_sans_tamil", "NotoSansTamil[wdth,wght].ttf"
    ),
    "telugu": _Script(
        ((0x0C00, 0x0C7F),), "fontpkg_noto_sans_telugu", "NotoSansTelugu[wdth,wght].ttf"
    ),
    "kannada": _Script(((0x0C80, 0x0CFF),), _NOTO, "NotoSansKannada[wght].ttf"),
    "malayalam": _Script(((0x0D00, 0x0D7F),), _NOTO, "NotoSansMalayalam[wght].ttf"),
    "sinhala": _Script(((0x0D80, 0x0DFF),), _NOTO, "NotoSansSinhala[wght].ttf"),
    "thai": _Script(((0x0E00, 0x0E7F),), "fontpkg_noto_sans_thai", "NotoSansThai[wdth,wght].ttf"),
    "lao": _Script(((0x0E80, 0x0EFF),), _NOTO, "NotoSansLao[wght].ttf"),
    "burmese": _Script(
        ((0x1000, 0x109F), (0xA9E0, 0xA9FF), (0xAA60, 0xAA7F)), _NOTO, "NotoSansMyanmar[wght].ttf"
    ),
    "georgian": _Script(
        ((0x10A0, 0x10FF), (0x1C90, 0x1CBF), (0x2D00, 0x2D2F)),
        _NOTO,
        "NotoSansGeorgian[wght].ttf",
        shaped=False,
    ),
    "ethiopic": _Script(
        ((0x1200, 0x139F), (0x2D80, 0x2DDF), (0xAB00, 0xAB2F)),
        _NOTO,
        "NotoSansEthiopic[wght].ttf",
        shaped=False,
    ),
    "khmer": _Script(
        ((0x1780, 0x17FF),), "fontpkg_noto_sans_khmer", "NotoSansKhmer[wdth,wght].ttf"
    ),
}
_SIGNS = {
    "symbols": _Script((), _NOTO, "NotoSansSymbols[wght].ttf", shaped=False),
    "emoji": _Script((), _NOTO, "NotoEmoji[wght].ttf", shaped=False),
}
"""Fonts asked last, for whatever the others have not."""

JOINERS = "\u200c\u200d"
"""Zero-width signs that say how letters join; a shaped run keeps them."""

_BOLD_WEIGHT = 600
_UNITS = 1000
_MAX_ERROR_UNITS = 1.0
"""How far [1/1000 em] a quadratic outline may leave the cubic one."""

_lock = RLock()


def _register(name: str, data: bytes) -> TTFont:
    font = TTFont(name, io.BytesIO(data))
    pdfmetrics.registerFont(font)
    return font


def _static(data: bytes, *, name: str, weight: Weight) -> bytes:
    """The variable font held still at one weight; its default is the regular one already.

    By HarfBuzz, in some milliseconds; fontTools takes seconds for the same.
    """
    if weight == "regular":
        return data
    from fontTools.ttLib import TTFont as Outlines

    face, wanted = hb.Face(data), hb.SubsetInput()
    wanted.keep_everything()
    for axis, value in (("wght", _BOLD_WEIGHT), ("wdth", 100)):
        if any(found.tag == axis for found in face.axis_infos):
            wanted.pin_axis_location(face, axis, float(value))
    still = Outlines(io.BytesIO(hb.subset(face, wanted).blob.data))
    # reportlab tells embedded fonts apart by this name: two weights of one name would be one.
    still["name"].setName(name, 6, 3, 1, 0x409)
    still["name"].setName(name, 6, 1, 0, 0)
    out = io.BytesIO()
    still.save(out)
    return out.getvalue()


@cache
def _font(family: Literal["latin", "hebrew", "arabic"], weight: Weight) -> TTFont:
    if family == "latin":
        file = resources.files("fontpkg_fira_sans") / "files" / _FIRA[weight]
        return _register(f"studio-latin-{weight}", file.read_bytes())
    package, name = {
        "hebrew": ("fontpkg_heebo", _HEEBO),
        "arabic": ("fontpkg_noto_sans_arabic", _ARABIC),
    }[family]
    data = (resources.files(package) / "files" / name).read_bytes()
    own_name = f"studio-{family}-{weight}"
    return _register(own_name, _static(data, name=own_name, weight=weight))


@cache
def _script_font(family: str, weight: Weight) -> TTFont:
    script = _SCRIPTS.get(family) or _SIGNS[family]
    name = script.file.format(weight="SemiBold" if weight == "bold" else "Regular")
    folder = resources.files(script.package)
    data = (folder / name if script.package == _NOTO else folder / "files" / name).read_bytes()
    own_name = f"studio-{family}-{weight}"
    still = data if "{weight}" in script.file else _static(data, name=own_name, weight=weight)
    return _register(own_name, still)


def is_shaped(font: str) -> bool:
    """Whether a run in this font is drawn as HarfBuzz shapes it, not letter by letter."""
    if font.startswith(installed_fonts.PREFIX):
        return True
    script = _SCRIPTS.get(font.removeprefix("studio-").rpartition("-")[0])
    return script is not None and script.shaped


def _script_of(code: int) -> str | None:
    for family, script in _SCRIPTS.items():
        if any(first <= code <= last for first, last in script.ranges):
            return family
    return None


class _CjkShelf:
    """Characters of the CJK font redrawn so far, and the small font that holds each."""

    def __init__(self) -> None:
        self.font_of: dict[int, str] = {}
        self._absent: set[int] = set()

    def learn(self, codes: Iterable[int]) -> None:
        """Redraw the characters not met before, all in one new small font."""
        new = sorted(set(codes) - self.font_of.keys() - self._absent)
        if not new:
            return
        cmap, glyphs, advances = _cjk_outlines()
        found = [code for code in new if code in cmap]
        self._absent.update(code for code in new if code not in cmap)
        if not found:
            return
        name = f"studio-cjk-{len(set(self.font_of.values())) + 1}"
        # Each small font has its own space, so that a run is not split at every word.
        glyph_of = {code: cmap[code] for code in [0x20, *found]}
        _register(name, _quadratic(name, glyph_of, glyphs, advances))
        self.font_of.update(dict.fromkeys(found, name))


@cache
def _cjk_outlines() -> tuple[dict[int, str], object, object]:
    from fontTools.ttLib import TTFont as Outlines
    from noto_cjk_sans_jp_regular import FONT_PATH

    source = Outlines(io.BytesIO(FONT_PATH.read_bytes()), lazy=True)
    return source.getBestCmap(), source.getGlyphSet(), source["hmtx"].metrics


def _quadratic(name: str, glyph_of: dict[int, str], glyphs: object, advances: object) -> bytes:
    """A TrueType font of just these glyphs, cubic curves turned to quadratic ones."""
    from fontTools.fontBuilder import FontBuilder
    from fontTools.pens.cu2quPen import Cu2QuPen
    from fontTools.pens.ttGlyphPen import TTGlyphPen

    order = [".notdef", *dict.fromkeys(glyph_of.values())]
    builder = FontBuilder(_UNITS, isTTF=True)
    builder.setupGlyphOrder(order)
    builder.setupCharacterMap(glyph_of)
    drawn = {}
    for glyph in order:
        pen = TTGlyphPen(None)
        glyphs[glyph].draw(Cu2QuPen(pen, _MAX_ERROR_UNITS, reverse_direction=True))  # type: ignore[index]
        drawn[glyph] = pen.glyph()
    builder.setupGlyf(drawn)
    builder.setupHorizontalMetrics({g: advances[g] for g in order})  # type: ignore[index]
    builder.setupHorizontalHeader(ascent=1160, descent=-288)
    builder.setupNameTable({"familyName": name, "styleName": "Regular", "psName": name})
    builder.setupOS2(sTypoAscender=880, sTypoDescender=-120, usWinAscent=1160, usWinDescent=288)
    builder.setupPost()
    out = io.BytesIO()
    builder.save(out)
    return out.getvalue()


_cjk = _CjkShelf()


def font_name(character: str, *, weight: Weight = "regular") -> str | None:
    """The registered font that has a glyph for one character, or None when none has.

    Ours are asked first; then those that are installed on this computer.
    """
    own = _own_name(ord(character), weight)
    if own is not None or not _may_be_installed(character):
        return own
    with _lock:
        font = installed_fonts.font_with(ord(character))
    return None if font is None else str(font.fontName)


def _may_be_installed(character: str) -> bool:
    """Whether the fonts of this computer are asked: for letters of a script from left to right."""
    left_to_right = unicodedata.bidirectional(character) not in ("R", "AL")
    return left_to_right and unicodedata.category(character)[0] in "LMNS"


def _own_name(code: int, weight: Weight) -> str | None:
    latin = _font("latin", weight)
    if code in latin.face.charToGlyph:
        return str(latin.fontName)
    # Armenian begins at 0x530 and Hebrew at 0x590; below them only Fira Sans is of use.
    if code < 0x530:
        return None
    with _lock:
        family = _script_of(code)
        if family is not None:
            return _name_if_drawn(_script_font(family, weight), code)
        if code < 0x0600 or 0xFB1D <= code <= 0xFB4F:
            return _name_if_drawn(_font("hebrew", weight), code)
        if code <= 0x08FF or 0xFB50 <= code <= 0xFDFF or 0xFE70 <= code <= 0xFEFF:
            return _name_if_drawn(_font("arabic", weight), code)
        _cjk.learn([code])
        found = _cjk.font_of.get(code)
        signs = (_name_if_drawn(_script_font(sign, weight), code) for sign in _SIGNS)
        return found or next(filter(None, signs), None)


def _name_if_drawn(font: TTFont, code: int) -> str | None:
    return str(font.fontName) if code in font.face.charToGlyph else None


def learn(text: str) -> None:
    """Redraw all CJK characters of a whole document at once, so that it carries few fonts."""
    latin = _font("latin", "regular").face.charToGlyph
    codes = {ord(ch) for ch in text if ord(ch) >= 0x1100} - latin.keys()
    with _lock:
        _cjk.learn(codes | {ord(LAST_RESORT)})
