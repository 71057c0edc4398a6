"""A load in the making: what stands on each level, what is still to be placed, what may go where.

The values the search of ``kiln_packing`` moves about. Nothing here chooses.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from studio.craft.kiln_load import (
    BadKiln,
    KilnRoom,
    Level,
    LoadPlan,
    LoadRules,
    Lot,
    Pin,
    Spot,
    Ware,
)
from studio.craft.shelf import Floats, Footprint, Region, footprint, level_region
from studio.craft.shelf_overlap import Overlap
from studio.craft.shelf_packing import Budget, fit, with_one_more
from studio.craft.shelf_patterns import Pose, Stand

PLACES: Final = 3
"""Places and turns are told to this many decimals of a millimetre and of a degree."""
_PIN_SLIP_MM2: Final = 0.05**2
"""A pinned place that was rounded may cut into its neighbour by about 0.05 mm."""
_DENSEST: Final = math.pi / math.sqrt(12)
"""No discs cover more of a plane (Thue)."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A piece, or a stack of them, of a lot at a pose; ``is_held``: pinned there.

    ``riders``: the lots of what stands in it, one piece each, from below.
    """

    lot: int
    pose: Pose
    pieces: int = 1
    is_held: bool = False
    riders: tuple[int, ...] = ()


@dataclass(slots=True)
class Tray:
    """A level with what stands on it, the pinned first."""

    level: Level
    region: Region
    items: list[Standing]
    area: float


@dataclass(slots=True)
class Load:
    """Trays, the count of each lot still to be placed, and the height to which runny ware goes.

    ``runny_to_mm``: runny ware stands on bases up to it, other ware from it on; None: no matter.
    """

    trays: list[Tray]
    rest: list[int]
    runny_to_mm: int | None

    def copy(self) -> Load:
        """A load that can be changed without this one."""
        trays = [replace(tray, items=list(tray.items)) for tray in self.trays]
        return Load(trays, list(self.rest), self.runny_to_mm)


class Task:
    """The question: a kiln, lots and rules, and what follows from them."""

    def __init__(self, *, room: KilnRoom, lots: Sequence[Lot], rules: LoadRules) -> None:
        self.room, self.rules, self.lots = room, rules, tuple(lots)
        self.shapes = [footprint(lot.ware, rules) for lot in self.lots]
        self.runny = [rules.runny == "low" and rules.minds_runny(lot.ware) for lot in self.lots]
        self._high: dict[tuple[int, int], int] = {}

    @property
    def is_pinned(self) -> bool:
        """Whether any piece is."""
        return any(lot.pinned for lot in self.lots)

    def pieces_high(self, lot: int, load: Load, tray: Tray) -> int:
        """How many of a lot one place on a tray takes; 0 where it may not stand."""
        limit, base = load.runny_to_mm, tray.level.base_mm
        if limit is not None and (base > limit if self.runny[lot] else base < limit):
            return 0
        key = (lot, tray.level.clear_mm)
        if key not in self._high:
            self._high[key] = self.rules.pieces_high(self.lots[lot].ware, key[1])
        return self._high[key]

    def empty(self, levels: tuple[Level, ...], runny_to_mm: int | None) -> Load:
        """The levels with the pinned pieces alone. Raises ``BadKiln`` where one cannot stand."""
        trays = []
        for level in levels:
            region = level_region(self.room, level, self.rules.gap_mm)
            trays.append(Tray(level, region, [], region.area_and_rim(0.0)[0]))
        load = Load(trays, [lot.count - len(lot.pinned) for lot in self.lots], runny_to_mm)
        for k, lot in enumerate(self.lots):
            for pin in lot.pinned:
                self._put_pin(load, k, pin)
        for tray in trays:
            if tray.items and _overlap(tray, self.shapes) > _PIN_SLIP_MM2:
                raise BadKiln(
                    f"A pinned piece on level {tray.level.number} stands over the shelf's edge,"
                    " in a post or in another pinned piece."
                )
        return load

    def _put_pin(self, load: Load, lot: int, pin: Pin) -> None:
        ware = self.lots[lot].ware
        if pin.level > len(load.trays):
            raise BadKiln(f"{ware.key} is pinned to level {pin.level}, which is not built.")
        tray = load.trays[pin.level - 1]
        if not self.rules.pieces_high(ware, tray.level.clear_mm):
            raise BadKiln(f"{ware.key} is too tall for level {pin.level}, to which it is pinned.")
        turn, shift = math.radians(pin.turn_deg), self.shapes[lot].shift
        pose = (
            pin.x_mm + shift * math.cos(turn),
            pin.y_mm + shift * math.sin(turn),
            turn,
        )
        tray.items.append(Standing(lot, pose, 1, True))

    def stand(self, tray: Tray, seed: int) -> Stand:
        """The tray's shelf with what stands on it, ready for more."""
        stand = Stand(tray.region, seed=seed)
        for item in tray.items:
            stand.put(self.shapes[item.lot], item.pose)
        return stand

    def with_added(
        self, load: Load, tray: Tray, items: list[Standing], lot: int, *, budget: Budget, seed: int
    ) -> list[Standing] | None:
        """Items of a tray and one place more of a lot, all moved as need be."""
        shapes, more = [self.shapes[item.lot] for item in items], self.shapes[lot]
        if _covered([*shapes, more]) > 1.02 * tray.area:
            return None
        poses = poses_of(items)
        held = sum(item.is_held for item in items)
        start = with_one_more(tray.region, shapes, poses, more, seed)
        every = [*shapes, more]
        found = fit(tray.region, every, starts=[start], budget=budget, seed=seed, held=poses[:held])
        if found is None:
            return None
        pieces = min(max(load.rest[lot], 1), self.pieces_high(lot, load, tray))
        both = [*items, Standing(lot, (0.0, 0.0, 0.0), pieces)]
        return [
            item if item.is_held else replace(item, pose=(float(x), float(y), float(turn)))
            for item, (x, y, turn) in zip(both, found, strict=True)
        ]

    def value(self, load: Load) -> float:
        """What stands in a load is worth; a hair more for wide ware, so that it comes first."""
        worth = sum(
            (lot.count - left) * lot.value for lot, left in zip(self.lots, load.rest, strict=True)
        )
        covered = sum(
            self.shapes[item.lot].radius ** 2 for tray in load.trays for item in tray.items
        )
        return worth + covered * 1e-9

    def plan(self, load: Load) -> LoadPlan:
        """The load told as a plan."""
        spots: list[Spot] = []
        for tray in load.trays:
            for item in tray.items:
                spots += self._spots(item, tray.level.number)
        left = tuple(
            (lot.ware.key, count) for lot, count in zip(self.lots, load.rest, strict=True) if count
        )
        levels = tuple(tray.level for tray in load.trays)
        return LoadPlan(levels=levels, spots=tuple(spots), left_out=left)

    def _spots(self, item: Standing, level: int) -> Iterable[Spot]:
        ware, shape = self.lots[item.lot].ware, self.shapes[item.lot]
        x, y, turn = item.pose
        if not shape.turns and not item.is_held:
            turn = 0.0
            x -= shape.shift
        else:
            x, y = x - shape.shift * math.cos(turn), y - shape.shift * math.sin(turn)
        riders = [self.lots[lot].ware.key for lot in item.riders]
        for tier, key in enumerate([*[ware.key] * item.pieces, *riders]):
            yield Spot(
                ware_key=key,
                level=level,
                x_mm=round(x, PLACES),
                y_mm=round(y, PLACES),
                turn_deg=round(math.degrees(turn) % 360, PLACES),
                tier=tier,
            )


def poses_of(items: Sequence[Standing]) -> Floats:
    """The poses (n, 3) of items."""
    return np.array([item.pose for item in items]).reshape(-1, 3)


def piece_at(ware: Ware, rules: LoadRules, spot: Spot) -> tuple[Footprint, Pose]:
    """The footprint of a spot and where it lies."""
    shape, turn = footprint(ware, rules), math.radians(spot.turn_deg)
    x = spot.x_mm + shape.shift * math.cos(turn)
    return shape, (x, spot.y_mm + shape.shift * math.sin(turn), turn)


def _overlap(tray: Tray, shapes: Sequence[Footprint]) -> float:
    overlap = Overlap(tray.region, [shapes[item.lot] for item in tray.items])
    return overlap.push(overlap.state(poses_of(tray.items))).energy


def _covered(shapes: Iterable[Footprint]) -> float:
    """The least area that outlines take among their like."""
    return sum(shape.area / (1.0 if shape.core else _DENSEST) for shape in shapes)
