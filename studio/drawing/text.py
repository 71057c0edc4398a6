"""How is a line of any script broken, turned the right way and put on paper?

Names and addresses come in every script, and a parcel goes nowhere when one letter is lost.

1. Text is drawn glyph by glyph from plain strings; there is no markup to abuse
   ("<img src=...>" is printed as these letters).
2. Lines are broken in reading order first and turned for right-to-left scripts after
   (turning a whole paragraph first would put its end on the first line).
3. Nothing is cut off: a word wider than the column is broken inside.
4. Scripts whose letters join or change places are shaped as whole runs.
5. A character without a glyph is drawn as an open box and told by ``missing``.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Literal

from arabic_reshaper import ArabicReshaper
from bidi.algorithm import get_display
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import ShapedStr, shapeStr
from reportlab.pdfgen.canvas import Canvas

from studio.drawing.fonts import JOINERS, LAST_RESORT, Weight, font_name, is_shaped, learn

Align = Literal["start", "left", "centre", "right"]

_KEPT_FORMAT = "\u200c\u200d\u200e\u200f"  # joiners and direction marks, needed until shaping
_NO_BREAK_BEFORE = frozenset(
    "、。，．・：；？！゛゜ヽヾゝゞ々ー）〕］｝〉》」』】〙〗ぁぃぅぇぉっゃゅょゎァィゥェォッャュョヮヵヶ"
    ")]}»”’!?,.;:%…"
)
_NO_BREAK_AFTER = frozenset("（〔［｛〈《「『【〘〖([{«“‘")
_BREAK_AFTER = frozenset("-–—/")
_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:g|kg|mm|cm|SDR|pt)\b|%|°)|(?<=\bCN) (?=\d)")
"""Spaces at which no line ends: a figure stays with its unit, a form with its number."""
_VIRAMA = 9
"""The combining class of the sign that joins a letter to the next (Unicode Standard)."""
_THAI_BEFORE = frozenset("เแโใไເແໂໃໄ")
"""Thai and Lao vowels that are written before the letter they follow in speech."""
_DEFAULT_LEADING = 1.28


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One line ready to draw: runs of (font name, text) from left to right as seen."""

    runs: tuple[tuple[str, str], ...]
    width_pt: float
    rtl: bool
    logical: str


def clean(text: str) -> str:
    """The text in composed form without control characters, tabs as spaces, newlines kept."""
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    kept = []
    for ch in text.replace("\t", " ").replace("\u2028", "\n").replace("\u2029", "\n"):
        category = unicodedata.category(ch)
        if category == "Cs" or (category == "Cc" and ch != "\n"):
            continue
        if category == "Cf" and ch not in _KEPT_FORMAT:
            continue
        if "\ufe00" <= ch <= "\ufe0f" or "\U000e0100" <= ch <= "\U000e01ef":
            continue
        kept.append(ch)
    return "".join(kept)


def missing(text: str) -> tuple[str, ...]:
    """The characters that no font here can draw, each once, in order of first use."""
    seen = dict.fromkeys(ch for ch in _visible(clean(text)) if ch not in f"\n{JOINERS}")
    return tuple(ch for ch in seen if font_name(ch) is None)


def prepare(texts: Iterable[str]) -> None:
    """Make ready for a whole document; drawing works without it, with more small fonts."""
    learn("".join(texts))


def runs(text: str, *, weight: Weight = "regular") -> list[tuple[str, str]]:
    """Split text, in the order given, by the font that has each glyph.

    Spaces stay in the run before them. A character without a glyph becomes an open box.
    """
    if text.isascii() and text.isprintable():
        name = _cached_name("a", weight)
        return [(name, text)] if name and text else []
    out: list[tuple[str, str]] = []
    for ch in text:
        if ch in JOINERS:
            if out and is_shaped(out[-1][0]):
                out[-1] = (out[-1][0], out[-1][1] + ch)
            continue
        name = _cached_name(ch, weight)
        if name is None:
            ch = LAST_RESORT
            name = font_name(ch, weight=weight) or pdfmetrics.getFont("Helvetica").fontName
        if out and (out[-1][0] == name or ch == " "):
            out[-1] = (out[-1][0], out[-1][1] + ch)
        else:
            out.append((name, ch))
    return out


