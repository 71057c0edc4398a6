"""Does the planner agree with what others have proven about simpler questions?

* H. M. Wagner and T. M. Whitin, 'Dynamic version of the economic lot size model', Management
  Science 5 (1958): their example of twelve periods. Its numbers and its optimum of 864 are from
  memory, so the optimum is also worked out here by their recursion.
* S. M. Johnson, 'Optimal two- and three-stage production schedules with setup times included',
  Naval Research Logistics Quarterly 1 (1954): two machines, every job through both in one order.
  His rule is held to every order there is as well.
* GLOP's floor under the shortfall is held to scipy.optimize.linprog (HiGHS).
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import permutations

import numpy as np
import pytest
from scipy.optimize import linprog

from studio.craft.answer import Outcome
from studio.craft.backplan import plan
from studio.craft.backplan_bound import short_floor
from studio.craft.backplan_frame import frame
from studio.craft.backplan_model import build
from studio.craft.problem import (
    BISQUE,
    Circuit,
    HandsDay,
    Load,
    Need,
    OnHand,
    PlanKiln,
    PlanLine,
    Problem,
    Run,
    Stage,
    Ware,
    Yields,
)
from studio.craft.referee import broken_promises
from tests.bench.studios import make_problem
from tests.craft.backplan_cases import BIG, MONDAY, MUG, SURE, day

DEMAND = (69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56)
SETUP = (85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114)
"""By period; a piece in store costs 1 a period."""


def lot_cost(first: int, last: int) -> int:
    """Set up in the first period and make what the first to the last want."""
    return SETUP[first] + sum((t - first) * DEMAND[t] for t in range(first, last + 1))


def wagner_whitin() -> int:
    """The least cost of all periods: the last lot serves the last of them."""

    @cache
    def least(periods: int) -> int:
        if not periods:
            return 0
        return min(least(first) + lot_cost(first, periods - 1) for first in range(periods))

    return least(len(DEMAND))


def lots() -> Problem:
    """Each lot that could be made is a kiln that may be lit on one day only, at the lot's cost.

    The want of period t is one pot, due when the period's firing would just bring it, and taller
    than that of the period before; a kiln for the periods i to j clears the pot of j and is lit
    on day i, too late for the pots before i. So it can serve just what its lot serves.
    """
    periods = len(DEMAND)
    span = periods + 3
    kilns, pinned = [], []
    for first in range(periods):
        for last in range(first, periods):
            key = f"{first}-{last}"
            kilns.append(
                PlanKiln(
                    key=key,
                    name=key,
                    glaze_room_tenths=periods,
                    bisque_room_tenths=1,
                    clear_height_mm=100 + last,
                    circuit_key="supply",
                    takes_trials=False,
                    runs=(
                        Run(schedule_key="cone 6", busy_days=1, cost_pence=lot_cost(first, last)),
                    ),
                )
            )
            for start, busy_days in ((-1, first + 1), (first + 1, span)):
                pinned.append(
                    Load(
                        kiln_key=key,
                        schedule_key="cone 6",
                        start_date=day(start),
                        busy_days=busy_days,
                        contents=(),
                    )
                )
    wares = tuple(
        replace(MUG, key=f"pot {t}", name=f"pot {t}", room_tenths=1, height_mm=100 + t)
        for t in range(periods)
    )
    lines = tuple(
        PlanLine(key=f"{t}", name=f"{t}", ware_key=f"pot {t}", schedule_key="cone 6")
        for t in range(periods)
    )
    return Problem(
        today_date=MONDAY,
        last_date=day(span - 1),
        days=tuple(
            HandsDay(date=day(i), throwing_min=0, glazing_min=0, finishing_min=600)
            for i in range(span)
        ),
        kilns=tuple(kilns),
        circuits=(Circuit(key="supply", at_once=999),),
        wares=wares,
        lines=lines,
        # Lit on day t, out and finished on t + 1, there on t + 2.
        needs=tuple(
            Need(
                key=f"period {t}",
                name=f"period {t}",
                due_date=day(t + 2),
                buffer_days=0,
                importance=1,
                counts=((f"{t}", 1),),
            )
            for t in range(periods)
        ),
        on_hand=tuple(
            OnHand(stage=Stage.GLAZED, key=f"{t}", count=1, ready_date=day(0))
            for t in range(periods)
        ),
        pinned=tuple(pinned),
        yields=SURE,
    )


def test_wagner_and_whitins_twelve_periods() -> None:
    problem = lots()
    found = plan(problem=problem, steps=60, seconds=120)
    assert broken_promises(problem=problem, plan=found) == ()
    assert wagner_whitin() == 864
    assert found.short == 0
    assert found.cost_pence == found.cost_bound_pence == 864
    assert found.proven


JOBS = ((1, 3), (3, 2), (2, 1), (1, 2))
"""Days at the wheel and days in the glaze kiln, job by job."""


def makespan(order: tuple[int, ...]) -> int:
    """When the last job leaves the second machine, the jobs in this order on both."""
    first = second = 0
    for job in order:
        first += JOBS[job][0]
        second = max(first, second) + JOBS[job][1]
    return second


def johnsons_order() -> tuple[int, ...]:
    """Those quicker on the first machine by that time upwards, then the rest by the second down."""
    quick = sorted((j for j, (a, b) in enumerate(JOBS) if a < b), key=lambda j: JOBS[j][0])
    slow = sorted((j for j, (a, b) in enumerate(JOBS) if a >= b), key=lambda j: -JOBS[j][1])
    return tuple(quick + slow)


def shop(due: int) -> Problem:
    """Job j: so many pots of a day each at the wheel, then a glaze firing of so many days.

    Between them always: a day to dry, a day of bisque, a day to glaze. The kilns hold everything.
    """
    fire = replace(
        BIG,
        key="fire",
        glaze_room_tenths=999,
        runs=tuple(
            Run(schedule_key=f"cone {j}", busy_days=b, cost_pence=10)
            for j, (_, b) in enumerate(JOBS)
        ),
    )
    bisque = replace(
        BIG,
        key="bisque",
        bisque_room_tenths=999,
        runs=(Run(schedule_key=BISQUE, busy_days=1, cost_pence=10),),
    )
    pot = Ware(
        key="pot",
        name="pot",
        room_tenths=1,
        height_mm=100,
        throwing_min=100,
        glazing_min=0,
        finishing_min=0,
        drying_days=1,
    )
    return Problem(
        today_date=MONDAY,
        last_date=day(due),
        days=tuple(
            HandsDay(date=day(i), throwing_min=100, glazing_min=100, finishing_min=100)
            for i in range(due + 1)
        ),
        kilns=(fire, bisque),
        circuits=(Circuit(key="house", at_once=2),),
        wares=tuple(replace(pot, key=f"pot {j}") for j in range(len(JOBS))),
        lines=tuple(
            PlanLine(key=f"{j}", name=f"{j}", ware_key=f"pot {j}", schedule_key=f"cone {j}")
            for j in range(len(JOBS))
        ),
        needs=(
            Need(
                key="all",
                name="all",
                due_date=day(due),
                buffer_days=0,
                importance=1,
                counts=tuple((f"{j}", a) for j, (a, _) in enumerate(JOBS)),
            ),
        ),
        yields=Yields(drying_percent=100, bisque_percent=100, glaze_percent=100),
    )


def test_johnsons_rule_for_two_machines() -> None:
    orders = permutations(range(len(JOBS)))
    least = min(makespan(order) for order in orders)
    assert makespan(johnsons_order()) == least
    # thrown by the end of day C - 1, dry and bisqued on C, out and glazed on C + 1, fired from
    # C + 2 on, so all is out 2 days after the makespan, finished that day and there the day after
    due = least + 2 + 1
    in_time = plan(problem=shop(due), steps=300, seconds=120)
    assert broken_promises(problem=shop(due), plan=in_time) == ()
    assert in_time.short == 0
    too_soon = plan(problem=shop(due - 1), steps=300, seconds=120)
    assert broken_promises(problem=shop(due - 1), plan=too_soon) == ()
    assert too_soon.outcome is Outcome.IMPOSSIBLE
    assert too_soon.short >= 1


@pytest.mark.parametrize("seed", [1, 2])
def test_the_floor_under_the_shortfall_is_not_below_that_of_another_solver(seed: int) -> None:
    made = frame(problem=make_problem(size="small", seed=seed, variant="impossible"))
    model = build(made=made)
    model.cp.minimize(model.short)
    proto = model.cp.proto
    rows, low, high = [], [], []
    for one in proto.constraints:
        limit = one.linear if one.has_linear() else None
        row = np.zeros(len(proto.variables))
        indices = list(limit.vars) if limit else list(one.at_most_one.literals)
        row[indices] += list(limit.coeffs) if limit else 1
        rows.append(row)
        low.append(float(next(iter(limit.domain))) if limit else 0.0)
        high.append(float(list(limit.domain)[-1]) if limit else 1.0)
    cost = np.zeros(len(proto.variables))
    cost[list(proto.objective.vars)] = list(proto.objective.coeffs)
    domains = [list(variable.domain) for variable in proto.variables]
    other = linprog(
        cost,
        A_ub=np.vstack([rows, -np.array(rows)]),
        b_ub=np.concatenate([high, -np.array(low)]),
        bounds=[(domain[0], domain[-1]) for domain in domains],
        method="highs",
    )
    least = other.fun + proto.objective.offset
    # The other solver splits pieces and firings; ours sees what whole ones cost, too.
    assert short_floor(made=made, seconds=2) >= 10 * math.ceil(least / 10 - 1e-6) > 0
