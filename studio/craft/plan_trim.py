"""Which throwing of a plan is for nothing, because no firing of it takes the pieces?

Throwing costs no pence, so a search that was ended early may leave some behind. Here it is taken
out, the latest first, as far as the dry ware that is left over allows.

Laws:

1. Firings, promises, cost and bounds stay; only throwing gets less.
2. The referee passes the answer.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from studio.craft.answer import Job, Plan, Work
from studio.craft.problem import Problem
from studio.craft.referee import arrivals, broken_promises, takings


def without_needless_throwing(*, problem: Problem, plan: Plan) -> Plan:
    """The plan with no throwing that none of its firings needs; itself where there is none.

    ``plan`` must be sound; the answer is sound too.
    """
    wares = {ware.key: ware for ware in problem.wares}
    share = Fraction(problem.yields.drying_percent, 100)
    left = {key: _left_over(problem, plan, key) for key in wares}
    jobs: list[Job] = []
    for job in sorted(plan.jobs, key=lambda job: (job.date, job.key), reverse=True):
        if job.work is not Work.THROWING:
            jobs.append(job)
            continue
        dry_date = job.date + timedelta(days=wares[job.key].drying_days)
        # What is left over on every later morning was not needed on any of them.
        spare = min((n for when, n in left[job.key].items() if when >= dry_date), default=None)
        over = job.count if spare is None else min(job.count, int(spare / share))
        for when in left[job.key]:
            if when >= dry_date:
                left[job.key][when] -= over * share
        if over < job.count:
            jobs.append(replace(job, count=job.count - over))
    if len(jobs) == len(plan.jobs) and sum(j.count for j in jobs) == sum(
        j.count for j in plan.jobs
    ):
        return plan
    trimmed = replace(plan, jobs=tuple(reversed(jobs)))
    return plan if broken_promises(problem=problem, plan=trimmed) else trimmed


def _left_over(problem: Problem, plan: Plan, key: str) -> dict[date, Fraction]:
    """Dry ware that stands on each morning on which some comes or goes, after what is taken."""
    come, taken = arrivals(problem, plan), takings(problem, plan)
    stood, left = Fraction(0), {}
    for morning in sorted({*come, *taken}):
        stood += come[morning].get(("dry", key), Fraction(0))
        stood -= taken[morning].get(("dry", key), 0)
        left[morning] = stood
    return left
