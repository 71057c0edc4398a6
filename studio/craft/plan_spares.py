"""Which pots more go into the firings of a plan, so that enough firsts come as surely as is wished?

A plan reckons losses as mean shares, so that about every other time a little less comes than was
asked. Here pots are added to the firings that the plan has already, with the throwing and glazing
that they take, until the chance of enough reaches ``Problem.sure_percent`` or no more fit.

Laws:

1. What each date keeps, the firings, their cost and every bound stay as they were: a spare takes
   only room and minutes that the plan left over, so it never displaces a promise.
2. The chance is the one that ``plan_reading.kept_rows`` tells of the same plan.
3. A want that is short gets no spares: what it lacks is told first.
4. The referee passes the plan with each spare; the least number of spares is added.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta

from studio.craft.answer import Job, Plan, Work
from studio.craft.plan_odds import spares_lacking
from studio.craft.problem import BISQUE, Load, PlanLine, Problem, Ware
from studio.craft.referee import broken_promises

_UPSTREAM = ((0, 0), (0, 1), (1, 1), (2, 1), (2, 2))
"""Pots to throw, pots to bisque for one pot more to glaze: from what stands first."""

Stands = Callable[[Load], bool]


def with_spares(
    *,
    problem: Problem,
    plan: Plan,
    stands: Stands = lambda load: True,
    stop: Callable[[], bool] = lambda: False,
) -> Plan:
    """The plan with as many spares as are wished and fit; itself where none are.

    ``plan`` must be sound; the answer is sound too. ``stands`` tells whether all that a load
    holds finds its place in the kiln; ``stop`` is asked before each want, and ends it early.
    """
    if not problem.sure_percent:
        return plan
    needs = {need.key: need for need in problem.needs}
    for kept in sorted(
        plan.kept, key=lambda k: (needs[k.need_key].due_date, k.need_key, k.line_key)
    ):
        if stop():
            break
        if kept.short:
            continue
        due_date = needs[kept.need_key].due_date
        lacking = spares_lacking(
            problem=problem, plan=plan, line_key=kept.line_key, due_date=due_date
        )
        while lacking:
            more = _add(problem, plan, kept.line_key, due_date, lacking)
            before = set(plan.loads)
            if all(stands(load) for load in more.loads if load not in before):
                plan = more
                break
            lacking //= 2
    return plan


def _add(problem: Problem, plan: Plan, line_key: str, due_date: date, count: int) -> Plan:
    """The plan with up to so many more of a line fired in time for a date."""
    for _ in range(count):
        found = next(_one_more(problem, plan, line_key, due_date), None)
        if found is None:
            break
        plan = found
    return plan


def _one_more(problem: Problem, plan: Plan, line_key: str, due_date: date) -> Iterator[Plan]:
    """Sound plans with one more of a line, from what stands before what must be thrown."""
    line = next(line for line in problem.lines if line.key == line_key)
    ware = next(ware for ware in problem.wares if ware.key == line.ware_key)
    glazes = [
        load
        for load in reversed(plan.loads)
        if load.schedule_key == line.schedule_key
        and load.open_date + timedelta(days=1) <= due_date
        and _has_room(problem, load, ware, 1)
    ]
    for thrown, bisqued in _UPSTREAM:
        for glaze in glazes:
            for made in _ways(problem, plan, line, ware, glaze, thrown, bisqued):
                if not broken_promises(problem=problem, plan=made):
                    yield made


def _ways(
    problem: Problem,
    plan: Plan,
    line: PlanLine,
    ware: Ware,
    glaze: Load,
    thrown: int,
    bisqued: int,
) -> Iterator[Plan]:
    """At most one way for each bisque: the latest day with the minutes left, for each work."""
    glazed_on = latest_day(problem, plan, Work.GLAZING, ware, 1, glaze.start_date)
    if glazed_on is None:
        return
    jobs = [Job(work=Work.GLAZING, date=glazed_on, key=line.key, count=1)]
    grown = {glaze: (line.key, 1)}
    if not bisqued:
        yield _grown(plan, grown, jobs)
        return
    for bisque in plan.loads:
        if (
            bisque.schedule_key != BISQUE
            or bisque.open_date > glazed_on
            or not _has_room(problem, bisque, ware, bisqued)
        ):
            continue
        work = list(jobs)
        if thrown:
            before = bisque.start_date - timedelta(days=ware.drying_days - 1)
            thrown_on = latest_day(problem, plan, Work.THROWING, ware, thrown, before)
            if thrown_on is None:
                continue
            work.append(Job(work=Work.THROWING, date=thrown_on, key=ware.key, count=thrown))
        yield _grown(plan, grown | {bisque: (ware.key, bisqued)}, work)


def _has_room(problem: Problem, load: Load, ware: Ware, count: int) -> bool:
    wares = {one.key: one for one in problem.wares}
    ware_of = {line.key: line.ware_key for line in problem.lines}
    kiln = next(kiln for kiln in problem.kilns if kiln.key == load.kiln_key)
    bisque = load.schedule_key == BISQUE
    used = sum(wares[key if bisque else ware_of[key]].room_tenths * n for key, n in load.contents)
    return used + count * ware.room_tenths <= kiln.room_tenths(load.schedule_key)


def latest_day(
    problem: Problem, plan: Plan, work: Work, ware: Ware, count: int, before: date
) -> date | None:
    """The last day before a date on which the plan leaves the minutes for so many."""
    wares = {one.key: one for one in problem.wares}
    ware_of = {line.key: line.ware_key for line in problem.lines}
    throwing = work is Work.THROWING
    used: Counter[date] = Counter()
    for job in plan.jobs:
        if job.work is work:
            made = wares[job.key if throwing else ware_of[job.key]]
            used[job.date] += job.count * (made.throwing_min if throwing else made.glazing_min)
    asked = count * (ware.throwing_min if throwing else ware.glazing_min)
    for day in reversed(problem.days):
        given = day.throwing_min if throwing else day.glazing_min
        if day.date < before and used[day.date] + asked <= given:
            return day.date
    return None


def _grown(plan: Plan, grown: dict[Load, tuple[str, int]], jobs: list[Job]) -> Plan:
    loads = []
    for load in plan.loads:
        if load in grown:
            key, count = grown[load]
            held = Counter(dict(load.contents))
            held[key] += count
            load = replace(load, contents=tuple(sorted(held.items())))
        loads.append(load)
    counts = Counter({(job.work, job.date, job.key): job.count for job in plan.jobs})
    for job in jobs:
        counts[job.work, job.date, job.key] += job.count
    return replace(
        plan,
        loads=tuple(loads),
        jobs=tuple(
            Job(work=work, date=day, key=key, count=count)
            for (work, day, key), count in counts.items()
        ),
    )
