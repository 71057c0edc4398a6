"""What is told while a plan is sought, and is it sound?"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from studio.craft.answer import Plan, Progress
from studio.craft.backplan_cuts import cost_floor
from studio.craft.backplan_floor import loads_floor
from studio.craft.backplan_frame import Frame
from studio.craft.backplan_search import Clock
from studio.craft.problem import Problem
from studio.craft.referee import broken_promises

Tell = Callable[[Progress], None]


class UnsoundPlan(RuntimeError):
    """A plan breaks its own promises: a fault of the planner. ``causes`` are the sentences."""

    def __init__(self, *causes: str) -> None:
        self.causes = causes
        super().__init__(" ".join(causes))


def sound(problem: Problem, found: Plan) -> Plan:
    """A plan that the referee has passed. Raises ``UnsoundPlan`` when it breaks a promise."""
    broken = broken_promises(problem=problem, plan=found)
    if broken:
        raise UnsoundPlan(*broken)
    return found


def eaten(*, made: Frame, plan: Plan) -> int:
    """Weighted pieces of a plan that come inside their buffer days."""
    importance = {want.need_key: want.importance for want in made.wants}
    return sum(importance[kept.need_key] * kept.in_buffer for kept in plan.kept)


@dataclass(kw_only=True, slots=True)
class Teller:
    """Tells each better plan, once the referee has passed it, with what is proven by then."""

    made: Frame
    clock: Clock
    progress: Tell | None
    short_bound: int = 0
    floors: dict[int, int] = field(default_factory=dict)
    beside: Future[int] | None = None
    solver: cp_model.CpSolver = field(default_factory=cp_model.CpSolver)

    def floor(self, weighted_short: int) -> int:
        """A proven least cost of every plan that is no more short than this [pence]."""
        pieces = weighted_short // min((want.importance for want in self.made.wants), default=1)
        if pieces not in self.floors:
            self.floors[pieces] = cost_floor(made=self.made, short=pieces)
        return self.floors[pieces]

    def begin(self, threads: ThreadPoolExecutor) -> None:
        """Seek a better floor of plans that keep everything, beside whoever seeks the plans."""
        self.beside = threads.submit(
            loads_floor,
            made=self.made,
            short=0,
            seconds=self.clock.seconds / 2,
            solver=self.solver,
        )

    def end(self) -> None:
        """Wait no longer than somebody wishes for what is sought beside."""
        if self.clock.stopped:
            self.solver.stop_search()

    def best_floor(self, plan: Plan) -> int:
        """A proven least cost of every plan that keeps its promises as well as this [pence]."""
        if self.clock.stopped:
            return self.floor(plan.weighted_short)
        least = min((want.importance for want in self.made.wants), default=1)
        pieces = (plan.weighted_short + eaten(made=self.made, plan=plan)) // least
        if pieces or self.beside is None:
            left = self.clock.left / 4
            better = loads_floor(made=self.made, short=pieces, seconds=left)
        else:
            better = self.beside.result()
        return max(better, self.floor(plan.weighted_short))

    def tell(self, better: Plan) -> None:
        """Tell a plan."""
        if self.progress is None:
            return
        sound(self.made.problem, better)
        # While something is short the floor is too low to be worth the first second.
        floor = 0 if better.weighted_short else self.floor(0)
        self.progress(
            Progress(
                seconds=round(self.clock.spent, 3),
                short=better.short,
                weighted_short=better.weighted_short,
                in_buffer=better.in_buffer,
                cost_pence=better.cost_pence,
                short_bound=self.short_bound,
                cost_bound_pence=min(floor, better.cost_pence),
                plan=better,
            )
        )
