"""How is a better plan found, and when is it known that there is none?

Two solvers with different habits look at the whole question side by side; after that, small
parts of the kiln calendar (some days, one kiln, one schedule, a few loads) are freed and solved
anew while the rest of the calendar stands. Hands and contents are always free.

Every solve has a limit in the solver's own steps, not in seconds, and results are taken in a
fixed order, so the same seed gives the same plan on any computer that is quick enough; the
clock only stops a search that is too slow.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from studio.craft.answer import Plan
from studio.craft.backplan_counts import Counts, Part, counts_of, on_slots
from studio.craft.backplan_cuts import add_cuts
from studio.craft.backplan_frame import Frame, Slot
from studio.craft.backplan_model import Model, build
from studio.craft.backplan_said import hint, read

HEAVY = 12_000
"""Of so many things to put into firings only parts are said to the solver."""

MOST_KEYS = 16
"""In a part of a heavy question, the wares and lines that may change."""

A_STEP = 0.01
"""One step in the solver's own unit of work (it calls that deterministic time)."""

STEPS_A_SECOND = 45
"""Steps granted for each second of two threads (measured, with room to spare)."""

LEAST_STEPS = 5.0
"""What a solve costs at least, however soon it ends (it has to be set up)."""

LEAST_WHOLE_STEPS = 15.0
"""A look at the whole question is worth nothing in fewer steps."""

WHOLE_SHARES = (0.03,)
"""Shares of the steps for looks at the whole question before parts are freed."""

DAYS_BEFORE, DAYS_AFTER = 24, 16
"""Around a freed part: the days whose work and contents may change with it."""

PART_STEPS = 15.0
"""The most steps for one part of the calendar."""

HABITS = (0, 2)
"""How much each of the two solvers leans on linear relaxations (its linearization level)."""


Stop = Callable[[], bool]
"""Says whether somebody wants the search to end."""


@dataclass(kw_only=True, slots=True)
class Clock:
    """The outer limit of a search: seconds of the wall clock, and somebody's wish to stop.

    It remembers whether either ever cut anything short: only then is a plan not repeatable.
    """

    seconds: float
    stop: Stop | None = None
    started: float = field(default_factory=time.monotonic)
    stopped: bool = False
    ran_out: bool = False

    def over(self, until: float) -> bool:
        """Is it time to end what may go on until so many seconds are gone?"""
        if self.stop is not None and not self.stopped:
            self.stopped = self.stop()
        self.ran_out = self.ran_out or self.spent >= until
        return self.stopped or self.spent >= until

    @property
    def left(self) -> float:
        """Seconds left."""
        return self.seconds - self.spent

    @property
    def spent(self) -> float:
        """Seconds gone."""
        return time.monotonic() - self.started


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """The outcome of one solve: a plan or none, its value, a proven floor, and whether they meet.

    ``steps`` were spent; ``cut`` says that the wall clock ended it.
    """

    plan: Plan | None
    value: int
    bound: int
    proven: bool
    steps: float
    cut: bool = False


