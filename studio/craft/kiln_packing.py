"""Where does every pot stand in a whole load, what still fits, and does it fit at all?

A load found is sound (``load_referee`` says so apart from this code); that none was found proves
nothing. Deterministic by seed while the steps run out before the seconds do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Final

from studio.craft.kiln_load import (
    CONE_PACK,
    TEST_TILE,
    KilnRoom,
    Level,
    LoadPlan,
    LoadRules,
    Lot,
    Part,
    Spot,
    Ware,
    with_cones,
)
from studio.craft.level_weighing import share_of_level
from studio.craft.load_places import stands_on
from studio.craft.load_riders import ridden
from studio.craft.load_search import Search
from studio.craft.load_state import Load, Task, piece_at
from studio.craft.shelf import Footprint, footprint, level_region, shelf_region
from studio.craft.shelf_packing import Budget
from studio.craft.shelf_patterns import Stand, Way

STEPS: Final = 15_000
"""The usual budget; about a second's work on one core."""
FITS_STEPS: Final = 4_000
NEAR_MISS: Final = 0.1
"""Of a load that leaves over more than this part nothing more was found by a longer look."""


def is_near_miss(*, missing: int, of: int) -> bool:
    """Whether a load that a short look left pieces of over is worth a longer one.

    Most loads that fit do at once, so a short look (``FITS_STEPS``) comes first.
    """
    return 0 < missing <= NEAR_MISS * of


def pack(
    *,
    room: KilnRoom,
    lots: Sequence[Lot],
    rules: LoadRules,
    seconds: float = 5.0,
    steps: int = STEPS,
    seed: int = 0,
    levels: tuple[Level, ...] | None = None,
) -> LoadPlan:
    """A load plan for these pieces, or for the most valuable of them where not all fit.

    ``steps`` energies reckoned at most, with ``seconds`` as the outer limit [s]; ``levels``: the
    shelves as they stand already, to be kept. What found no place is in ``left_out``.

    Raises ``BadKiln`` when a kind comes twice or a pinned piece cannot stand at its place.
    """
    task = Task(room=room, lots=with_cones(tuple(lots), rules), rules=rules)
    search = Search(task, Budget(steps=steps, seconds=seconds), seed)
    load = search.best(levels)
    if load is None:
        counts = tuple((lot.ware.key, lot.count) for lot in task.lots if lot.count)
        return LoadPlan(levels=(), spots=(), left_out=counts)
    load = ridden(task, load)
    return task.plan(_without_empty_top(task, load) if levels is None else load)


def fits(*, room: KilnRoom, lots: Sequence[Lot], rules: LoadRules) -> bool:
    """Whether a load for all of these pieces was found, with cones and tiles; kept by shape.

    False is no proof. Names, values, order and pins of the lots do not matter.
    """
    counts: dict[Ware, int] = {}
    for lot in lots:
        ware = replace(lot.ware, key="ware")
        counts[ware] = counts.get(ware, 0) + lot.count
    asked = sorted(((repr(ware), ware, count) for ware, count in counts.items() if count))
    return _fits(room, tuple((ware, count) for _, ware, count in asked), rules)


@lru_cache(maxsize=4096)
def _fits(room: KilnRoom, counts: tuple[tuple[Ware, int], ...], rules: LoadRules) -> bool:
    lots = [
        Lot(ware=replace(ware, key=f"ware {k}"), count=count)
        for k, (ware, count) in enumerate(counts)
    ]
    if any(why_not(room=room, ware=lot.ware, rules=rules) for lot in lots):
        return False
    if _is_too_much(room, lots, rules):
        return False
    short = pack(room=room, lots=lots, rules=rules, steps=FITS_STEPS)
    missing = sum(count for _, count in short.left_out)
    if not is_near_miss(missing=missing, of=sum(lot.count for lot in lots)):
        return not missing
    return not pack(room=room, lots=lots, rules=rules, steps=STEPS).left_out


def _is_too_much(room: KilnRoom, lots: Sequence[Lot], rules: LoadRules) -> bool:
    """Proven not to fit: glazed ware with its air and its part of a shelf outgrows the kiln.

    A piece h tall stands on a level that takes h, the room over it and a shelf of the height.
    """
    if rules.kind == "bisque":
        return False
    area, _ = shelf_region(room, "whole", rules.gap_mm).area_and_rim(0.0)
    thin = min(stock.thickness_mm for stock in room.shelves if stock.count)
    height = room.height_mm - room.lid_mm - room.floor_post_mm + rules.over_mm
    needed = sum(
        lot.count * footprint(lot.ware, rules).area * (lot.ware.height_mm + rules.over_mm + thin)
        for lot in lots
    )
    return needed > area * height


def why_not(*, room: KilnRoom, ware: Ware, rules: LoadRules) -> str | None:
    """Why a kind of piece can never stand in a kiln: 'too tall', 'too wide', or None."""
    if not rules.pieces_high(ware, room.tallest_mm):
        return "too tall"
    shape = footprint(ware, rules)
    part: Part = "whole" if room.thicknesses_mm("whole") else "left"
    return None if share_of_level(room, part, rules.gap_mm, shape) else "too wide"


def still_fits(
    *, room: KilnRoom, plan: LoadPlan, lots: Sequence[Lot], ware: Ware, rules: LoadRules
) -> int:
    """How many more pieces of a kind fit a load as it stands, with nothing moved.

    ``lots`` are those of the plan; ``ware`` may be one of them or a new one.
    """
    wares = {lot.ware.key: lot.ware for lot in lots}
    wares |= {CONE_PACK.key: CONE_PACK, TEST_TILE.key: TEST_TILE}
    shape = footprint(ware, rules)
    total = 0
    for level in plan.levels:
        if stands_on(plan=plan, lots=lots, rules=rules, ware=ware, level=level):
            continue
        high = rules.pieces_high(ware, level.clear_mm)
        spots = plan.on(level.number)
        stand = Stand(level_region(room, level, rules.gap_mm))
        for spot in spots:
            if spot.tier == 0:
                stand.put(*piece_at(wares[spot.ware_key], rules, spot))
        total += high * _most_more(stand, shape)
        if high > 1:
            total += sum(high - count for count in _alone(spots, ware.key))
    return total


def _alone(spots: Sequence[Spot], key: str) -> list[int]:
    """How high each stack of a kind is that carries nothing else."""
    stacks: dict[tuple[float, float], list[str]] = {}
    for spot in spots:
        stacks.setdefault((spot.x_mm, spot.y_mm), []).append(spot.ware_key)
    return [len(stack) for stack in stacks.values() if set(stack) == {key}]


def _most_more(stand: Stand, shape: Footprint) -> int:
    """How many of a shape were set down on a shelf as it stands."""
    if not stand.has_place(shape):
        return 0
    counts = []
    ways: tuple[Way, ...] = ("hole", "rim")
    for way in ways:
        shelf, count = stand.fork(), 0
        while shelf.place(shape, way) is not None:
            count += 1
        counts.append(count)
    return max(counts)


def _without_empty_top(task: Task, load: Load) -> Load:
    """A load of whole shelves without those on top that carry nothing."""
    trays = list(load.trays)
    while len(trays) > 1 and not trays[-1].items:
        below = trays[-2].level
        if trays[-1].level.part != "whole" or below.part != "whole":
            break
        trays.pop()
        clear = task.room.height_mm - task.room.lid_mm - below.base_mm
        open_above = replace(below, clear_mm=clear, post_mm=(), posts=())
        trays[-1] = replace(trays[-1], level=open_above)
    return Load(trays, load.rest, load.runny_to_mm)
