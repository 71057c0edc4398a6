"""May a piece stand just there on a load that is built, and where near there may it?

For a person who moves one piece by hand: nothing else moves. The same outlines, air and shelves as
the packer's, so that a place found here is one that its referee lets pass.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from studio.craft.kiln_load import (
    CONE_PACK,
    TEST_TILE,
    KilnRoom,
    Level,
    LoadPlan,
    LoadRules,
    Lot,
    Spot,
    Ware,
)
from studio.craft.load_state import PLACES, piece_at
from studio.craft.shelf import Floats, Footprint, footprint, level_region
from studio.craft.shelf_patterns import Stand

Way = Literal["edge", "post", "thermocouple", "ware"]

_EASE_MM: Final = 0.05
"""Places are rounded; less than this is no matter."""
_TURNS: Final = 8
_TURN_COSTS_MM: Final = 6.0
"""A piece is turned only when that brings it so much nearer."""
_STEPS_OUT: Final = 20
_AT_ONCE: Final = 1_000


@dataclass(frozen=True, kw_only=True, slots=True)
class InTheWay:
    """What a piece would touch; of ware ``spot`` is its number in the plan's spots, from 0."""

    what: Way
    spot: int = -1


def in_the_way(
    *,
    room: KilnRoom,
    plan: LoadPlan,
    lots: Sequence[Lot],
    rules: LoadRules,
    ware: Ware,
    spot: Spot,
) -> tuple[InTheWay, ...]:
    """What a piece at a spot would touch or hang over; () when it stands clear.

    ``plan`` without that piece. Heights are not asked for: see ``stands_on``.
    """
    level = plan.levels[spot.level - 1]
    shape, pose = piece_at(ware, rules, spot)
    shape, poses = _eased(shape), np.array([pose])
    whole = level_region(room, level, rules.gap_mm)
    bare = replace(whole, stones=np.zeros((0, 3)))
    found: list[InTheWay] = []
    if not Stand(bare).takes(shape, poses).all():
        found.append(InTheWay(what="edge"))
    wide = bare.grown(10.0 * room.width_mm)
    for k, stone in enumerate(whole.stones):
        if not Stand(replace(wide, stones=stone[None])).takes(shape, poses).all():
            found.append(InTheWay(what="post" if k < len(level.posts) else "thermocouple"))
    wares = _wares(lots)
    for k, other in enumerate(plan.spots):
        if other.level == spot.level and other.tier == 0:
            stand = Stand(wide)
            stand.put(*piece_at(wares[other.ware_key], rules, other))
            if not stand.takes(shape, poses).all():
                found.append(InTheWay(what="ware", spot=k))
    return tuple(dict.fromkeys(found))


def place_near(
    *,
    room: KilnRoom,
    plan: LoadPlan,
    lots: Sequence[Lot],
    rules: LoadRules,
    ware: Ware,
    level: Level,
    x_mm: float,
    y_mm: float,
    turn_deg: float = 0.0,
    within_mm: float,
) -> Spot | None:
    """The place nearest to a point of a level where a piece stands clear, or None.

    Looked for up to ``within_mm`` off the middle of its body, at its own turn first. That none
    was found proves nothing where the room is only just enough.
    """
    shape = footprint(ware, rules)
    stand = Stand(level_region(room, level, rules.gap_mm))
    wares = _wares(lots)
    for other in plan.spots:
        if other.level == level.number and other.tier == 0:
            stand.put(*piece_at(wares[other.ware_key], rules, other))
    asked = (ware, shape, (x_mm, y_mm), math.radians(turn_deg), within_mm)
    free = _first_free(stand, shape, _about(*asked))
    if free is None:
        # In a narrow hole only a place that touches two neighbours is left.
        free = _first_free(stand, shape, _known(stand, *asked))
    if free is None:
        return None
    x, y, turn = free
    return Spot(
        ware_key=ware.key,
        level=level.number,
        x_mm=round(float(x - shape.shift * math.cos(turn)), PLACES),
        y_mm=round(float(y - shape.shift * math.sin(turn)), PLACES),
        turn_deg=round(math.degrees(turn) % 360, PLACES),
    )


