"""Are small jobs drawn together, and does the rest of the plan stay as it was?"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings

from studio.craft.answer import Job, Kept, Plan, Work
from studio.craft.backplan_frame import frame
from studio.craft.backward import backward_plan
from studio.craft.forward import start_plan
from studio.craft.gather import gather
from studio.craft.problem import BISQUE, Load, Problem
from studio.craft.referee import broken_promises
from tests.bench.studios import make_problem
from tests.craft.backplan_cases import SALE, day, hands, studio
from tests.craft.test_backplan_brute import tiny_studios


def scattered() -> tuple[Problem, Plan]:
    """Five blue mugs, thrown one a day, glazed and finished in two sittings each."""
    sale = replace(SALE, buffer_days=0)
    problem = studio(needs=(sale,), days=tuple(hands(i, throwing=100) for i in range(21)))
    jobs = (
        # Thrown on days 0 to 4, dry on 5 to 9; bisqued from day 9, out on day 10.
        *(Job(work=Work.THROWING, date=day(i), key="mug", count=1) for i in range(5)),
        Job(work=Work.GLAZING, date=day(10), key="blue", count=2),
        Job(work=Work.GLAZING, date=day(11), key="blue", count=3),
        Job(work=Work.FINISHING, date=day(13), key="blue", count=4),
        Job(work=Work.FINISHING, date=day(14), key="blue", count=1),
    )
    loads = (
        _load(BISQUE, 9, 1, ("mug", 5)),
        _load("cone 6", 12, 1, ("blue", 5)),
    )
    plan = Plan(
        jobs=jobs,
        loads=loads,
        kept=(Kept(need_key="sale", line_key="blue", asked=5, kept=5),),
        cost_pence=600 + 700,
        weighted_short=0,
        short_bound=0,
        cost_bound_pence=0,
        proven=False,
    )
    return problem, plan


def _load(schedule_key: str, start: int, busy_days: int, *contents: tuple[str, int]) -> Load:
    return Load(
        kiln_key="small",
        schedule_key=schedule_key,
        start_date=day(start),
        busy_days=busy_days,
        contents=contents,
    )


def counts(plan: Plan) -> Counter[tuple[Work, str]]:
    """Answer how many of each kind and key a plan does."""
    found: Counter[tuple[Work, str]] = Counter()
    for job in plan.jobs:
        found[job.work, job.key] += job.count
    return found


def test_one_sitting_each_where_the_minutes_allow() -> None:
    problem, plan = scattered()
    assert broken_promises(problem=problem, plan=plan) == ()
    assert len(plan.jobs) == 5 + 2 + 2
    gathered = gather(problem=problem, plan=plan)
    # 5 mugs x 20 min = 100 min of throwing: just the minutes of a day. Thrown on day 4 at the
    # latest, since 4 + 5 days of drying is day 9, when the bisque starts.
    throwing = [job for job in gathered.jobs if job.work is Work.THROWING]
    assert [job.count for job in throwing] == [5]
    assert throwing[0].date <= day(9 - 5)
    assert [job.count for job in gathered.jobs if job.work is Work.GLAZING] == [5]
    assert [job.count for job in gathered.jobs if job.work is Work.FINISHING] == [5]


def test_not_more_than_a_day_has_minutes() -> None:
    problem, plan = scattered()
    short_days = replace(problem, days=tuple(hands(i, throwing=60) for i in range(21)))
    gathered = gather(problem=short_days, plan=plan)
    throwing = [job.count for job in gathered.jobs if job.work is Work.THROWING]
    assert max(throwing) <= 60 // 20
    assert sum(throwing) == 5


def test_nothing_is_gathered_too_late() -> None:
    problem, plan = scattered()
    gathered = gather(problem=problem, plan=plan)
    assert broken_promises(problem=problem, plan=gathered) == ()
    # Glazed on day 11 at the latest: a load may hold it from the morning after.
    assert all(job.date <= day(11) for job in gathered.jobs if job.work is Work.GLAZING)


@pytest.mark.parametrize("size", ["small", "typical", "large"])
def test_a_studio_of_any_size_gets_fewer_sittings(size: str) -> None:
    problem = make_problem(size=size, seed=1)
    plan = start_plan(made=frame(problem=problem))
    gathered = gather(problem=problem, plan=plan)
    assert broken_promises(problem=problem, plan=gathered) == ()
    assert counts(gathered) == counts(plan)
    assert len(gathered.jobs) < len(plan.jobs)


@given(problem=tiny_studios())
@settings(max_examples=60)
def test_whatever_the_studio_the_rest_of_the_plan_stays(problem: Problem) -> None:
    plan = backward_plan(problem=problem)
    gathered = gather(problem=problem, plan=plan)
    assert broken_promises(problem=problem, plan=gathered) == ()
    assert replace(gathered, jobs=plan.jobs) == plan
    assert counts(gathered) == counts(plan)
    assert len(gathered.jobs) <= len(plan.jobs)
    assert gather(problem=problem, plan=gathered) == gathered
