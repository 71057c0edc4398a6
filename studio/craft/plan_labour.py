"""How many minutes does each day give and a plan ask, and how much of hands and kilns is used?

Pure: a question and its answer in, numbers out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from studio.craft.answer import Plan, Work
from studio.craft.problem import HandsDay, Problem


@dataclass(frozen=True, kw_only=True, slots=True)
class LabourDay:
    """One day's minutes of each kind of work: given by the hands, asked by the plan [min]."""

    date: date
    given_min: tuple[int, int, int]
    asked_min: tuple[int, int, int]
    """In the order of ``Work``: throwing, glazing, finishing."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Use:
    """How much of something a plan uses up to its last date: minutes of a work, days of a kiln."""

    name: str
    used: int
    given: int

    @property
    def percent(self) -> int:
        """Whole per cent used; 0 when there is none to use."""
        return round(100 * self.used / self.given) if self.given else 0


def labour_days(*, problem: Problem, plan: Plan) -> tuple[LabourDay, ...]:
    """Every day of the question, in order."""
    asked = _asked(problem, plan)
    return tuple(
        LabourDay(
            date=day.date,
            given_min=_given(day),
            asked_min=tuple_of({work: asked[day.date, work] for work in Work}),
        )
        for day in problem.days
    )


def tuple_of(by_work: Mapping[Work, int]) -> tuple[int, int, int]:
    """Minutes by kind of work as a triple in the order of ``Work``."""
    return by_work[Work.THROWING], by_work[Work.GLAZING], by_work[Work.FINISHING]


def hands_used(*, problem: Problem, plan: Plan) -> tuple[Use, ...]:
    """Minutes of each kind of work up to the last date that is promised."""
    last = max((need.due_date for need in problem.needs), default=problem.last_date)
    days = [day for day in labour_days(problem=problem, plan=plan) if day.date <= last]
    return tuple(
        Use(
            name=work.value,
            used=sum(day.asked_min[i] for day in days),
            given=sum(day.given_min[i] for day in days),
        )
        for i, work in enumerate(Work)
    )


def kiln_days_used(*, problem: Problem, plan: Plan) -> tuple[Use, ...]:
    """Days each kiln is busy up to the last date, with this plan's firings and those that stand."""
    last = max((need.due_date for need in problem.needs), default=problem.last_date)
    days = [
        problem.today_date + timedelta(days=i) for i in range((last - problem.today_date).days + 1)
    ]
    busy: dict[str, set[date]] = {kiln.key: set() for kiln in problem.kilns}
    for load in (*plan.loads, *problem.pinned):
        busy[load.kiln_key] |= {
            load.start_date + timedelta(days=i) for i in range(load.busy_days)
        } & set(days)
    return tuple(
        Use(name=kiln.name, used=len(busy[kiln.key]), given=len(days)) for kiln in problem.kilns
    )


def _given(day: HandsDay) -> tuple[int, int, int]:
    return day.throwing_min, day.glazing_min, day.finishing_min


def _asked(problem: Problem, plan: Plan) -> Counter[tuple[date, Work]]:
    wares = {ware.key: ware for ware in problem.wares}
    ware_of = {line.key: wares[line.ware_key] for line in problem.lines}
    asked: Counter[tuple[date, Work]] = Counter()
    for job in plan.jobs:
        ware = wares[job.key] if job.work == Work.THROWING else ware_of[job.key]
        each = {
            Work.THROWING: ware.throwing_min,
            Work.GLAZING: ware.glazing_min,
            Work.FINISHING: ware.finishing_min,
        }[job.work]
        asked[job.date, job.work] += each * job.count
    return asked
