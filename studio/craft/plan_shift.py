"""Which other firing of a plan takes the pieces that found no room in one of its loads?

Room is counted in places; packed piece by piece a load may hold a little less. Before a plan is
sought again, the pieces left over are put into other firings of the same schedule that have room:
nothing gets dearer, and what each date keeps stays.

Laws:

1. Firings, their days, promises, cost and bounds stay; only pieces change their load, and are
   glazed earlier or graded later where that takes it, on a day that has the minutes left.
2. A load that takes pieces in still stands whole.
3. The referee passes the answer. It is all or nothing for each load.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import date

from studio.craft.answer import Job, Plan, Work
from studio.craft.plan_spares import latest_day
from studio.craft.problem import BISQUE, Load, Problem, Ware
from studio.craft.referee import broken_promises

Stands = Callable[[Load], bool]


def shifted(
    *, problem: Problem, plan: Plan, load: Load, left: Counter[str], stands: Stands
) -> Plan | None:
    """The plan with these pieces of a load in others; None where they do not all find a place.

    ``plan`` must be sound and have ``load``; ``stands`` tells whether a whole load packs.
    """
    at = plan.loads.index(load)
    found: Plan | None = plan
    for key, count in sorted(left.items()):
        for _ in range(count):
            if found is None:
                return None
            found = _one_moved(problem, found, at, key, stands)
    return found


def without(*, problem: Problem, plan: Plan, load: Load, left: Counter[str]) -> Plan | None:
    """The plan without these pieces of a load, where they were spares; None where one was needed.

    ``plan`` must be sound and have ``load``. What is glazed for nothing then is not glazed.
    """
    at = plan.loads.index(load)
    loads = list(plan.loads)
    loads[at] = _counted(load, Counter({key: -n for key, n in left.items()}))
    if not loads[at].contents:
        return None
    jobs = list(plan.jobs)
    if load.schedule_key != BISQUE:
        over = Counter(left)
        for n, job in sorted(enumerate(jobs), key=lambda row: row[1].date, reverse=True):
            if job.work is Work.GLAZING and job.date < load.start_date and over[job.key]:
                count = min(job.count, over[job.key])
                over[job.key] -= count
                jobs[n] = replace(job, count=job.count - count) if count < job.count else _NOTHING
    made = replace(plan, loads=tuple(loads), jobs=tuple(job for job in jobs if job is not _NOTHING))
    return None if broken_promises(problem=problem, plan=made) else made


_NOTHING = Job(work=Work.GLAZING, date=date.min, key="nothing", count=1)


def _one_moved(problem: Problem, plan: Plan, at: int, key: str, stands: Stands) -> Plan | None:
    """One piece into the nearest firing that has room and in which all still stands."""
    load = plan.loads[at]
    others = [
        n
        for n, other in enumerate(plan.loads)
        if n != at and other.schedule_key == load.schedule_key
    ]
    for n in sorted(others, key=lambda n: (abs(plan.loads[n].start_date - load.start_date), n)):
        loads = list(plan.loads)
        loads[at] = _counted(load, Counter({key: -1}))
        loads[n] = _counted(loads[n], Counter({key: 1}))
        moved = replace(plan, loads=tuple(loads))
        way = _with_its_work(problem, moved, load, loads[n], key)
        if way is not None and not broken_promises(problem=problem, plan=way) and stands(loads[n]):
            return way
    return None


def _with_its_work(problem: Problem, plan: Plan, load: Load, onto: Load, key: str) -> Plan | None:
    """The same with one piece glazed before an earlier firing, or graded after a later one.

    None where no day has the minutes left. Ware for a bisque is taken as it stands.
    """
    if load.schedule_key == BISQUE:
        return plan
    line = next(line for line in problem.lines if line.key == key)
    ware = next(ware for ware in problem.wares if ware.key == line.ware_key)
    own = [job for job in plan.jobs if job.key == key]
    if onto.start_date < load.start_date:
        late = [j for j in own if j.work is Work.GLAZING and j.date >= onto.start_date]
        day = latest_day(problem, plan, Work.GLAZING, ware, 1, onto.start_date)
    else:
        late = [
            job
            for job in own
            if job.work is Work.FINISHING and load.open_date <= job.date < onto.open_date
        ]
        day = _first_day(problem, plan, ware, onto.open_date)
    if not late:
        return plan
    return None if day is None else _moved(plan, min(late, key=lambda job: job.date), day)


def _first_day(problem: Problem, plan: Plan, ware: Ware, since: date) -> date | None:
    """The first day from a date on whose minutes for grading the plan does not use up."""
    wares = {one.key: one for one in problem.wares}
    ware_of = {line.key: line.ware_key for line in problem.lines}
    used: Counter[date] = Counter()
    for job in plan.jobs:
        if job.work is Work.FINISHING:
            used[job.date] += job.count * wares[ware_of[job.key]].finishing_min
    return next(
        (
            day.date
            for day in problem.days
            if day.date >= since and used[day.date] + ware.finishing_min <= day.finishing_min
        ),
        None,
    )


def _moved(plan: Plan, job: Job, day: date) -> Plan:
    """The plan with one piece of a job done on another day."""
    counts = Counter({(one.work, one.date, one.key): one.count for one in plan.jobs})
    counts[job.work, job.date, job.key] -= 1
    counts[job.work, day, job.key] += 1
    jobs = (
        Job(work=work, date=when, key=key, count=count)
        for (work, when, key), count in counts.items()
        if count
    )
    return replace(plan, jobs=tuple(jobs))


def _counted(load: Load, more: Counter[str]) -> Load:
    held = Counter(dict(load.contents))
    held.update(more)
    return replace(load, contents=tuple(sorted((key, n) for key, n in held.items() if n)))
