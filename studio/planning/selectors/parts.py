"""Which parts does a plan have, which were left out, and which kept firings does it not need?"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date

from studio.craft import plan_reading as reading
from studio.craft.answer import Plan, Work
from studio.craft.plan_record import BadRecord
from studio.craft.problem import Load, Problem
from studio.craft.referee import broken_promises
from studio.drawing.strip import short_date
from studio.firings.models import Firing
from studio.planning.models import BackPlan
from studio.planning.selectors.fixed import schedule_key
from studio.planning.selectors.plans import in_force, stored

LITTLE_PERCENT = 33
"""A load under a third full is marked; our own choice."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """One firing or one piece of work that may be taken or left: its number and its words."""

    number: int
    text: str


@dataclass(frozen=True, kw_only=True, slots=True)
class DayOfParts:
    """The pieces of work of one day."""

    date: date
    parts: tuple[Part, ...]


def load_parts(*, problem: Problem, plan: Plan, schedules: dict[str, str]) -> list[Part]:
    """The firings of a plan by number, in the order of their days."""
    kilns = {kiln.key: kiln.name for kiln in problem.kilns}
    names = {ware.key: ware.name for ware in problem.wares}
    names |= {line.key: line.name for line in problem.lines}
    rows = sorted(enumerate(plan.loads), key=lambda row: (row[1].start_date, row[1].kiln_key))
    return [
        Part(
            number=number,
            text=(
                f"{short_date(load.start_date)}, {kilns[load.kiln_key]}, "
                f"{schedules.get(load.schedule_key, 'bisque')}: "
                + ", ".join(reading.counted(count, names[key]) for key, count in load.contents)
            ),
        )
        for number, load in rows
    ]


def job_parts(*, problem: Problem, plan: Plan) -> list[DayOfParts]:
    """The hand work of a plan by number, day by day."""
    names = {ware.key: ware.name for ware in problem.wares}
    names |= {line.key: line.name for line in problem.lines}
    verbs = {Work.THROWING: "Throw", Work.GLAZING: "Glaze", Work.FINISHING: "Grade and list"}
    days: dict[date, list[Part]] = {}
    for number, job in sorted(enumerate(plan.jobs), key=lambda row: (row[1].date, row[0])):
        text = f"{verbs[job.work]} {reading.counted(job.count, names[job.key])}"
        days.setdefault(job.date, []).append(Part(number=number, text=text))
    return [DayOfParts(date=day, parts=tuple(parts)) for day, parts in days.items()]


def taken(*, plan: Plan, loads: Collection[int], jobs: Collection[int]) -> Plan:
    """The plan without the loads and jobs of these numbers."""
    return replace(
        plan,
        loads=tuple(load for n, load in enumerate(plan.loads) if n not in loads),
        jobs=tuple(job for n, job in enumerate(plan.jobs) if n not in jobs),
    )


def lost_without(
    *, problem: Problem, plan: Plan, loads: Collection[int], jobs: Collection[int]
) -> tuple[str, ...]:
    """What a plan no longer keeps when these parts are left out, in the referee's sentences."""
    if not loads and not jobs:
        return ()
    return broken_promises(problem=problem, plan=taken(plan=plan, loads=loads, jobs=jobs))


def left_out(backplan: BackPlan) -> tuple[frozenset[int], frozenset[int]]:
    """The numbers of the loads and jobs that were not put in force."""
    out = backplan.left_out
    return frozenset(out.get("loads", ())), frozenset(out.get("jobs", ()))


def drawn(backplan: BackPlan, *, problem: Problem, plan: Plan) -> frozenset[tuple[date, str]]:
    """The loads that were packed piece by piece and stand whole, by start and name of the kiln."""
    kilns = {kiln.key: kiln.name for kiln in problem.kilns}
    return frozenset(
        (plan.loads[number].start_date, kilns[plan.loads[number].kiln_key])
        for number in backplan.drawn
        if number < len(plan.loads)
    )


def plan_before() -> Plan | None:
    """What is in force of the plan in force, for a new one to change little of it."""
    backplan = in_force()
    if backplan is None:
        return None
    try:
        plan = stored(backplan)[1]
    except BadRecord:
        return None
    loads, jobs = left_out(backplan)
    return taken(plan=plan, loads=loads, jobs=jobs)


def emptied(*, problem: Problem, plan: Plan) -> list[Load]:
    """The kept appointments that a plan does not fill: the kiln stays taken, and holds nothing."""
    return [
        replace(load, contents=())
        for load in problem.pinned
        if not load.filled and not any(reading.same_slot(load, other) for other in plan.loads)
    ]


def not_needed(*, problem: Problem, plan: Plan) -> list[Firing]:
    """The firings in the book that a plan found standing and does not fill."""
    idle = emptied(problem=problem, plan=plan)
    waiting = Firing.objects.filter(state=Firing.State.PLANNED).select_related("kiln", "schedule")
    return [
        firing
        for firing in waiting.order_by("start_date", "id")
        if any(stands_for(firing, load, problem.today_date) for load in idle)
    ]


def stands_for(firing: Firing, load: Load, planned_on: date) -> bool:
    """Is a load of a plan this firing? One that was overdue then was taken as that day."""
    return (
        load.kiln_key == str(firing.kiln_id)
        and load.schedule_key == schedule_key(firing.schedule)
        and load.start_date == max(firing.start_date, planned_on)
        and load.busy_days == firing.busy_days
    )
