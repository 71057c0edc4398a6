"""Which of the many ways to fill a kiln is the best that can be found?

The most promising ways to build the levels are filled quickly by setting piece after piece down;
the best two are then worked on: pieces left over are squeezed in where the rest can settle round
them, moved to other levels, or take the place of pieces worth less. The first load that holds
everything ends the search.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from studio.craft.kiln_levels import Furnisher
from studio.craft.kiln_load import CONE_PACK, TEST_TILE, BadKiln, Level
from studio.craft.load_state import Load, Standing, Task, Tray
from studio.craft.shelf import level_region
from studio.craft.shelf_packing import Budget
from studio.craft.shelf_patterns import Way

_BUILDS_TRIED: Final = 24
_MANNERS: Final = ((False, False), (False, True), (True, False), (True, True))
"""Of filling: the tallest level first, and what is worth most for its room first."""
_LOOKED_INTO: Final = 4
_WORKED_ON: Final = 2
_PLACING: Final = 4
_PLACING_TURNED: Final = 12
"""How many steps placing a piece counts for."""
_RUNNY_COVER: Final = 0.8
"""About the most of a level that one kind of ware covers."""


class _Tried(NamedTuple):
    """A quick load on some levels."""

    value: float
    load: Load
    way: tuple[Level, ...]


class Search:
    """One search for a load."""

    def __init__(self, task: Task, budget: Budget, seed: int) -> None:
        self.task, self.budget, self.seed = task, budget, seed
        self.musts = [k for k, lot in enumerate(task.lots) if lot.ware in (CONE_PACK, TEST_TILE)]
        self._key = {k: task.shapes[k].radius for k in range(len(task.lots))}

    def best(self, levels: tuple[Level, ...] | None) -> Load | None:
        """The best load found: many ways scouted, some looked into, the best two worked on."""
        first = self.budget.part(0.4)
        scouting = first.part(0.6)
        tried: list[_Tried] = []
        refused: BadKiln | None = None
        for way in self._ways(levels):
            if tried and scouting.is_spent:
                break
            try:
                tried += self._quick(way, scouting, _MANNERS[:1])
            except BadKiln as error:
                refused = error
            if tried and not any(tried[-1].load.rest):
                return tried[-1].load
        if not tried:
            if refused:
                raise refused
            return None
        tried.sort(key=lambda entry: -entry.value)
        for way in list(dict.fromkeys(entry.way for entry in tried))[:_LOOKED_INTO]:
            if any(tried[0].load.rest) and not first.is_spent:
                tried += self._quick(way, first, _MANNERS[1:])
                tried.sort(key=lambda entry: -entry.value)
        return self._best_worked_on([entry.load for entry in tried[:_WORKED_ON]])

    def _best_worked_on(self, loads: list[Load]) -> Load:
        """The best of these loads and of what comes of working on them."""
        best = loads[0]
        for k, load in enumerate(loads):
            if not any(best.rest):
                break
            worked = self._worked_on(load.copy(), self.budget.part(1 / (len(loads) - k)))
            best = max(best, worked, key=self.task.value)
        return best

    def _ways(self, levels: tuple[Level, ...] | None) -> Iterator[tuple[Level, ...]]:
        task = self.task
        if levels is not None:
            yield from [levels] if levels else []
            return
        furnisher = Furnisher(task.room, task.rules, task.lots)
        is_ordered = task.is_pinned or any(task.runny) or task.room.probe is not None
        for build in furnisher.ranked()[:_BUILDS_TRIED]:
            yield from furnisher.ways(build, is_ordered=is_ordered)

    def _quick(
        self, way: tuple[Level, ...], budget: Budget, manners: Sequence[tuple[bool, bool]]
    ) -> Iterator[_Tried]:
        """Quick loads on these levels until one holds everything or the budget is spent."""
        task = self.task
        runny = [k for k, is_runny in enumerate(task.runny) if is_runny]
        limits: list[int | None] = [None]
        if runny and not all(task.runny[k] or k in self.musts for k in range(len(task.lots))):
            limits = self._limits(way, runny)
        for limit in limits:
            done_with_runny = False
            for tallest_first, by_worth in manners:
                load = task.empty(way, limit)
                self._fill(load, budget, tallest_first=tallest_first, by_worth=by_worth)
                yield _Tried(task.value(load), load, way)
                if not any(load.rest) or budget.is_spent:
                    return
                done_with_runny |= not any(load.rest[k] for k in runny)
            if done_with_runny:
                return  # a higher limit only takes room from other ware

    def _limits(self, levels: tuple[Level, ...], runny: list[int]) -> list[int | None]:
        """The heights to which runny ware may go, from the lowest that holds about all of it."""
        task, gap = self.task, self.task.rules.gap_mm
        wanted = sum(task.lots[k].count * task.shapes[k].area for k in runny)
        limits: list[int | None] = []
        room = 0.0
        for level in levels:
            if any(task.rules.pieces_high(task.lots[k].ware, level.clear_mm) for k in runny):
                room += level_region(task.room, level, gap).area_and_rim(0.0)[0]
            if room * _RUNNY_COVER >= wanted or level is levels[-1]:
                limits.append(level.base_mm)
        return list(dict.fromkeys(limits))

    def _fill(self, load: Load, budget: Budget, *, tallest_first: bool, by_worth: bool) -> None:
        """Set pieces down, level after level."""
        order = sorted(range(len(load.trays)), key=lambda at: load.trays[at].level.clear_mm)
        if tallest_first:
            order.reverse()
        self._fill_musts(load, budget)
        later = [*order[1:], None]
        for at, after in zip(order, later, strict=True):
            tray = load.trays[at]
            high = {k: self.task.pieces_high(k, load, tray) for k in range(len(self.task.lots))}
            lots = [k for k, n in high.items() if n and load.rest[k]]
            clear_after = load.trays[after].level.clear_mm if after is not None else 0
            only_here = {
                k: tallest_first and self.task.lots[k].ware.height_mm > clear_after for k in lots
            }
            if by_worth:
                lots.sort(key=lambda k: (-high[k] * self._worth(k), self._key[k]))
            else:
                lots.sort(key=lambda k: (not only_here[k], -self._key[k]))
            self._set_down(load, tray, lots, high, budget)

    def _set_down(
        self, load: Load, tray: Tray, lots: list[int], high: dict[int, int], budget: Budget
    ) -> None:
        """The better of two ways to set lots down on a tray."""
        best: tuple[float, list[Standing]] | None = None
        ways: tuple[Way, ...] = ("rim", "hole")
        for way in ways:
            stand = self.task.stand(tray, self.seed)
            fresh: list[Standing] = []
            worth = 0.0
            is_all = True
            for k in lots:
                left = load.rest[k]
                while left and not self.budget.is_late:
                    budget.spend(_PLACING_TURNED if self.task.shapes[k].turns else _PLACING)
                    pose = stand.place(self.task.shapes[k], way)
                    if pose is None:
                        break
                    pieces = min(left, high[k])
                    left -= pieces
                    fresh.append(Standing(k, pose, pieces))
                    worth += pieces * self.task.lots[k].value + 1e-9 * self._key[k] ** 2
                is_all = is_all and not left
            if best is None or worth > best[0]:
                best = (worth, fresh)
            if is_all:
                break
        assert best is not None
        for item in best[1]:
            load.rest[item.lot] -= item.pieces
        tray.items += best[1]

    def _fill_musts(self, load: Load, budget: Budget) -> None:
        """Cones and tiles first, near the middle of the kiln's height, spread over its levels."""
        middle = self.task.room.height_mm / 2
        for k in self.musts:
            trays = sorted(load.trays, key=lambda tray: abs(tray.level.base_mm - middle))
            while load.rest[k]:
                left = load.rest[k]
                for tray in trays:
                    high = self.task.rules.pieces_high(self.task.lots[k].ware, tray.level.clear_mm)
                    if load.rest[k] and high:
                        one = Load(load.trays, [0] * len(load.rest), None)
                        one.rest[k] = 1
                        self._set_down(one, tray, [k], {k: 1}, budget)
                        load.rest[k] -= 1 - one.rest[k]
                if load.rest[k] == left:
                    break

    def _worth(self, lot: int) -> float:
        """The value of a piece for the room it takes."""
        return self.task.lots[lot].value / self.task.shapes[lot].area

    def _worked_on(self, load: Load, budget: Budget) -> Load:
        """The load with left-over pieces squeezed in."""
        trays = sorted(load.trays, key=lambda tray: tray.level.clear_mm)
        crowd = budget.part(0.6)
        for at, tray in enumerate(trays):
            if not any(load.rest):
                return load
            self._crowd(load, tray, crowd.part(1 / (len(trays) - at)))
        self._repair(load, budget)
        for tray in load.trays:
            self._top_up(load, tray, budget)
        return load

    def _top_up(self, load: Load, tray: Tray, budget: Budget) -> None:
        """Set what is left over on stacks that are not full and into holes."""
        if lots := self._queue(load, tray):
            high = {k: self.task.pieces_high(k, load, tray) for k in lots}
            for at, item in enumerate(tray.items):
                if item.lot in high and not item.is_held:
                    more = min(load.rest[item.lot], high[item.lot] - item.pieces)
                    tray.items[at] = replace(item, pieces=item.pieces + more)
                    load.rest[item.lot] -= more
            self._set_down(load, tray, lots, high, budget)

    def _queue(self, load: Load, tray: Tray) -> list[int]:
        lots = [
            k for k, left in enumerate(load.rest) if left and self.task.pieces_high(k, load, tray)
        ]
        return sorted(
            lots, key=lambda k: (-self.task.pieces_high(k, load, tray) * self._worth(k), k)
        )

    def _crowd(self, load: Load, tray: Tray, budget: Budget) -> None:
        """Squeeze left-over pieces into a tray until none goes in."""
        queue = self._queue(load, tray)
        round_ = 0
        while queue and not budget.is_spent:
            round_ += 1
            part = budget.part(1 / (1 + len(queue)))
            items = self.task.with_added(
                load, tray, tray.items, queue[0], budget=part, seed=self.seed + round_
            )
            if items is None:
                queue.pop(0)
                continue
            self._take(load, tray, items)
            self._top_up(load, tray, budget)
            queue = self._queue(load, tray)
        self._top_up(load, tray, budget)

    def _take(self, load: Load, tray: Tray, items: list[Standing]) -> None:
        """Put items on a tray instead of those that were there, and count what is left."""
        for item in tray.items:
            load.rest[item.lot] += 0 if item.is_held else item.pieces
        for item in items:
            load.rest[item.lot] -= 0 if item.is_held else item.pieces
        tray.items = items

    def _repair(self, load: Load, budget: Budget) -> None:
        """One left-over piece more, by moving one of another kind away or leaving it out."""
        share = 0.02
        round_ = 100
        while any(load.rest) and not budget.is_spent:
            is_better = False
            lots = [k for k, left in enumerate(load.rest) if left]
            for k in sorted(lots, key=lambda k: (-self._worth(k), k)):
                trays = [t for t in load.trays if self.task.pieces_high(k, load, t)]
                for tray in sorted(trays, key=self._covered):
                    round_ += 1
                    if self._squeeze(load, tray, k, budget, share, round_):
                        is_better = True
                        break
                    if budget.is_spent:
                        return
                if is_better:
                    break
            if not is_better:
                share *= 2
                if share > 0.5:
                    return

    def _squeeze(
        self, load: Load, tray: Tray, lot: int, budget: Budget, share: float, seed: int
    ) -> bool:
        """Whether a piece of a lot came onto a tray, so that the load is worth more."""
        task = self.task
        items = task.with_added(load, tray, tray.items, lot, budget=budget.part(share), seed=seed)
        if items is not None:
            self._take(load, tray, items)
            return True
        for gone in self._movable(load, tray, lot):
            if budget.is_spent:
                return False
            rest = [item for item in tray.items if item is not gone]
            items = task.with_added(load, tray, rest, lot, budget=budget.part(share / 2), seed=seed)
            if items is None:
                continue
            trial = load.copy()
            mine = trial.trays[load.trays.index(tray)]
            before = task.value(load)
            self._take(trial, mine, items)
            for other in sorted(trial.trays, key=self._covered):
                high = task.pieces_high(gone.lot, trial, other)
                if other is mine or high < gone.pieces:
                    continue
                added = task.with_added(
                    trial, other, other.items, gone.lot, budget=budget.part(share), seed=seed
                )
                if added is not None:
                    self._take(trial, other, added)
                    break
            if task.value(trial) > before + 0.5:
                load.trays, load.rest = trial.trays, trial.rest
                return True
        return False

    def _movable(self, load: Load, tray: Tray, lot: int) -> list[Standing]:
        """One piece of each other kind on a tray that may make room for one of ``lot``."""
        kinds: dict[int, Standing] = {}
        for item in tray.items:
            if not item.is_held and item.lot != lot and item.lot not in self.musts:
                kinds.setdefault(item.lot, item)
        height = {k: self.task.lots[k].ware.height_mm for k in kinds}
        return [kinds[k] for k in sorted(kinds, key=lambda k: (height[k], k))]

    def _covered(self, tray: Tray) -> float:
        return sum(self.task.shapes[item.lot].area for item in tray.items)