def width_pt(text: str, *, size_pt: float, weight: Weight = "regular") -> float:
    """How wide [pt] one line of text stands, shaped as it will be drawn."""
    return _line(clean(text), rtl=_is_rtl(text), size_pt=size_pt, weight=weight).width_pt


def wrap(text: str, *, width_pt: float, size_pt: float, weight: Weight = "regular") -> list[Line]:
    """Break text into lines no wider than width_pt [pt], in any script, losing nothing.

    Newlines in the text start a new line. An empty text gives no line.

    Raises: ValueError when the column is narrower than one letter could be.
    """
    return list(_wrapped(text, width_pt, size_pt, weight))


# A run of slips says the same care note and the same headings a thousand times.
@lru_cache(maxsize=2048)
def _wrapped(text: str, width_pt: float, size_pt: float, weight: Weight) -> tuple[Line, ...]:
    if width_pt < 1.5 * size_pt:
        raise ValueError(f"a column of {width_pt:.0f} pt is too narrow for {size_pt:.0f} pt text")
    lines: list[Line] = []
    text = clean(text)
    for paragraph in text.split("\n") if text else []:
        rtl = _is_rtl(paragraph)
        for logical in _fill(paragraph, width_pt=width_pt, size_pt=size_pt, weight=weight):
            lines.append(_line(logical, rtl=rtl, size_pt=size_pt, weight=weight))
    return tuple(lines)


def draw_lines(
    canvas: Canvas,
    lines: Sequence[Line],
    *,
    x_pt: float,
    y_pt: float,
    width_pt: float,
    size_pt: float,
    leading_pt: float | None = None,
    align: Align = "start",
) -> float:
    """Draw lines down from y_pt (the top of the first line) and return where they end.

    'start' is the left for left-to-right lines and the right for right-to-left ones.
    """
    leading = leading_pt or size_pt * _DEFAULT_LEADING
    for line in lines:
        side = ("right" if line.rtl else "left") if align == "start" else align
        spare = width_pt - line.width_pt
        x = x_pt + {"left": 0.0, "centre": spare / 2, "right": spare}[side]
        baseline = y_pt - leading / 2 - size_pt * 0.34
        _draw_runs(canvas, line, x_pt=x, baseline_pt=baseline, size_pt=size_pt)
        y_pt -= leading
    return y_pt


def draw_words(
    canvas: Canvas,
    words: str,
    *,
    x_pt: float,
    baseline_pt: float,
    size_pt: float,
    anchor: Literal["start", "middle", "end"] = "start",
    weight: Weight = "regular",
) -> None:
    """Draw one short line at a point, as a label in a drawing; its width is the caller's care."""
    words = clean(words).replace("\n", " ")
    line = _line(words, rtl=_is_rtl(words), size_pt=size_pt, weight=weight)
    x = x_pt - {"start": 0.0, "middle": line.width_pt / 2, "end": line.width_pt}[anchor]
    _draw_runs(canvas, line, x_pt=x, baseline_pt=baseline_pt, size_pt=size_pt)


def height_pt(lines: Sequence[Line], *, size_pt: float, leading_pt: float | None = None) -> float:
    """How tall [pt] the lines stand together."""
    return len(lines) * (leading_pt or size_pt * _DEFAULT_LEADING)


def _draw_runs(
    canvas: Canvas, line: Line, *, x_pt: float, baseline_pt: float, size_pt: float
) -> None:
    for name, part in line.runs:
        canvas.setFont(name, size_pt)
        shown = shapeStr(part, name, size_pt) if is_shaped(name) else part
        canvas.drawString(x_pt, baseline_pt, shown)
        x_pt += _run_width_pt(part, name, size_pt)


def _run_width_pt(part: str, name: str, size_pt: float) -> float:
    if is_shaped(name):
        shaped = shapeStr(part, name, size_pt)
        if isinstance(shaped, ShapedStr):
            shapes = getattr(shaped, "__shapeData__")  # noqa: B009
            return float(sum(one.x_advance for one in shapes) * size_pt / 1000)
    return float(pdfmetrics.stringWidth(part, name, size_pt))


@cache
def _shaper() -> ArabicReshaper:
    # Only the ligatures that Arabic writing demands: the ornamental ones may lack a glyph.
    return ArabicReshaper(
        configuration={"support_ligatures": True, "delete_harakat": True, "RIAL SIGN": False}
    )


