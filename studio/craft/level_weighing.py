"""About how much of some lots would stand on levels of given heights?

A rough count for many ways to build a kiln at once, so that only the best are tried in earnest:
each piece takes a part of a level, levels are filled to a share of their area, lowest first.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np

from studio.craft.kiln_load import KilnRoom, LoadRules, Lot, Part
from studio.craft.shelf import Floats, Footprint, footprint, shelf_region
from studio.craft.shelf_packing import quick_most
from studio.craft.shelf_patterns import set_down

_HOPES: Final = (0.86, 0.94, 1.02)
"""How much of a level the rough count fills: cautious, fair, hopeful."""
_SMALL: Final = 1 / 30
"""What takes less of a level than this is weighed by its area alone."""
_USUAL_COVER: Final = 0.76
"""The share of a level that mixed ware with its air usually covers (own measurements)."""


def rough_values(
    *,
    room: KilnRoom,
    rules: LoadRules,
    lots: Sequence[Lot],
    builds: Sequence[Sequence[tuple[bool, int]]],
) -> Floats:
    """What about stands on each build's levels is worth, summed over the three hopes, shape (b,).

    ``builds``: of each level whether it is half and what is clear over it [mm].
    """
    if not lots:
        return np.zeros(len(builds))
    most = max(len(levels) for levels in builds)
    clear = np.full((len(builds), most), -1)
    half = np.zeros((len(builds), most), dtype=np.intp)
    for k, levels in enumerate(builds):
        for at, (is_half, mm) in enumerate(sorted(levels, key=lambda level: level[1])):
            clear[k, at], half[k, at] = mm, is_half
    heights, which = np.unique(clear, return_inverse=True)
    which = which.reshape(clear.shape)
    high = [
        np.array([rules.pieces_high(lot.ware, int(mm)) if mm > 0 else 0 for mm in heights])[which]
        for lot in lots
    ]
    shares = [share[half] for share in _shares(room, rules, lots)]
    wide = sorted(
        range(len(lots)), key=lambda k: (-lots[k].ware.height_mm, -lots[k].ware.across_mm)
    )
    dear = sorted(wide, key=lambda k: -lots[k].value / footprint(lots[k].ware, rules).area)
    total = np.zeros(len(builds))
    for hope in _HOPES:
        by_size = _filled(lots, wide, high, shares, hope)
        total += np.maximum(by_size, _filled(lots, dear, high, shares, hope))
    return total


def _filled(
    lots: Sequence[Lot], order: Sequence[int], high: list[Floats], shares: list[Floats], hope: float
) -> Floats:
    """What stands is worth when lots are taken in this order."""
    builds, most = high[0].shape
    left = np.full((builds, most), hope)
    worth = np.zeros(builds)
    for k in order:
        count = np.full(builds, float(lots[k].count))
        for at in range(most):
            share, each = shares[k][:, at], high[k][:, at]
            can = (share > 0) & (each > 0)
            wanted = np.ceil(count / np.maximum(each, 1))
            put = np.minimum(wanted, np.floor(left[:, at] / np.where(can, share, 1.0) + 1e-9))
            put = np.where(can, put, 0.0)
            left[:, at] -= put * share
            placed = np.minimum(count, put * each)
            count -= placed
            worth += placed * lots[k].value
    return worth


def _shares(room: KilnRoom, rules: LoadRules, lots: Sequence[Lot]) -> list[Floats]:
    """Which part of a whole and of a half level one piece of each lot takes; 0: cannot."""
    parts: list[Part] = ["whole", "left"] if room.thicknesses_mm("half") else ["whole", "whole"]
    shapes = [footprint(lot.ware, rules) for lot in lots]
    return [
        np.array([share_of_level(room, part, rules.gap_mm, shape) for part in parts])
        for shape in shapes
    ]


@lru_cache(maxsize=4096)
def _share(
    sides: int, width: int, depth: int, part: Part, seam: int, gap: int, shape: Footprint
) -> float:
    room = KilnRoom(
        sides=sides,
        width_mm=width,
        depth_mm=depth,
        height_mm=1000,  # has no part in it
        shelf_gap_mm=0,
        wall_mm=0,
        post_across_mm=5,
        seam_mm=seam,
    )
    region = shelf_region(room, part, gap)
    area, _ = region.area_and_rim(0.0)
    by_area = shape.area / (_USUAL_COVER * area)
    if by_area < _SMALL or (shape.turns and not shape.core):
        return by_area if set_down(region, [shape], "rim")[0] else 0.0
    alone = len(quick_most(region, shape))
    return min(1 / alone, by_area) if alone else 0.0


def share_of_level(room: KilnRoom, part: Part, gap_mm: int, shape: Footprint) -> float:
    """Which part of an empty level one piece takes; 0 when it cannot stand there."""
    edge = 2 * room.edge_mm
    depth = room.depth_mm - edge if room.sides == 4 else 0
    return _share(room.sides, room.width_mm - edge, depth, part, room.seam_mm, gap_mm, shape)
