"""How does a load look from the side: shelves, posts and ware, from the floor to the lid?

Pure geometry in millimetres, as ``load_levels``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from studio.craft.kiln_load import KilnRoom, Level
from studio.drawing.load_levels import MARGIN, TEXT, Standing

_SIDE_LEFT: Final = 110.0
"""Room for the words beside the stack [mm of the kiln]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """A rectangle of the view from the side."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, kw_only=True, slots=True)
class StackPicture:
    """The whole load seen from the side, from the floor to the lid."""

    title: str
    desc: str
    width: float
    height: float
    inside: Box
    shelves: tuple[Box, ...]
    posts: tuple[Box, ...]
    wares: tuple[Box, ...]
    labels: tuple[tuple[str, float], ...]
    """(words, baseline y)"""
    text_size: float = TEXT

    @property
    def text_x(self) -> float:
        """Where the words end."""
        return round(self.inside.x - 8, 1)


def stack_picture(
    *,
    room: KilnRoom,
    levels: Sequence[Level],
    standing: Sequence[tuple[int, Standing]],
    labels: Sequence[tuple[int, str]],
    title: str,
    desc: str,
) -> StackPicture:
    """Draw the load from the side. ``standing`` and ``labels`` name the number of their level."""
    inside = Box(x=_SIDE_LEFT, y=MARGIN, width=room.width_mm, height=room.height_mm)
    floor, middle = MARGIN + room.height_mm, _SIDE_LEFT + room.width_mm / 2
    known = {level.number: level for level in levels}
    wares = []
    for number, one in sorted(standing, key=lambda pair: -pair[1].y_mm):
        level = known.get(number)
        if level is None or one.is_free:
            continue
        foot = level.base_mm + _under(one, [other for on, other in standing if on == number])
        turn = math.radians(one.turn_deg)
        half = one.ware.width_mm / 2
        if one.ware.shape == "oblong":
            half = abs(math.cos(turn)) * one.ware.length_mm / 2 + abs(math.sin(turn)) * half
        top = floor - foot - one.ware.height_mm
        wares.append(_box(middle + one.x_mm - half, top, 2 * half, one.ware.height_mm))
    shelves, posts = [], []
    for level in levels:
        left, right = _across(room, level)
        top = floor - level.base_mm
        shelves.append(_box(middle + left, top, right - left, level.thickness_mm))
        for x, _ in level.posts:
            tall = sum(level.post_mm)
            start = middle + x - room.post_across_mm / 2
            posts.append(_box(start, top - tall, room.post_across_mm, tall))
    bases = {number: floor - known[number].base_mm - 6 for number, _ in labels if number in known}
    return StackPicture(
        title=title,
        desc=desc,
        width=round(_SIDE_LEFT + room.width_mm + MARGIN, 1),
        height=round(room.height_mm + 2 * MARGIN, 1),
        inside=inside,
        shelves=tuple(shelves),
        posts=tuple(posts),
        wares=tuple(wares),
        labels=tuple(
            (words, round(bases[number], 1)) for number, words in labels if number in bases
        ),
    )


def _under(one: Standing, beside: Sequence[Standing]) -> int:
    """How high the foot of a piece is over its shelf: by what it stands on or in."""
    below = [
        other
        for other in beside
        if (other.x_mm, other.y_mm) == (one.x_mm, one.y_mm)
        and other.tier < one.tier
        and not other.is_free
    ]
    below.sort(key=lambda other: other.tier)
    foot = 0
    for under, over in zip(below, [*below, one][1:], strict=True):
        is_alike = under.ware == over.ware
        foot += (under.ware.nest_step_mm if is_alike else 0) or under.ware.height_mm
    return foot


def _across(room: KilnRoom, level: Level) -> tuple[float, float]:
    """From where to where a shelf lies, seen from the front."""
    reach = room.width_mm / 2 - room.shelf_gap_mm
    if level.shelf == "whole" or level.part == "whole":
        return -reach, reach
    return (-reach, -room.seam_mm / 2) if level.part == "left" else (room.seam_mm / 2, reach)


def _box(x: float, y: float, width: float, height: float) -> Box:
    return Box(x=round(x, 1), y=round(y, 1), width=round(width, 1), height=round(height, 1))