# One character is asked for many thousand times in a run of slips; the answer never changes.
@cache
def _cached_name(character: str, weight: Weight) -> str | None:
    return font_name(character, weight=weight)


def _is_rtl(text: str) -> bool:
    """Whether the first letter with a direction runs right to left."""
    for ch in text:
        direction = unicodedata.bidirectional(ch)
        if direction in ("R", "AL"):
            return True
        if direction == "L":
            return False
    return False


def _has_rtl(text: str) -> bool:
    return any(unicodedata.bidirectional(ch) in ("R", "AL", "AN") for ch in text)


def _visible(text: str) -> str:
    return "".join(ch for ch in text if ch in JOINERS or unicodedata.category(ch) != "Cf")


def _visual(text: str, *, rtl: bool) -> str:
    """The characters of one line from left to right as they are seen."""
    if not _has_rtl(text):
        return _visible(text)
    # This one of the library's two orderings also turns brackets round; the other leaves "(" as it
    # was, which in a line from right to left is the closing one.
    shown = get_display(_shaper().reshape(text), base_dir="R" if rtl else "L")
    return _visible(str(shown))


def _line(logical: str, *, rtl: bool, size_pt: float, weight: Weight) -> Line:
    parts = tuple(runs(_visual(logical, rtl=rtl), weight=weight))
    width = sum(_run_width_pt(part, name, size_pt) for name, part in parts)
    return Line(runs=parts, width_pt=width, rtl=rtl, logical=logical)


def _fill(paragraph: str, *, width_pt: float, size_pt: float, weight: Weight) -> list[str]:
    """Fill lines greedily with unbreakable pieces; a piece wider than a line is broken."""

    def fits(text: str) -> bool:
        line = _line(text.rstrip(), rtl=False, size_pt=size_pt, weight=weight)
        return line.width_pt <= width_pt

    if fits(paragraph):
        return [paragraph.rstrip()]
    lines: list[str] = []
    current = ""
    for piece in _pieces(paragraph):
        if fits(current + piece):
            current += piece
            continue
        if current.strip():
            lines.append(current.rstrip())
        current = ""
        for letter in _clusters(piece):
            while current and not fits(current + letter):
                # A number like 2026-11-003 parts at its dash rather than inside a figure.
                cut = max(current.rfind(mark) for mark in _BREAK_AFTER) + 1 or len(current)
                lines.append(current[:cut].rstrip())
                current = current[cut:]
            current += letter
    lines.append(current.rstrip())
    return lines


def _pieces(text: str) -> list[str]:
    """Cut where a line may be broken; the pieces joined give the text again."""
    whole = {found.end() for found in _NUMBER_AND_UNIT.finditer(text)}
    cuts = [i for i in range(1, len(text)) if i not in whole and _may_break(text[i - 1], text[i])]
    return [text[a:b] for a, b in zip([0, *cuts], [*cuts, len(text)], strict=True)]


def _may_break(before: str, after: str) -> bool:
    if after == " " or after in _NO_BREAK_BEFORE or unicodedata.category(after)[0] == "M":
        return False
    if before in _NO_BREAK_AFTER:
        return False
    if before == " ":
        return True
    if before in _BREAK_AFTER:
        return after.isalpha()  # "Stoke-on-Trent" may break; "12-14" may not
    return _is_wide(before) or _is_wide(after)


def _is_wide(ch: str) -> bool:
    """Ideographs and kana, between which a line may end; Korean words stay whole."""
    if "\uac00" <= ch <= "\ud7a3" or "\u1100" <= ch <= "\u11ff":
        return False
    return unicodedata.east_asian_width(ch) in ("W", "F")


def _clusters(piece: str) -> list[str]:
    """Letters with the marks that belong to them, joined letters whole."""
    out: list[str] = []
    for ch in piece:
        mark = unicodedata.category(ch)[0] == "M" or unicodedata.category(ch) == "Cf"
        if out and (
            mark or unicodedata.combining(out[-1][-1]) == _VIRAMA or out[-1] in _THAI_BEFORE
        ):
            out[-1] += ch
        else:
            out.append(ch)
    return out
