"""At which heights can a kiln's shelves stand, and which of these ways promise the most?

The posts of a level are the least that the kiln's stock makes, of one post or two stacked, for
ware of some height in this load. Every way to stack such levels is weighed by a rough count of
what would stand on them; the packer tries the best in earnest.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations_with_replacement, islice, permutations
from typing import Final

import numpy as np

from studio.craft.kiln_load import (
    PROBE_TOUCH_MM,
    KilnRoom,
    Level,
    LoadRules,
    Lot,
    Part,
    ShelfKind,
)
from studio.craft.level_weighing import rough_values
from studio.craft.shelf import post_places, shelf_region

_MOST_BUILDS: Final = 5000
_MOST_HEIGHTS: Final = 8
_TALLER_PAST_PROBE: Final = 2
_ORDERS: Final = 6


@dataclass(frozen=True, slots=True)
class Build:
    """The heights of the posts, in stacks from the bottom.

    ``whole``: between whole shelves, so one fewer than those; None when there are none.
    ``left`` and ``right``: over the topmost whole shelf, or between the halves of a kiln of
    halves; None where the kiln is not split.
    """

    whole: tuple[int, ...] | None
    left: tuple[int, ...] | None = None
    right: tuple[int, ...] | None = None

    @property
    def is_split(self) -> bool:
        """Whether it has half shelves."""
        return self.left is not None


@dataclass(frozen=True)
class Furnisher:
    """What can be built in a kiln for some ware."""

    room: KilnRoom
    rules: LoadRules
    lots: tuple[Lot, ...]

    @cached_property
    def stacks(self) -> dict[int, tuple[int, ...]]:
        """Every height that posts make, and the posts stacked for it: as few as can be."""
        sets = self._sets
        singles = {height: (height,) for height, count in sets.items() if count}
        pairs = {
            a + b: (a, b)
            for a, b in combinations_with_replacement(sorted(singles), 2)
            if sets[a] >= 1 + (a == b)
        }
        return {**pairs, **singles}

    @cached_property
    def _sets(self) -> Counter[int]:
        sets: Counter[int] = Counter()
        for stock in self.room.posts:
            sets[stock.height_mm] += stock.sets
        return sets

    @cached_property
    def heights(self) -> list[int]:
        """The post heights worth building for this ware, tallest first."""
        needs = set()
        for lot in self.lots:
            most = lot.ware.stack_most if self.rules.kind == "bisque" else 1
            tile_mm = self.rules.tile_mm if self.rules.on_tile(lot.ware) else 0
            for n in range(1, min(most, lot.count) + 1):
                needs.add(lot.ware.stack_height_mm(n) + tile_mm + self.rules.over_mm)
        made = sorted(self.stacks)
        # A shelf that would meet the thermocouple can lie a little higher on taller posts.
        more = _TALLER_PAST_PROBE if self.room.probe else 0
        fitting = {
            height for need in needs for height in islice((h for h in made if h >= need), 1 + more)
        }
        usable = sorted((h for h in fitting if h < self.room.height_mm), reverse=True)
        if len(usable) > _MOST_HEIGHTS:  # keep the tallest and the lowest and some between
            at = np.linspace(0, len(usable) - 1, _MOST_HEIGHTS).round().astype(int)
            usable = [usable[k] for k in at]
        return usable

    @cached_property
    def least_mm(self) -> int:
        """A level that takes less than the lowest ware is none."""
        return min((lot.ware.height_mm for lot in self.lots if lot.count), default=1)

    def builds(self) -> Iterator[Build]:
        """Every way to stack shelves, whole ones first."""
        room = self.room
        whole, half = room.thicknesses_mm("whole"), room.thicknesses_mm("half")
        height = room.height_mm - room.lid_mm - room.floor_post_mm
        prefixes: list[tuple[int, ...]] = []
        for stack in self._stackings(height, whole):
            prefixes.append(stack)
            if self._in_stock(stack):
                yield Build(stack)
        if len(half) >= 2:
            yield from self._halves(None, height, half)
        if half:
            for stack in prefixes:
                left = height - sum(stack) - sum(whole[: len(stack) + 1])
                yield from self._halves(stack, left, half)

    def _halves(
        self, whole: tuple[int, ...] | None, height: int, half: tuple[int, ...]
    ) -> Iterator[Build]:
        """The splits over a stack of whole shelves with ``height`` left over the topmost."""
        if whole is None:
            columns = list(islice(self._stackings(height, half[:-1]), 24))
        else:
            columns = [(), *islice(self._on_top(height, half), 24)]
        for left, right in combinations_with_replacement(columns, 2):
            shelves = len(left) + len(right) + (2 if whole is None else 0)
            if shelves > len(half) or (whole is not None and not left and not right):
                continue
            # Of two mirror images one is enough.
            if self._in_stock((*(whole or ()), *left, *right)):
                yield Build(whole, left, right)

    def _stackings(self, height: int, shelves: Sequence[int]) -> Iterator[tuple[int, ...]]:
        """Posts between shelves, the first of which lies at the bottom of ``height``."""
        if shelves and height - shelves[0] >= self.least_mm:
            yield ()
            yield from self._on_top(height - shelves[0], shelves[1:])

    def _on_top(self, height: int, shelves: Sequence[int]) -> Iterator[tuple[int, ...]]:
        """Posts and shelves over a shelf with ``height`` over it, tallest first."""

        def more(k: int, left: int, stack: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
            if len(stack) == len(shelves):
                return
            for j in range(k, len(self.heights)):
                rest = left - self.heights[j] - shelves[len(stack)]
                if rest >= self.least_mm:
                    yield (*stack, self.heights[j])
                    yield from more(j, rest, (*stack, self.heights[j]))

        yield from more(0, height, ())

    def _in_stock(self, stack: tuple[int, ...]) -> bool:
        used = Counter(post for height in stack for post in self.stacks[height])
        return all(self._sets[height] >= count for height, count in used.items())

    def levels(self, build: Build, *, turned: int = 0) -> tuple[Level, ...]:
        """The levels of a build, numbered from the bottom."""
        room = self.room
        whole, half = room.thicknesses_mm("whole"), list(room.thicknesses_mm("half"))
        levels: list[Level] = []
        base = room.floor_post_mm
        if build.whole is not None:
            for k, post in enumerate((*build.whole, 0)):
                base += whole[k]
                is_top = k == len(build.whole)
                if not (is_top and build.is_split):
                    levels.append(self._level("whole", "whole", base, whole[k], post, turned))
                base += post
        parts: tuple[tuple[Part, tuple[int, ...] | None], ...] = (
            ("left", build.left),
            ("right", build.right),
        )
        for part, stack in parts:
            if stack is None:
                continue
            top, at = base, 0
            for k, post in enumerate((*stack, 0)):
                kind: ShelfKind = "whole" if build.whole is not None and k == 0 else "half"
                if kind == "half":
                    at = half.pop(0)
                    top += at
                thick = whole[len(build.whole or ())] if kind == "whole" else at
                levels.append(self._level(part, kind, top, thick, post, turned))
                top += post
        ordered = sorted(levels, key=lambda level: (level.base_mm, level.part))
        return tuple(replace(level, number=k) for k, level in enumerate(ordered, 1))

    def _level(
        self, part: Part, shelf: ShelfKind, base: int, thick: int, post: int, turned: int
    ) -> Level:
        room = self.room
        clear = post - self.rules.over_mm if post else room.height_mm - room.lid_mm - base
        return Level(
            number=1,
            part=part,
            shelf=shelf,
            base_mm=base,
            thickness_mm=thick,
            clear_mm=clear,
            post_mm=self.stacks[post] if post else (),
            posts=post_places(room, part, turned) if post else (),
        )

    def ranked(self) -> list[Build]:
        """The builds that can be searched, the most promising first."""
        builds, rooms = [], []
        for build in islice(self.builds(), _MOST_BUILDS):
            own = self._rooms(build)
            # Halves of unlike thickness can end up over the lid.
            if min(clear for _, clear in own) >= self.least_mm:
                builds.append(build)
                rooms.append(own)
        if not builds:
            return []
        hoped = rough_values(room=self.room, rules=self.rules, lots=self.lots, builds=rooms)
        lost = {clear: self._runny_lost(clear) for clear in {mm for own in rooms for _, mm in own}}
        keys = [
            (-float(hope) + lost[_lowest(build, own)], len(own), -own[-1][1], k)
            for k, (build, own, hope) in enumerate(zip(builds, rooms, hoped, strict=True))
        ]
        return [builds[key[3]] for key in sorted(keys)]

    def _rooms(self, build: Build) -> list[tuple[bool, int]]:
        """Of each level of a build, whether it is half and how much is clear."""
        room, over = self.room, self.rules.over_mm
        whole, half = room.thicknesses_mm("whole"), list(room.thicknesses_mm("half"))
        under_lid = room.height_mm - room.lid_mm - room.floor_post_mm
        rooms = []
        if build.whole is not None:
            rooms += [(False, post - over) for post in build.whole]
            under_lid -= sum(build.whole) + sum(whole[: len(build.whole) + 1])
            if not build.is_split:
                rooms.append((False, under_lid))
        for stack in (build.left, build.right):
            if stack is not None:
                shelves = len(stack) + (build.whole is None)
                rooms += [(True, post - over) for post in stack]
                rooms.append((True, under_lid - sum(stack) - sum(half[:shelves])))
                half = half[shelves:]
        return rooms

    def ways(self, build: Build, *, is_ordered: bool) -> Iterator[tuple[Level, ...]]:
        """The levels of a build, the tallest at the bottom; if the order matters, in others too.

        A way in which the thermocouple meets a shelf or a post is left out.
        """
        orders: Iterable[tuple[int, ...]] = [build.whole or ()]
        if build.whole and is_ordered:
            # Each height once at the bottom, the lowest that takes runny ware first.
            runny = [lot.ware.height_mm for lot in self.lots if self.rules.minds_runny(lot.ware)]
            need = max(runny, default=0) + self.rules.over_mm
            bottoms = sorted(set(build.whole), key=lambda post: (post < need, post))
            if not runny:
                bottoms.reverse()
            rests = [_without(build.whole, bottom) for bottom in bottoms]
            first = [(bottom, *rest) for bottom, rest in zip(bottoms, rests, strict=True)]
            orders = islice(dict.fromkeys([*first, *permutations(build.whole)]), _ORDERS)
        for order in orders:
            for turned in (0, 1):
                ordered = Build(order if build.whole is not None else None, build.left, build.right)
                levels = self.levels(ordered, turned=turned)
                if not probe_is_met(self.room, levels):
                    yield levels
                    if not is_ordered:
                        return

    def _runny_lost(self, clear: int) -> float:
        """What runny ware is worth that is too tall for a lowest level so high."""
        rules = self.rules
        return sum(
            lot.count * lot.value
            for lot in self.lots
            if rules.runny == "low"
            and rules.minds_runny(lot.ware)
            and not rules.pieces_high(lot.ware, clear)
        )


def _lowest(build: Build, rooms: list[tuple[bool, int]]) -> int:
    """The most that can be clear over the lowest shelf of a build."""
    # Whole levels can be put in any order, but for a split one, which is the topmost.
    lowest = rooms[: len(build.whole)] if build.whole and build.is_split else rooms
    return max(clear for _, clear in lowest)


def probe_is_met(room: KilnRoom, levels: tuple[Level, ...]) -> bool:
    """Whether the thermocouple would touch a shelf or a post of these levels."""
    probe = room.probe
    if probe is None:
        return False
    tip = np.array([float(probe.x_mm), float(probe.y_mm)])
    over_shelf = room.edge_mm - room.shelf_gap_mm
    for level in levels:
        low, high = level.base_mm - level.thickness_mm, level.base_mm
        region = shelf_region(room, level.part if level.shelf == "half" else "whole", 0.0)
        lies_over = float(region.grown(over_shelf + PROBE_TOUCH_MM).slack(tip, 0.0)) >= 0
        if lies_over and low - PROBE_TOUCH_MM <= probe.height_mm <= high + PROBE_TOUCH_MM:
            return True
        posts_to = high + sum(level.post_mm)
        near = room.post_across_mm / 2 + PROBE_TOUCH_MM
        for x, y in level.posts:
            if high <= probe.height_mm <= posts_to and math.dist((x, y), tip) < near:
                return True
    return False


def _without(posts: tuple[int, ...], post: int) -> list[int]:
    rest = list(posts)
    rest.remove(post)
    return rest
