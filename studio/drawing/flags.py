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

    As few lanes as keep the names from each other and from each other's poles, which run from
    top over foot to their lane.
    """
    out = []
    placed: list[tuple[float, float, float, int]] = []  # pole x, name's left and right, lane
    # From the last date back: then an earlier flag hangs lower and its name passes under the rest.
    for x, name in reversed(due):
        words = fitted(name, width=width - 30)
        wide = _letters(words) * LETTER_WIDE + 22
        anchor: Literal["start", "end"] = "start" if x + wide <= width else "end"
        left, right = (x, x + wide) if anchor == "start" else (x - wide, x)
        lanes = max((lane for *_, lane in placed), default=-1) + 1
        lane = next((n for n in range(lanes) if _lane_is_free(placed, x, left, right, n)), lanes)
        placed.append((x, left, right, lane))
        out.append(_flag(x, words, anchor, top=top, foot=foot + 23 + lane * LANE_HIGH))
    return tuple(reversed(out)), max((lane for *_, lane in placed), default=-1) + 1


def _lane_is_free(
    placed: Sequence[tuple[float, float, float, int]],
    x: float,
    left: float,
    right: float,
    lane: int,
) -> bool:
    for other_x, other_left, other_right, other_lane in placed:
        if other_lane == lane and left < other_right and other_left < right:
            return False
        if other_lane < lane and other_left < x < other_right:
            return False  # our pole would cross its name
        if other_lane > lane and left < other_x < right:
            return False  # its pole would cross our name
    return True


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