def solve(*, model: Model, steps: float, seconds: float, seed: int, habit: int) -> Found:
    """One solve with one thread from the hint in the model; little is spent on presolving it."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_presolve_iterations = 1
    solver.parameters.linearization_level = habit
    solver.parameters.max_deterministic_time = max(0.1, steps) * A_STEP
    solver.parameters.max_time_in_seconds = max(0.05, seconds)
    status = solver.solve(model.cp)
    spent = float(solver.response_proto.deterministic_time) / A_STEP
    cut = solver.wall_time >= max(0.05, seconds) and status != cp_model.OPTIMAL
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        barren = status == cp_model.INFEASIBLE
        return Found(plan=None, value=0, bound=0, proven=barren, steps=spent, cut=cut)
    return Found(
        plan=read(model=model, value=solver.value),
        value=round(solver.objective_value),
        bound=round(solver.best_objective_bound),
        proven=status == cp_model.OPTIMAL,
        steps=spent,
        cut=cut,
    )


Shape = Callable[[Model], None]
"""Adds what a stage asks for to a fresh model: its limits and its objective."""


@dataclass(kw_only=True, slots=True)
class Search:
    """One objective, followed from a plan downwards.

    ``shape`` makes a fresh model ask for the objective; ``value_of`` tells a plan's value.
    """

    made: Frame
    shape: Shape
    value_of: Callable[[Plan], int]
    plan: Plan
    clock: Clock
    seed: int
    bound: int = 0
    proven: bool = False
    on_better: Callable[[Plan], None] | None = None
    base: Counts | None = None
    patience: int = 10**6
    """Rounds of parts without anything better after which the search is given up."""

    @property
    def is_heavy(self) -> bool:
        """Is the question too big to be said to the solver as a whole?"""
        return sum(len(held) for held in self.made.holds.values()) > HEAVY

    @property
    def value(self) -> int:
        """The value of the best plan so far."""
        return self.value_of(self.plan)

    def take(self, found: Found) -> bool:
        """Keep a found plan if it is better than what there was."""
        if found.plan is None or self.value_of(found.plan) >= self.value:
            return False
        self.plan = found.plan
        if self.on_better:
            self.on_better(found.plan)
        return True

    def settle(self) -> None:
        """Note when the bound is reached."""
        self.proven = self.proven or self.value <= self.bound

    def run(self, *, steps: float, until: float) -> float:
        """Spend so many steps a thread, or until so many seconds are gone; the steps spent."""
        steps = max(0.0, steps)
        self.settle()
        with ThreadPoolExecutor(len(HABITS)) as threads:
            spent = 0.0
            for share in WHOLE_SHARES:
                if (
                    not self.is_heavy
                    and not self.proven
                    and spent <= steps
                    and not self.clock.over(until)
                ):
                    least = max(LEAST_WHOLE_STEPS, steps * share)
                    spent += self.whole(threads, steps=least, until=until)
            parts = Parts(made=self.made, dice=random.Random(self.seed))
            barren = 0
            while spent < steps and not self.proven and not self.clock.over(until):
                before = self.value
                spent += self.part(threads, parts, steps=steps, until=until)
                barren = 0 if self.value < before else barren + 1
                if barren >= self.patience:
                    break
        return spent

    def whole(self, threads: ThreadPoolExecutor, *, steps: float, until: float) -> float:
        """Both solvers look at the whole question."""
        model = build(made=self.made)
        add_cuts(model=model)
        self.shape(model)
        hint(model=model, plan=self.plan)
        found = self.solve_all(threads, [model] * len(HABITS), steps=steps, until=until)
        for one in found:
            if one.plan is not None:
                self.bound = max(self.bound, one.bound)
            self.take(one)
        self.settle()
        return max(LEAST_STEPS, *(one.steps for one in found))

    def part(
        self, threads: ThreadPoolExecutor, parts: Parts, *, steps: float, until: float
    ) -> float:
        """Free a part of the calendar in each thread; keep what is better."""
        models = [self.around(free) for free in parts.next(self.plan, count=len(HABITS))]
        each = min(PART_STEPS, steps / 8)
        found = self.solve_all(threads, models, steps=each, until=until)
        for one in found:
            parts.learn(better=self.take(one), exhausted=one.proven)
        self.settle()
        return max(LEAST_STEPS, *(one.steps for one in found))

    def around(self, free: set[Slot]) -> Model:
        """A model in which only the free slots may change; the plan's other loads stay.

        What hands do and loads hold may change in the days around them, or everywhere when
        nothing is free.
        """
        made = self.made
        starts = [slot.start for slot in free] or [DAYS_BEFORE, made.span]
        if self.base is None or self.base.plan is not self.plan:
            self.base = counts_of(made=made, plan=self.plan)
        part = Part(
            free=frozenset(free),
            days=range(min(starts) - DAYS_BEFORE, max(starts) + DAYS_AFTER),
            keys=self._open_keys(free, self.base),
        )
        model = build(made=made, base=self.base, part=part)
        self.shape(model)
        hint(model=model, plan=self.plan)
        return model

    def _open_keys(self, free: set[Slot], base: Counts) -> frozenset[str]:
        """What may change: all; of a heavy question what stands in the part, and a few more."""
        made = self.made
        if not self.is_heavy or not free:
            return frozenset((*made.wares, *made.lines))
        inside = {key for slot in free for key in base.inside(slot)}
        may = {key for slot in free for key in made.holds[slot]} - inside
        inside |= set(sorted(may)[: max(0, MOST_KEYS - len(inside))])
        lines = {key for key in inside if key in made.lines}
        return frozenset(inside | {made.lines[key].ware_key for key in lines})

    def solve_all(
        self, threads: ThreadPoolExecutor, models: list[Model], *, steps: float, until: float
    ) -> list[Found]:
        """Solve one model in each thread; results in their order."""
        self.seed += 1
        tasks = [
            threads.submit(
                solve,
                model=model,
                steps=steps,
                seconds=until - self.clock.spent,
                seed=self.seed,
                habit=habit,
            )
            for model, habit in zip(models, HABITS, strict=True)
        ]
        found = [task.result() for task in tasks]
        self.clock.ran_out = self.clock.ran_out or any(one.cut for one in found)
        return found


@dataclass(kw_only=True, slots=True)
class Parts:
    """Which part of the calendar to free next; wider after parts that were exhausted."""

    made: Frame
    dice: random.Random
    width: float = 8.0

    def next(self, plan: Plan, *, count: int) -> Iterator[set[Slot]]:
        """So many parts of the calendar around a plan."""
        for _ in range(count):
            kind = self.dice.choice(
                (self._days, self._days, self._kiln, self._loads, self._loads, self._near)
            )
            yield kind(on_slots(self.made, plan))

    def learn(self, *, better: bool, exhausted: bool) -> None:
        """Widen after a part with nothing more in it, narrow after one that was too much."""
        if exhausted and not better:
            self.width = min(40.0, self.width * 1.1)
        elif not exhausted:
            self.width = max(3.0, self.width * 0.93)

    def _days(self, on: set[Slot]) -> set[Slot]:
        first = self.dice.randrange(self.made.span)
        return {s for s in self.made.slots if first <= s.start < first + self.width}

    def _kiln(self, on: set[Slot]) -> set[Slot]:
        kiln = self.dice.choice(self.made.problem.kilns).key
        width = self.width * 2
        first = self.dice.randrange(self.made.span)
        return {
            s
            for s in self.made.slots
            if s.kiln_key == kiln and first - width / 2 <= s.start < first + width / 2
        }

    def _loads(self, on: set[Slot]) -> set[Slot]:
        used = sorted(on, key=lambda s: (s.start, s.kiln_key, s.schedule_key))
        return self._instead_of(self.dice.sample(used, min(len(used), 3)))

    def _near(self, on: set[Slot]) -> set[Slot]:
        used = sorted(on, key=lambda s: (s.start, s.kiln_key, s.schedule_key))
        first = self.dice.randrange(max(1, len(used)))
        around = used[first : first + 6]
        return self._instead_of(self.dice.sample(around, min(len(around), 3)))

    def _instead_of(self, chosen: list[Slot]) -> set[Slot]:
        near = self.width / 3
        return {
            slot
            for slot in self.made.slots
            if any(
                slot == one
                or (slot.schedule_key == one.schedule_key and abs(slot.start - one.start) <= near)
                for one in chosen
            )
        }
