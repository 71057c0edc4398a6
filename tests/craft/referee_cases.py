"""One sound plan made by hand, which the tests of the referee break one law at a time.

The sums behind the days stand beside the plan.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from studio.craft.answer import Job, Kept, Plan, Work
from studio.craft.problem import BISQUE, Load, Problem
from studio.craft.referee import broken_promises
from tests.craft.backplan_cases import day, studio


def job(work: Work, index: int, key: str, count: int) -> Job:
    return Job(work=work, date=day(index), key=key, count=count)


def load(kiln: str, schedule: str, index: int, busy: int, **contents: int) -> Load:
    return Load(
        kiln_key=kiln,
        schedule_key=schedule,
        start_date=day(index),
        busy_days=busy,
        contents=tuple(contents.items()),
    )


THROW = job(Work.THROWING, 0, "mug", 5)  # 5 x 20 min = 100 of 120 min; dry on day 0 + 5 = 5
BISQUED = load("big", BISQUE, 5, 2, mug=5)  # out on day 5 + 2 = 7
GLAZE = job(Work.GLAZING, 7, "blue", 5)  # 5 x 5 min = 25 of 60 min; to load on day 7 + 1 = 8
FIRED = load("big", "cone 6", 8, 2, blue=5)  # out on day 8 + 2 = 10
FINISH = job(Work.FINISHING, 10, "blue", 5)  # 30 of 60 min; there on day 11 = 15 - 4 buffer
KEPT = Kept(need_key="sale", line_key="blue", asked=5, kept=5)

SOUND = Plan(
    jobs=(THROW, GLAZE, FINISH),
    loads=(BISQUED, FIRED),
    kept=(KEPT,),
    cost_pence=1000 + 1500,
    weighted_short=0,
    short_bound=0,
    cost_bound_pence=0,
    proven=False,
)


def verdict(problem: Problem | None = None, **changes: Any) -> tuple[str, ...]:
    return broken_promises(problem=problem or studio(), plan=replace(SOUND, **changes))
