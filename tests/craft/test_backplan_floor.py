"""Is the floor under the cost of loads a floor, and what it comes to by hand?"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio.craft.backplan import plan
from studio.craft.backplan_cuts import cost_floor
from studio.craft.backplan_floor import loads_floor, most_in_a_row
from studio.craft.backplan_frame import frame
from studio.craft.problem import BISQUE, Need, Problem, Run
from tests.bench.studios import make_problem
from tests.craft.backplan_brute import least_short_and_cost
from tests.craft.backplan_cases import ASH, BIG, MUG, SMALL, day, studio
from tests.craft.test_backplan_brute import MOST, tiny_studios


def floor_of(problem: Problem, short: int = 0) -> int:
    return loads_floor(made=frame(problem=problem), short=short, seconds=60)


HIGH = replace(
    BIG,
    key="high",
    name="the high kiln",
    glaze_room_tenths=60,
    bisque_room_tenths=100,
    clear_height_mm=300,
    runs=(
        Run(schedule_key=BISQUE, busy_days=2, cost_pence=1100),
        Run(schedule_key="cone 6", busy_days=2, cost_pence=1600),
    ),
)


def wanted(*counts: tuple[str, int]) -> tuple[Need, ...]:
    return (
        Need(key="sale", name="sale", due_date=day(18), buffer_days=0, importance=1, counts=counts),
    )


def test_a_vase_cannot_stand_in_a_low_kiln() -> None:
    """Two vases of 30 and ten mugs of 10 tenths: 160; the big kiln is too low for vases."""
    problem = studio(kilns=(BIG, HIGH), needs=wanted(("tall", 2), ("blue", 10)))
    # For room alone: two big glaze loads of 100, one big bisque of 200.
    assert cost_floor(made=frame(problem=problem), short=0) == 2 * 1500 + 1000
    # Vases (60) need a high load of each; mugs (100) fill a big glaze load, and of 160 bisque
    # 100 are in the high one, the rest in a big one (a second high one would cost more).
    assert floor_of(problem) == (1600 + 1500) + (1100 + 1000)
    # Without a vase (and with the other) nothing less will do; without both, mugs alone.
    assert floor_of(problem, 1) == (1600 + 1500) + (1100 + 1000)
    assert floor_of(problem, 2) == 1500 + 1000


def test_what_nobody_has_fired_needs_a_load_where_trials_go() -> None:
    dear = replace(SMALL, runs=(SMALL.runs[0], replace(SMALL.runs[1], cost_pence=1600)))
    problem = studio(kilns=(BIG, dear), needs=wanted(("ash", 3)))
    assert floor_of(problem) == 600 + 1600  # a small bisque and the trial, though big costs 1500
    proven = replace(problem, lines=(replace(ASH, proven=True),))
    assert floor_of(proven) == 600 + 1500
    assert floor_of(problem, 3) == 0


def test_what_is_wanted_by_days_and_free_kilns_bind() -> None:
    """Six mugs fill a small glaze load, ten a big one; the big kiln starts on one day only."""
    assert MUG.room_tenths == 10
    problem = studio(needs=wanted(("blue", 16)))
    # 160: three small (180) of 700 are cheaper than a big and a small (160).
    assert floor_of(problem) == 3 * 700 + 1000
    few = replace(
        problem,
        days=tuple(replace(one, may_start=i in (6, 10)) for i, one in enumerate(problem.days)),
    )
    # On day 10 alone glaze can be fired: one small and one big one hold the 160.
    assert floor_of(few) == (700 + 1500) + 1000


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(problem=tiny_studios())
def test_no_tiny_studio_can_do_for_less(problem: Problem) -> None:
    """Against trying everything; buffers are left out there, so they are here."""
    problem = replace(problem, needs=tuple(replace(n, buffer_days=0) for n in problem.needs))
    short, cost = least_short_and_cost(problem, most=MOST)
    pieces = short // min(need.importance for need in problem.needs)
    assert floor_of(problem, pieces) <= cost


@pytest.mark.parametrize("variant", ["easy", "tight"])
def test_it_lies_between_the_plain_cover_and_the_plan(variant: str) -> None:
    problem = make_problem(size="small", seed=6, variant=variant)
    found = plan(problem=problem, steps=30, seconds=300)
    made = frame(problem=problem)
    assert not found.short
    assert cost_floor(made=made, short=0) <= found.cost_bound_pence <= found.cost_pence
    assert floor_of(problem, found.in_buffer) <= found.cost_bound_pence


@given(
    runs=st.lists(st.tuples(st.integers(0, 8), st.integers(1, 3)), max_size=7).map(
        lambda runs: [(start, start + days) for start, days in runs]
    )
)
def test_the_most_in_a_row_is_what_trying_every_choice_finds(runs: list[tuple[int, int]]) -> None:
    most = 0
    for bits in range(2 ** len(runs)):
        chosen = sorted(run for i, run in enumerate(runs) if bits >> i & 1)
        if all(a[1] <= b[0] for a, b in pairwise(chosen)):
            most = max(most, len(chosen))
    assert most_in_a_row(runs) == most
