"""How full is a kiln, counted in mug places, and how many mug places does a kiln have?

A mug place is the room that one stated mug takes: 121 mm over the handle and 114 mm tall, with
6 mm of air round it and over it and its part of a 16 mm shelf. Room is counted in tenths of it.

This is a count of room, not a packing (``kiln_packing`` is): it knows nothing of which shelf a
piece stands on. It is kind to wide and tall ware in small kilns: by room one bowl of 279 x 127 mm
leaves 14 of 20 mug places, where potters count on 10, because the bowl makes a whole level taller.

Laws (a rejected example each):

1. A piece is never counted smaller than it is: parts of a tenth round up.
2. A piece taller than the kiln's clear height does not fit, however much room is left.
3. Room stated by the potter wins over room reckoned from a kiln's shape.

Sources: gaps of 3 to 6 mm between mid-range glaze ware and shelves of 16 mm (5/8 in) on 13 to 25 mm
posts are common practice, no source.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

MUG_ACROSS_MM: Final = 121
"""4 3/4 in over the handle."""
MUG_HEIGHT_MM: Final = 114
"""4 1/2 in, the tall end of an ordinary mug."""
GAP_MM: Final = 6
SHELF_MM: Final = 16
SHELF_MARGIN_MM: Final = 13
"""Between the edge of a shelf and the wall, on each side."""
FLOOR_POST_MM: Final = 13
UNDER_LID_MM: Final = 25
BISQUE_TENTHS_A_GLAZE_PLACE: Final = 16
"""Bisque stands closer and on other bisque: 100 pots where 60 go glazed."""

_Points = npt.NDArray[np.float64]


class BadLoad(ValueError):
    """Sizes or counts that cannot be; the sentence says which."""


def mug_places_tenths(*, width_mm: int, height_mm: int, handle_mm: int = 0) -> int:
    """The room that a form takes, in tenths of a mug place: 10 for the stated mug.

    ``width_mm`` the widest part of the body, ``handle_mm`` how far a handle stands out, both
    and ``height_mm`` fired [mm]; 1 to 2000, the handle from 0. At least 1 tenth.

    Room = (across + 6)² x (height + 6 + 16), as a share of the same for the mug: each piece stands
    in a cell of its overall width with its gap, and carries its own part of the height.

    Raises ``BadLoad``. Source: own definition, see the module.
    """
    for what, mm, least in (
        ("width", width_mm, 1),
        ("height", height_mm, 1),
        ("handle", handle_mm, 0),
    ):
        if not least <= mm <= 2000:
            raise BadLoad(f"A {what} is {least} to 2000 mm, not {mm}.")
    room = _room(width_mm + handle_mm, height_mm)
    mug = _room(MUG_ACROSS_MM, MUG_HEIGHT_MM)
    return -(-10 * room // mug)


def fill_percent(*, used_tenths: int, room_tenths: int) -> int:
    """How full a load is, in whole per cent, rounded down; over 100 when it is over full.

    Raises ``BadLoad`` for no room or a negative count.
    """
    _check_room(used_tenths, room_tenths)
    return 100 * used_tenths // room_tenths


def room_left(*, used_tenths: int, room_tenths: int) -> int:
    """The room left in a load, in tenths of a mug place; 0 when it is full or over full.

    Raises ``BadLoad`` for no room or a negative count.
    """
    _check_room(used_tenths, room_tenths)
    return max(room_tenths - used_tenths, 0)


def how_many_fit(
    *,
    piece_tenths: int,
    used_tenths: int,
    room_tenths: int,
    height_mm: int,
    clear_height_mm: int,
) -> int:
    """How many more pieces of a form the room left holds; 0 when it is too tall for the kiln.

    ``piece_tenths`` 1 or more; heights [mm], ``clear_height_mm`` of the kiln with one shelf in.

    Raises ``BadLoad``.
    """
    if piece_tenths < 1:
        raise BadLoad(f"A piece takes a tenth of a mug place or more, not {piece_tenths}.")
    left = room_left(used_tenths=used_tenths, room_tenths=room_tenths)
    return left // piece_tenths if height_mm <= clear_height_mm else 0


def fits(
    *,
    piece_tenths: int,
    count: int,
    used_tenths: int,
    room_tenths: int,
    height_mm: int,
    clear_height_mm: int,
) -> bool:
    """Whether ``count`` more pieces of a form go into a load, by room and by height.

    Raises ``BadLoad`` as ``how_many_fit`` does.
    """
    return count <= how_many_fit(
        piece_tenths=piece_tenths,
        used_tenths=used_tenths,
        room_tenths=room_tenths,
        height_mm=height_mm,
        clear_height_mm=clear_height_mm,
    )


def clear_height_mm(*, inside_height_mm: int) -> int:
    """The tallest piece that a kiln takes on its lowest shelf [mm]; 0 when it takes none.

    The inside height less a shelf on floor posts and the room under the lid.
    Source: common practice, no source.
    """
    return max(inside_height_mm - FLOOR_POST_MM - SHELF_MM - UNDER_LID_MM, 0)


def going_in_mm(*, fired_mm: int, shrinkage_permille: int) -> int:
    """How tall or wide a pot stands as it goes into a kiln, bisque or glaze [mm], rounded up.

    ``fired_mm`` its size when it is finished, 1 or more [mm]; ``shrinkage_permille`` of its clay,
    wet to fired, 0 to 299. A pot goes into both kilns at its dry size: about half of the shrinkage
    lies between wet and dry, none in the bisque, the rest in the glaze firing.

    Raises ``BadLoad``. Source: potters' measurements, no standard.
    """
    if fired_mm < 1 or not 0 <= shrinkage_permille < 300:
        raise BadLoad(
            f"A pot of {fired_mm} mm on a clay that shrinks {shrinkage_permille} per thousand"
            " cannot be."
        )
    # With s the whole shrinkage: wet is fired / (1 - s), dry is wet x (1 - s / 2).
    return -(-fired_mm * (2000 - shrinkage_permille) // (2 * (1000 - shrinkage_permille)))


def levels_of_mugs(*, inside_height_mm: int) -> int:
    """How many levels of the stated mug stand one over another. Source: as ``glaze_places``."""
    over_one = inside_height_mm - FLOOR_POST_MM - UNDER_LID_MM + GAP_MM
    return max(over_one // (SHELF_MM + MUG_HEIGHT_MM + GAP_MM), 0)


def glaze_places(
    *,
    sides: int,
    inside_width_mm: int,
    inside_height_mm: int,
    inside_depth_mm: int | None = None,
) -> int:
    """A first guess of how many of the stated mug a kiln holds in a glaze load.

    ``sides`` of the inside seen from above: 0 is round, 4 a box, 5 to 16 a regular shape;
    ``inside_width_mm`` across the flats, ``inside_depth_mm`` front to back of a box only (a square
    one when left out), ``inside_height_mm`` [mm], each 100 to 3000. Levels x the most mugs that a
    triangular pattern puts on one shelf by turning and shifting it. Posts are not counted; a
    pattern that wastes about as much as they do stands in for them.

    It gives 21, 56 and 60 where common practice counts about 20, 50 to 60 and about 60. It leans
    on the height: mugs of 108 mm instead of 114 make five levels of four in a 27 in kiln, and 70.

    Raises ``BadLoad``. Source: own reckoning, set beside common practice, no source.
    """
    if sides != 0 and not 4 <= sides <= 16:
        raise BadLoad(f"A kiln is round (0) or has 4 to 16 sides, not {sides}.")
    depth_mm = inside_width_mm if inside_depth_mm is None or sides != 4 else inside_depth_mm
    for what, mm in (
        ("width", inside_width_mm),
        ("depth", depth_mm),
        ("height", inside_height_mm),
    ):
        if not 100 <= mm <= 3000:
            raise BadLoad(f"A kiln's inside {what} is 100 to 3000 mm, not {mm}.")
    on_a_shelf = _mugs_on_a_shelf(
        sides, inside_width_mm - 2 * SHELF_MARGIN_MM, depth_mm - 2 * SHELF_MARGIN_MM
    )
    return on_a_shelf * levels_of_mugs(inside_height_mm=inside_height_mm)


def bisque_places(*, glaze_places: int) -> int:
    """A first guess of a kiln's mug places in a bisque load, from those in a glaze load.

    Source: common practice, no source: about 100 pots bisqued where about 60 mugs go glazed.
    """
    return glaze_places * BISQUE_TENTHS_A_GLAZE_PLACE // 10


def _room(across_mm: int, height_mm: int) -> int:
    return (across_mm + GAP_MM) ** 2 * (height_mm + GAP_MM + SHELF_MM)


def _check_room(used_tenths: int, room_tenths: int) -> None:
    if room_tenths < 1:
        raise BadLoad(f"A kiln has room for more than nothing, not {room_tenths}.")
    if used_tenths < 0:
        raise BadLoad(f"Room used is 0 or more, not {used_tenths}.")


@lru_cache(maxsize=64)
def _mugs_on_a_shelf(sides: int, width_mm: int, depth_mm: int) -> int:
    """The most centres of a triangular pattern that keep half a mug from the shelf's edge."""
    step = float(MUG_ACROSS_MM + GAP_MM)
    half_width, half_depth = ((mm - MUG_ACROSS_MM) / 2 for mm in (width_mm, depth_mm))
    if min(half_width, half_depth) < 0:
        return 0
    reach = int(math.hypot(width_mm, depth_mm) / step) + 2
    along, up = (axis.ravel() for axis in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    row = math.sqrt(3) / 2
    # Odd rows stand half a step on; np.floor keeps the patch square instead of slanting away.
    pattern = np.stack([along + up / 2 - np.floor(up / 2), up * row], axis=1) * step
    shifts = np.array([(u + v / 2, v * row) for u in _PARTS for v in _PARTS]) * step
    best = 0
    for angle in np.linspace(0, math.pi / 3, 24, endpoint=False):
        turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
        points = (pattern[None, :, :] + shifts[:, None, :]) @ turn.T
        best = max(best, int(_inside(points, sides, half_width, half_depth).sum(axis=1).max()))
    return best


_PARTS: Final = [i / 12 for i in range(12)]


def _inside(
    points: _Points, sides: int, half_width: float, half_depth: float
) -> npt.NDArray[np.bool_]:
    """Which points lie in a round, box or regular region, its edge included."""
    hair = 1e-6
    if sides == 0:
        return np.hypot(points[..., 0], points[..., 1]) <= half_width + hair
    if sides == 4:
        wide = np.abs(points[..., 0]) <= half_width + hair
        return wide & (np.abs(points[..., 1]) <= half_depth + hair)
    angles = 2 * math.pi * np.arange(sides) / sides
    flats = np.stack([np.cos(angles), np.sin(angles)])
    inside: npt.NDArray[np.bool_] = ((points @ flats) <= half_width + hair).all(axis=-1)
    return inside
