"""Is what the quick runner lives through sound, and does turning its calendar only help?"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from ortools.sat.python import cp_model

from studio.craft.answer import Plan
from studio.craft.backplan import rank
from studio.craft.backplan_bound import short_floor
from studio.craft.backplan_counts import Part, counts_of, on_slots
from studio.craft.backplan_frame import frame
from studio.craft.backplan_model import build
from studio.craft.backplan_runs import Runner
from studio.craft.backplan_said import hint, read
from studio.craft.backplan_search import Clock
from studio.craft.backplan_turns import anneal, turner_of
from studio.craft.forward import MANNERS, go_ahead, start_plan
from studio.craft.problem import Problem
from studio.craft.referee import broken_promises
from tests.bench.studios import make_problem
from tests.craft.test_backplan_brute import tiny_studios


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(problem=tiny_studios())
def test_going_ahead_is_sound_on_tiny_studios(problem: Problem) -> None:
    runner = Runner(frame(problem=problem))
    for manner in MANNERS:
        found = go_ahead(runner=runner, manner=manner)
        assert broken_promises(problem=problem, plan=found) == ()


@pytest.mark.parametrize("variant", ["easy", "tight", "impossible"])
@pytest.mark.parametrize("size", ["small", "typical", "large"])
def test_going_ahead_is_sound_at_any_size(size: str, variant: str) -> None:
    for seed in (1, 2):
        problem = make_problem(size=size, seed=seed, variant=variant)
        runner = Runner(frame(problem=problem))
        for manner in MANNERS[::4]:
            found = go_ahead(runner=runner, manner=manner)
            assert broken_promises(problem=problem, plan=found) == ()


def test_lines_on_trial_and_untried_are_held_back() -> None:
    problem = make_problem(size="typical", seed=1)
    lines = tuple(replace(line, on_trial=line.proven) for line in problem.lines)
    problem = replace(problem, lines=lines)
    runner = Runner(frame(problem=problem))
    for manner in MANNERS[::3]:
        found = go_ahead(runner=runner, manner=manner)
        assert broken_promises(problem=problem, plan=found) == ()
        assert found.loads


@pytest.mark.parametrize("variant", ["tight", "impossible"])
def test_living_on_from_a_remembered_morning_is_living_from_the_first(variant: str) -> None:
    problem = make_problem(size="typical", seed=3, variant=variant)
    made = frame(problem=problem)
    turner = turner_of(runner=Runner(made), plan=start_plan(made=made), seed=5)
    stands = turner.try_from(0)
    assert stands is not None
    turner.value, turner.rank, turner.kept = stands
    turned_often = 0
    for _ in range(120):
        turned = turner.turn()
        if turned is None:
            continue
        gone, come = turned
        turner.apply(gone, come)
        before, day = turner.value, min(slot.start for slot in (*gone, *come))
        stands = turner.try_from(day)
        assert stands is not None
        assert stands == turner.try_from(-1)
        # What comes to more than a limit is given up, and nothing else is.
        assert turner.try_from(day, before) == (stands if stands[0] <= before else None)
        turner.value, turner.rank, turner.kept = stands
        turned_often += 1
    assert turned_often > 20
    found = turner.runner.plan(starts=turner.starts(), lean=turner.lean)
    assert broken_promises(problem=problem, plan=found) == ()
    # Every date matters alike here, so what the runner counts is what the plan says.
    assert turner.rank[0] == found.short
    assert turner.rank[3] == found.cost_pence


def turned(problem: Problem, turns: int, seed: int = 1) -> list[Plan]:
    made = frame(problem=problem)
    told: list[Plan] = []
    anneal(
        runner=Runner(made),
        plan=start_plan(made=made),
        turns=turns,
        seed=seed,
        clock=Clock(seconds=300),
        until=300,
        better=lambda plan: told.append(plan) or True,  # type: ignore[func-returns-value]
    )
    return told


@pytest.mark.parametrize("variant", ["tight", "impossible"])
def test_turning_only_helps_and_the_same_seed_turns_alike(variant: str) -> None:
    problem = make_problem(size="typical", seed=2, variant=variant)
    told = turned(problem, 300)
    assert told == turned(problem, 300)
    assert told != turned(problem, 300, seed=2)
    assert all(broken_promises(problem=problem, plan=plan) == () for plan in told)
    assert rank(min(told, key=rank)) < rank(start_plan(made=frame(problem=problem)))


def test_no_turns_tell_nothing() -> None:
    assert turned(make_problem(size="small", seed=1), 0) == []


@pytest.mark.parametrize("size", ["small", "typical"])
def test_a_part_of_a_plan_is_the_plan_with_the_rest_as_numbers(size: str) -> None:
    """Whatever is opened, the plan itself is accepted and comes back as it was."""
    made = frame(problem=make_problem(size=size, seed=2))
    plan = start_plan(made=made)
    base, dice = counts_of(made=made, plan=plan), random.Random(3)
    for _ in range(4):
        first = dice.randrange(made.span)
        free = {slot for slot in made.slots if first <= slot.start < first + 7}
        keys = {key for slot in free for key in base.inside(slot)}
        keys |= set(dice.sample(sorted(made.lines), 2))
        part = Part(free=frozenset(free), days=range(first - 9, first + 12), keys=frozenset(keys))
        model = build(made=made, base=base, part=part)
        hint(model=model, plan=plan)
        solver = cp_model.CpSolver()
        solver.parameters.fix_variables_to_their_hinted_value = True
        solver.parameters.num_workers = 1
        assert solver.solve(model.cp) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        again = read(model=model, value=solver.value)
        assert sorted(again.loads, key=str) == sorted(plan.loads, key=str)
        assert sorted(again.jobs, key=str) == sorted(plan.jobs, key=str)
        assert sorted(again.kept, key=str) == sorted(plan.kept, key=str)
        assert again.cost_pence == plan.cost_pence


@pytest.mark.parametrize("size", ["small", "typical"])
def test_a_better_part_makes_a_sound_plan(size: str) -> None:
    problem = make_problem(size=size, seed=2)
    made = frame(problem=problem)
    plan = start_plan(made=made)
    base = counts_of(made=made, plan=plan)
    used = sorted(on_slots(made, plan), key=lambda slot: (slot.start, slot.kiln_key))
    around = used[len(used) // 2].start
    free = {slot for slot in made.slots if around - 4 <= slot.start < around + 4}
    part = Part(
        free=frozenset(free),
        days=range(around - 20, around + 16),
        keys=frozenset((*made.lines, *made.wares)),
    )
    model = build(made=made, base=base, part=part)
    model.cp.add(model.short + model.eaten <= plan.weighted_short)
    model.cp.minimize(model.cost)
    hint(model=model, plan=plan)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = 0.1
    assert solver.solve(model.cp) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    found = read(model=model, value=solver.value)
    assert broken_promises(problem=problem, plan=found) == ()
    assert found.cost_pence <= plan.cost_pence


@pytest.mark.parametrize("seed", [1, 2])
def test_no_plan_is_less_short_than_the_floor(seed: int) -> None:
    problem = make_problem(size="small", seed=seed, variant="impossible")
    made = frame(problem=problem)
    floor = short_floor(made=made, seconds=60)
    best = min((plan.weighted_short for plan in turned(problem, 2000)), default=0)
    assert 0 < floor <= best
    assert floor % 10 == 0  # each piece here weighs 10
