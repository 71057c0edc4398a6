"""Has a font that is installed on this computer a letter that ours have not?

Ours come with the program and print the same everywhere; a letter of a script that none of them has
(Tibetan, Mongolian) is looked for in the font folders of Linux, macOS and Windows, in the order of
the files' names, so that the same computer takes the same font each time. A file that is no font,
cannot be drawn from, or must not be put into a document is left out, and the log says why.
"""

from __future__ import annotations

import logging
from functools import cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

logger = logging.getLogger(__name__)

FOLDERS: tuple[Path, ...] = (
    Path.home() / ".fonts",
    Path.home() / ".local/share/fonts",
    Path("/usr/local/share/fonts"),
    Path("/usr/share/fonts"),
    Path.home() / "Library/Fonts",
    Path("/Library/Fonts"),
    Path("/System/Library/Fonts"),
    Path("C:/Windows/Fonts"),
)
PREFIX = "installed-"
MOST_FILES = 3_000
MOST_BYTES = 40 * 1024 * 1024
"""Files beyond these are not looked into: a folder may be a collector's."""

_left_out: dict[Path, str] = {}


def font_with(code: int) -> TTFont | None:
    """A registered font of this computer that has a glyph for a character; None when none has."""
    for path in _files():
        if code in _codes(path):
            font = _registered(path)
            if font is not None:
                return font
    return None


def left_out() -> dict[Path, str]:
    """The files that were looked into and left out, each with the reason."""
    return dict(_left_out)


def forget() -> None:
    """Look at the folders anew: a font was installed, or a test has its own."""
    _left_out.clear()
    for kept in (_files, _codes, _registered):
        kept.cache_clear()


@cache
def _files() -> tuple[Path, ...]:
    found = [path for folder in FOLDERS if folder.is_dir() for path in folder.rglob("*.ttf")]
    return tuple(sorted(found, key=lambda path: (path.name, str(path)))[:MOST_FILES])


@cache
def _codes(path: Path) -> frozenset[int]:
    """The characters that a file says it has; none when it cannot be read."""
    from fontTools.ttLib import TTFont as Outlines

    try:
        if path.stat().st_size > MOST_BYTES:
            return _leave_out(path, "it is larger than 40 MB")
        with path.open("rb") as file, Outlines(file, lazy=True) as outlines:
            if "glyf" not in outlines:
                return _leave_out(path, "it has no outlines that can be drawn")
            if getattr(outlines["OS/2"], "fsType", 0) & 0x000E == 0x0002:
                return _leave_out(path, "its licence bit forbids to put it into a document")
            return frozenset(outlines.getBestCmap() or ())
    except Exception as problem:  # a broken file may fail anywhere in the reader
        return _leave_out(path, f"it cannot be read ({type(problem).__name__})")


@cache
def _registered(path: Path) -> TTFont | None:
    name = f"{PREFIX}{path.stem}"
    try:
        font = TTFont(name, str(path), shapable=True)
    except (TTFError, OSError, ValueError, KeyError) as problem:
        _leave_out(path, f"it cannot be drawn from ({problem})")
        return None
    pdfmetrics.registerFont(font)
    return font


def _leave_out(path: Path, why: str) -> frozenset[int]:
    _left_out[path] = why
    logger.warning("The font %s is left out: %s.", path, why)
    return frozenset()
