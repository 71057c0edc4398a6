"""Which calendar of firings is cheap and brings enough, found by turning it a little at a time?

Annealing: a firing is dropped, moved, given to another kiln, put in or joined with another, the
days are lived through again, and what is worse is taken now and then, less and less often. The
same seed and number of turns lead to the same plan.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field

from studio.craft.answer import Plan
from studio.craft.backplan_counts import on_slots
from studio.craft.backplan_frame import Frame, Slot
from studio.craft.backplan_places import Places, places_of
from studio.craft.backplan_runs import Runner
from studio.craft.backplan_search import STEPS_A_SECOND, Clock
from studio.craft.backplan_state import Lean, State

HOT, COLD = 0.3, 0.02
"""How much worse is taken at first and at last, in costs of a usual firing."""

SMALL = 240
"""So few things to put into firings leave a question to the solver alone: it proves its answer."""

LEANS, LEANS_SHORT = 0.12, 0.4
"""How often hands are made to lean instead; more often while something is short."""

PACE_EVERY = 200
"""Turns after which it is looked whether the clock will hold all that are left."""

PACE_FROM = 0.1
"""Part of the time that has to be gone before that can be told."""

KEEP_EVERY = 8
"""Days between the mornings that are remembered."""


Rank = tuple[int, int, int, int]
"""Pieces short, pieces in buffers, firings in force that are gone, cost [pence]; less is better."""


@dataclass(kw_only=True, slots=True)
class Turner:
    """The calendar that stands, and what came of it."""

    made: Frame
    runner: Runner
    dice: random.Random
    places: Places
    calendar: list[Slot]
    lean: Lean
    weight: list[float]
    alike: dict[tuple[str, str], list[Slot]]
    schedule: dict[str, list[Slot]]
    kept: list[State] = field(default_factory=list)
    value: float = math.inf
    rank: Rank = (0, 0, 0, 0)
    stand: frozenset[Slot] = frozenset()
    """Firings of a plan in force, and what it is worth that one of them stays [pence]."""
    a_change: int = 0

    def starts(self) -> dict[int, list[Slot]]:
        """The calendar by day, small kilns first."""
        starts: dict[int, list[Slot]] = {}
        for slot in sorted(self.calendar, key=lambda s: (s.start, s.room_tenths, s.kiln_key)):
            starts.setdefault(slot.start, []).append(slot)
        return starts

    def try_from(self, day: int, limit: float = math.inf) -> tuple[float, Rank, list[State]] | None:
        """Live through the calendar as it is, from the last remembered morning before a day.

        None once it is sure that it comes to more than a limit.
        """
        gone = len(self.stand.difference(self.calendar)) if self.stand else 0
        changes = gone * self.a_change
        before = [state for state in self.kept if state.day <= day]
        state = before[-1].copy() if before else self.runner.morning()
        fresh: list[State] = before[:-1]
        end = self.runner.live(
            state=state,
            starts=self.starts(),
            lean=self.lean,
            keep_every=KEEP_EVERY,
            kept=fresh,
            give_up=lambda so_far: self.value_of(so_far) + changes > limit,
        )
        if end is None:
            return None
        rank = (
            sum(end.missing),
            sum(max(0, e - m) for e, m in zip(end.early, end.missing, strict=True)),
            gone,
            end.cost_pence,
        )
        value = self.value_of(end) + changes
        return (value, rank, fresh) if value <= limit else None

    def value_of(self, state: State) -> float:
        """Cost, and what is missing in terms of cost; it only grows from morning to morning."""
        value: float = state.cost_pence
        for weight, early, late in zip(self.weight, state.early, state.missing, strict=True):
            if late:
                value += weight * late
            if early > late:
                value += 0.4 * weight * (early - late)
        return value

    def turn(self) -> tuple[list[Slot], list[Slot]] | None:
        """Which slots go and which come; None when the dice found nothing that may be."""
        dice, kind = self.dice, self.dice.random()
        if kind < 0.08 or not self.calendar:
            return self._put([], self.made.slots, 1)
        gone = dice.choice(self.calendar)
        if kind < 0.28:
            return [gone], []
        if kind < 0.62:
            near = self._near(self.alike[gone.kiln_key, gone.schedule_key], gone.start, 6)
            return self._put([gone], near, 3)
        if kind < 0.82:
            near = self._near(self.schedule[gone.schedule_key], gone.start, 5)
            return self._put([gone], near, 3)
        others = [
            slot
            for slot in self.calendar
            if slot.schedule_key == gone.schedule_key
            and slot is not gone
            and abs(slot.start - gone.start) <= 14
        ]
        if not others:
            return None
        near = self._near(self.schedule[gone.schedule_key], gone.start, 8)
        return self._put([gone, dice.choice(others)], near, 4)

    def lean_over(self) -> tuple[list[int], int, int]:
        """Make dates of a ware or line look nearer or further, or make less or more of it.

        Answers the list that was changed, where, and what stood there.
        """
        dice, runner = self.dice, self.runner
        kind = dice.choice("lwtg" if self.rank[0] else "lw")
        values = {
            "l": self.lean.line, "w": self.lean.ware, "t": self.lean.throw, "g": self.lean.glaze
        }[kind]  # fmt: skip
        i = dice.randrange(len(values))
        old = values[i]
        if kind in "lw":
            values[i] = max(-30, min(30, old + dice.choice((-8, -3, 3, 8))))
        else:
            most = runner.most["throw" if kind == "t" else "glaze"][i]
            part = max(1, most // dice.choice((4, 8, 16)))
            values[i] = max(0, min(most, old + dice.choice((-part, -1, 1, part))))
        return values, i, old

    def _near(self, slots: list[Slot], start: int, days: int) -> list[Slot]:
        low = bisect_left(slots, start - days, key=lambda slot: slot.start)
        high = bisect_left(slots, start + days + 1, key=lambda slot: slot.start)
        return slots[low:high]

    def _put(
        self, gone: list[Slot], choices: list[Slot] | tuple[Slot, ...], tries: int
    ) -> tuple[list[Slot], list[Slot]] | None:
        if not choices:
            return None
        for slot in gone:
            self.places.take(slot, -1)
        come = None
        for _ in range(tries):
            slot = self.dice.choice(choices)
            if slot not in gone and self.places.may(slot):
                come = slot
                break
        for slot in gone:
            self.places.take(slot)
        return (gone, [come]) if come else None

    def apply(self, gone: list[Slot], come: list[Slot]) -> None:
        """Change the calendar."""
        for slot in gone:
            self.calendar.remove(slot)
            self.places.take(slot, -1)
        for slot in come:
            self.calendar.append(slot)
            self.places.take(slot)


def turns_for(*, made: Frame, steps: float) -> int:
    """How many turns so many steps are worth (measured: a turn takes longer the more there is)."""
    if sum(len(held) for held in made.holds.values()) <= SMALL:
        return 0
    keys = len(made.lines) + len(made.wares)
    each_ms = 0.08 + 0.00016 * made.span * keys
    return int(1000 * steps / STEPS_A_SECOND / each_ms)


def _in_time(turns: int, n: int, clock: Clock, gone: float) -> int:
    """As many turns as the clock will hold at this pace; it has cut what is left out.

    So a slow computer cools quicker, instead of ending hot.
    """
    if gone < PACE_FROM or n >= gone * turns:
        return turns
    clock.ran_out = True
    return min(turns, math.ceil(n / gone))


def turner_of(*, runner: Runner, plan: Plan, seed: int) -> Turner:
    """Begin with the calendar of a plan."""
    made = runner.made
    places = places_of(made)
    alike: defaultdict[tuple[str, str], list[Slot]] = defaultdict(list)
    schedule: defaultdict[str, list[Slot]] = defaultdict(list)
    for slot in sorted(made.slots, key=lambda s: (s.start, s.kiln_key, s.schedule_key)):
        alike[slot.kiln_key, slot.schedule_key].append(slot)
        schedule[slot.schedule_key].append(slot)
    costs = sorted(slot.cost_pence for slot in made.slots)
    usual = costs[len(costs) // 2] if costs else 1
    most = max((want.importance for want in made.wants), default=1)
    weight = []
    for key in runner.lines:
        importance = [want.importance for want in made.wants if want.line_key == key]
        weight.append(1.5 * usual * sum(importance) / len(importance) / most)
    calendar = sorted(on_slots(made, plan), key=lambda s: (s.start, s.kiln_key))
    for slot in calendar:
        places.take(slot)
    return Turner(
        made=made,
        runner=runner,
        dice=random.Random(seed),
        places=places,
        calendar=calendar,
        lean=runner.straight(),
        weight=weight,
        alike=dict(alike),
        schedule=dict(schedule),
    )


def anneal(
    *,
    runner: Runner,
    plan: Plan,
    turns: int,
    seed: int,
    clock: Clock,
    until: float,
    better: Callable[[Plan], bool],
    stand: frozenset[Slot] = frozenset(),
    press: float = 1.0,
) -> None:
    """Turn the calendar of a plan so many times; ``better`` is told each calendar that may be.

    Firings of ``stand`` are in force: few of them should go. ``press`` says how many times its
    usual worth a missing piece weighs.
    """
    made = runner.made
    if not made.slots or turns < 1:
        return
    turner = turner_of(runner=runner, plan=plan, seed=seed)
    costs = sorted(slot.cost_pence for slot in made.slots)
    usual = costs[len(costs) // 2]
    turner.stand, turner.a_change = stand, usual
    turner.weight = [press * weight for weight in turner.weight]
    stands = turner.try_from(0)
    assert stands is not None
    turner.value, turner.rank, turner.kept = stands
    best = turner.rank
    better(turner.runner.plan(starts=turner.starts(), lean=turner.lean))
    began, n = clock.spent, -1
    while (n := n + 1) < turns:
        if clock.over(until):
            return
        if n % PACE_EVERY == PACE_EVERY - 1:
            turns = _in_time(turns, n, clock, (clock.spent - began) / max(1e-9, until - began))
        heat = usual * HOT * (COLD / HOT) ** (n / turns)
        undo = None
        gone: list[Slot] = []
        come: list[Slot] = []
        day = 0
        if turner.dice.random() < (LEANS_SHORT if turner.rank[0] else LEANS):
            undo = turner.lean_over()
        else:
            turned = turner.turn()
            if turned is None:
                continue
            gone, come = turned
            day = min(slot.start for slot in (*gone, *come))
            turner.apply(gone, come)
        limit = turner.value - heat * math.log(1 - turner.dice.random())
        stands = turner.try_from(day, limit)
        if stands is not None:
            turner.value, turner.rank, turner.kept = stands
            if turner.rank < best:
                best = turner.rank
                better(turner.runner.plan(starts=turner.starts(), lean=turner.lean))
        elif undo is not None:
            values, i, old = undo
            values[i] = old
        else:
            turner.apply(come, gone)
