"""Where do the flags of due dates hang, so that each name can be read?

Pure geometry in user units, y counted downwards.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

LANE_HIGH = 20.0
LETTER_WIDE = 6.1
"""The mean width of a letter 11 units high; a wide guess, so that labels stay in their bars."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Flag:
    """A due date: a pole at the end of its day, and a name beside its foot."""

    x: float
    top: float
    foot: float
    name: str
    text_x: float
    anchor: Literal["start", "end"]
    points: str
    """The corners of the small flag, as an SVG polygon has them."""
    corners: tuple[tuple[float, float], ...]


def placed_flags(
    due: Sequence[tuple[float, str]], *, top: float, foot: float, width: float
) -> tuple[tuple[Flag, ...], int]:
    """Flags for (x, name) from left to right, and in how many lanes they hang.

    Names never lie on each other, and lie clear of each other's poles, which run from top over
    foot to their lane, where that can be: near the right edge, where names run to the left, a
    pole may have to pass behind a name. Poles are drawn first, names on a ground of their own.
    """
    out = []
    placed: list[tuple[float, float, float, int]] = []  # pole x, name's left and right, lane
    measured = []
    for x, name in due:
        words = fitted(name, width=width - 30)
        wide = _letters(words) * LETTER_WIDE + 22
        measured.append((x, words, wide, x + wide <= width))
    # Names that run right: from the last date back, so that an earlier flag hangs lower and its
    # name passes under the later poles. Names that run left come first, the other way round.
    order = [m for m in measured if not m[3]] + [m for m in reversed(measured) if m[3]]
    for x, words, wide, runs_right in order:
        left, right = (x, x + wide) if runs_right else (x - wide, x)
        lanes = max((lane for *_, lane in placed), default=-1) + 1
        free = [n for n in range(lanes) if not _names_meet(placed, left, right, n)] + [lanes]
        lane = min(free, key=lambda n: (_crossings(placed, x, left, right, n), n))
        placed.append((x, left, right, lane))
        anchor: Literal["start", "end"] = "start" if runs_right else "end"
        out.append(_flag(x, words, anchor, top=top, foot=foot + 23 + lane * LANE_HIGH))
    out.sort(key=lambda flag: flag.x)
    return tuple(out), max((lane for *_, lane in placed), default=-1) + 1


def _names_meet(
    placed: Sequence[tuple[float, float, float, int]], left: float, right: float, lane: int
) -> bool:
    return any(n == lane and left < r and a < right for _, a, r, n in placed)


def _crossings(
    placed: Sequence[tuple[float, float, float, int]],
    x: float,
    left: float,
    right: float,
    lane: int,
) -> int:
    """How many names a pole would cross: ours those above our lane, those below it our name."""
    ours = sum(n < lane and a < x < r for _, a, r, n in placed)
    theirs = sum(n > lane and left < other_x < right for other_x, _, _, n in placed)
    return ours + theirs


def _flag(
    x: float, words: str, anchor: Literal["start", "end"], *, top: float, foot: float
) -> Flag:
    side = 1 if anchor == "start" else -1
    corners = ((x, foot - 12), (x + side * 12, foot - 7), (x, foot - 2))
    return Flag(
        x=x,
        top=top,
        foot=foot,
        name=words,
        text_x=x + side * 17,
        anchor=anchor,
        points=" ".join(f"{a:g},{b:g}" for a, b in corners),
        corners=corners,
    )


def fitted(words: str, *, width: float, letter_wide: float = LETTER_WIDE) -> str:
    """The words, or their beginning and an ellipsis, as room allows."""
    room = int(width / letter_wide)
    if _letters(words) <= room:
        return words
    while words and _letters(words) > room - 1:
        words = words[:-1]
    return words.rstrip() + "…" if words else ""


def _letters(words: str) -> int:
    """How many letters wide the words are; an ideograph counts as two."""
    return sum(2 if unicodedata.east_asian_width(ch) in ("W", "F") else 1 for ch in words)
