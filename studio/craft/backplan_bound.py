"""How much must be short at the very least, whatever the plan?

Three floors, each proven, the highest counts. A sum that always answers: for each date, the
minutes of one skill before it, and what kept pieces take of them. Then the smaller question of
``backplan_short`` with split pieces and firings, sharpened by what whole pieces cost
(``backplan_short_whole``). Then the same with whole firings and whole sums; that search may be
ended at any time, and what it has proven by then holds.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, field

from studio.craft.backplan_frame import Frame
from studio.craft.backplan_short import Smaller, smaller
from studio.craft.backplan_short_plain import plain_floor
from studio.craft.backplan_short_solve import Solved, solved
from studio.craft.backplan_short_whole import Wholes

HAIR = 1e-6
"""What the linear solver may be off by, of a piece or (if that is more) of all."""

ROUNDS = 3
"""Rounds of limits that whole pieces add."""

WHOLE_MOST = 6_000
"""Of so many columns whole firings are not sought: it would prove nothing in the time."""

HOPELESS = 2_000
"""Of so many columns no more is sought where split firings leave nothing short."""

LEAST_S = 0.05
"""Less time is not worth beginning in [s]."""


@dataclass(kw_only=True, slots=True)
class ShortFloor:
    """What is proven, and the smaller question with its best solution."""

    made: Frame
    least: int = 0
    small: Smaller | None = None
    split: list[float] = field(default_factory=list)
    """The values of the smaller question's columns when all may be split."""
    took: float = 0.0
    """How long they took [s]."""
    whole: list[float] = field(default_factory=list)
    """The same with whole firings; may be empty."""
    exact: bool = False
    """Was the search with whole firings finished?"""

    @property
    def is_hopeless(self) -> bool:
        """Is nothing short with split firings, and the question too large to see much more?"""
        return not self.least and (self.small is None or len(self.small.rows.upper) > HOPELESS)

    def note(self, found: Solved) -> None:
        """Round what was proven up to what whole pieces can weigh."""
        assert self.small is not None
        each = math.gcd(*(want.importance for want in self.made.wants))
        least = found.least + self.small.asked
        hair = max(HAIR, 1e-8 * self.small.asked)
        self.least = max(self.least, each * math.ceil(least / each - hair))


def short_floor(*, made: Frame, seconds: float) -> int:
    """A proven least weighted shortfall of any plan, as high as it was found in the time."""
    floor, until = ShortFloor(made=made), time.monotonic() + seconds
    split_floor(floor=floor, seconds=seconds)
    sharper_floor(floor=floor, seconds=until - time.monotonic())
    whole_floor(floor=floor, seconds=until - time.monotonic())
    return floor.least


def split_floor(*, floor: ShortFloor, seconds: float) -> None:
    """The plain sum, and the smaller question with split pieces and firings."""
    until = time.monotonic() + seconds
    if not floor.made.wants:
        return
    floor.least = plain_floor(made=floor.made)
    floor.small = smaller(made=floor.made)
    began = time.monotonic()
    found = solved(rows=floor.small.rows, seconds=until - began)
    if found is not None:
        floor.note(found)
        floor.split, floor.took = found.values, time.monotonic() - began


def sharper_floor(*, floor: ShortFloor, seconds: float) -> None:
    """The same again and again with limits that whole pieces add."""
    small, values, until = floor.small, floor.split, time.monotonic() + seconds
    if small is None or not values:
        return
    wholes = Wholes(small)
    for turn in range(ROUNDS):
        if floor.is_hopeless or until - time.monotonic() < 2 * floor.took:
            return
        if not wholes.round(values):
            return
        before = floor.least
        found = solved(rows=small.rows, seconds=until - time.monotonic())
        if found is None:
            return
        floor.note(found)
        values = found.values
        if turn and floor.least == before:
            return


def whole_floor(*, floor: ShortFloor, seconds: float) -> None:
    """Whole firings and sums beside that, if the question is not too large for it."""
    small = floor.small
    if small is None or not floor.split or floor.is_hopeless or seconds < LEAST_S:
        return
    if len(small.rows.upper) < WHOLE_MOST:
        say_wholes(small)
        reached = [(float(price), column) for column, price in small.rows.price.items()]
        small.rows.say(reached, low=floor.least - small.asked)
        best = solved(rows=small.rows, seconds=seconds, whole=True)
        if best is not None:
            floor.note(best)
            floor.whole, floor.exact = best.values, best.exact


def say_wholes(small: Smaller) -> None:
    """Say that what is kept is whole, and each step's sum over all days."""
    rows = small.rows
    rows.whole.update(small.kept.values())
    for terms in small.ends:
        if terms:
            rows.whole.add(total := rows.column(math.inf))
            rows.say([*terms, (-1.0, total)], low=0.0, high=0.0)