def stands_on(
    *, plan: LoadPlan, lots: Sequence[Lot], rules: LoadRules, ware: Ware, level: Level
) -> Literal["", "too tall", "runs over others", "under what runs"]:
    """Why a piece may not stand on a level wherever there is room; '' when it may.

    ``plan`` without it, and without pieces that keep their place whatever runs.
    """
    if not rules.pieces_high(ware, level.clear_mm):
        return "too tall"
    if rules.runny != "low" or ware.key in (CONE_PACK.key, TEST_TILE.key):
        return ""
    wares = _wares(lots)
    base = {one.number: one.base_mm for one in plan.levels}
    runs = rules.minds_runny(ware)
    for spot in plan.spots:
        if spot.ware_key in (CONE_PACK.key, TEST_TILE.key):
            continue
        if rules.minds_runny(wares[spot.ware_key]) == runs:
            continue
        if runs and base[spot.level] < level.base_mm:
            return "runs over others"
        if not runs and base[spot.level] > level.base_mm:
            return "under what runs"
    return ""


def _wares(lots: Sequence[Lot]) -> dict[str, Ware]:
    return {lot.ware.key: lot.ware for lot in lots} | {
        CONE_PACK.key: CONE_PACK,
        TEST_TILE.key: TEST_TILE,
    }


def _eased(shape: Footprint) -> Footprint:
    """An outline that may touch its neighbours by as much as places are rounded."""
    discs = tuple((x, y, radius - _EASE_MM) for x, y, radius in shape.discs)
    core = shape.core
    if core is not None:
        core = (core[0], core[1], core[2] - _EASE_MM)
    return replace(shape, discs=discs, radius=shape.radius - _EASE_MM, core=core)


def _first_free(stand: Stand, shape: Footprint, tries: Floats) -> tuple[float, float, float] | None:
    """The first pose of the cheapest that stands clear."""
    order = np.argsort(tries[:, 3], kind="stable")
    for start in range(0, len(order), _AT_ONCE):
        poses = tries[order[start : start + _AT_ONCE], :3]
        free = np.nonzero(stand.takes(shape, poses))[0]
        if len(free):
            x, y, turn = poses[free[0]]
            return float(x), float(y), float(turn)
    return None


def _turns(ware: Ware, turn: float) -> list[float]:
    """The turns to try, its own first."""
    more = range(1, _TURNS) if ware.shape != "round" else ()
    return [turn, *(turn + k * math.tau / _TURNS for k in more)]


def _about(
    ware: Ware, shape: Footprint, near: tuple[float, float], turn: float, within: float
) -> Floats:
    """Poses in rings about a point, each with its cost."""
    rings = [np.zeros((1, 2))]
    step = max(within / _STEPS_OUT, 0.5)
    for out in np.arange(step, within + step / 2, step):
        angles = np.arange(0, math.tau, min(step / out, math.tau / 6))
        rings.append(out * np.stack([np.cos(angles), np.sin(angles)], axis=1))
    bodies = np.concatenate(rings) + np.array(near)
    poses = [
        np.column_stack(
            [
                bodies[:, 0] + shape.shift * math.cos(way),
                bodies[:, 1] + shape.shift * math.sin(way),
                np.full(len(bodies), way),
            ]
        )
        for way in _turns(ware, turn)
    ]
    return _costed(np.concatenate(poses), ware, shape, near, turn, within)


def _known(
    stand: Stand,
    ware: Ware,
    shape: Footprint,
    near: tuple[float, float],
    turn: float,
    within: float,
) -> Floats:
    """Poses that touch what stands there, each with its cost."""
    known = stand.known(shape)
    if not shape.turns and shape.shift:
        turned = [np.full(len(known), way) for way in _turns(ware, turn)]
        known = np.concatenate([np.column_stack([known[:, :2], ways]) for ways in turned])
    return _costed(known, ware, shape, near, turn, within)


def _costed(
    poses: Floats,
    ware: Ware,
    shape: Footprint,
    near: tuple[float, float],
    turn: float,
    within: float,
) -> Floats:
    """The poses whose body is near enough, each with how far off it is and whether turned."""
    body_x = poses[:, 0] - shape.shift * np.cos(poses[:, 2])
    body_y = poses[:, 1] - shape.shift * np.sin(poses[:, 2])
    off = np.hypot(body_x - near[0], body_y - near[1])
    is_turned = np.abs(np.sin((poses[:, 2] - turn) / 2)) > 1e-6
    costs = off + _TURN_COSTS_MM * (is_turned & (ware.shape != "round"))
    return np.asarray(np.column_stack([poses, costs])[off <= within])
