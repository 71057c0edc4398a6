"""Does the planner keep what can be kept, at the least cost, and say what is short and why?"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model
from scipy.optimize import Bounds, LinearConstraint, milp

from studio.craft.answer import Ended, Outcome, Plan, Progress, Work
from studio.craft.backplan import NotFoundInTime, plan
from studio.craft.backplan_cuts import add_cuts, cheapest_cover
from studio.craft.backplan_frame import frame
from studio.craft.backplan_model import build
from studio.craft.backplan_said import hint, read
from studio.craft.backward import backward_plan
from studio.craft.forward import start_plan
from studio.craft.plan_changes import Change, ChangeKind, plan_changes
from studio.craft.problem import BISQUE, Circuit, Load, Need, OnHand, Stage, TrialRule, Yields
from studio.craft.referee import broken_promises
from tests.bench.studios import make_problem
from tests.craft.backplan_cases import BIG, MUG, SALE, SMALL, day, hands, studio
from tests.craft.backplan_small import sound


def test_five_mugs_for_a_sale() -> None:
    found = sound(studio())
    assert (found.short, found.in_buffer, found.proven) == (0, 0, True)
    # 5 mugs fit the small kiln both times: 50 of 80 bisque, 50 of 60 glaze; 600 + 700 pence
    assert [load.kiln_key for load in found.loads] == ["small", "small"]
    assert found.cost_pence == 600 + 700 == found.cost_bound_pence
    done = Counter(dict.fromkeys(Work, 0))
    for job in found.jobs:
        done[job.work] += job.count
    assert done == {Work.THROWING: 5, Work.GLAZING: 5, Work.FINISHING: 5}


def test_one_big_load_is_cheaper_than_two_small_ones() -> None:
    ten = replace(SALE, counts=(("blue", 8),))
    # bisque 80: small 600; glaze 80 of 60: two small 2 x 700 = 1400 or one big 1500
    assert sound(studio(needs=(ten,))).cost_pence == 600 + 1400
    dear = replace(SMALL, runs=tuple(replace(run, cost_pence=800) for run in SMALL.runs))
    assert sound(studio(needs=(ten,), kilns=(BIG, dear))).cost_pence == 800 + 1500


def test_losses_are_made_good_beforehand() -> None:
    # 5 / 0.8 = 6.25: 7 glazed and fired bring 5.6; 7 / 0.9 = 7.8: 8 dry; 8 / 0.75 = 10.7: 11 thrown
    found = sound(
        studio(
            kilns=(replace(BIG, takes_trials=True),),
            yields=Yields(drying_percent=75, bisque_percent=90, glaze_percent=80),
        )
    )
    done: Counter[Work] = Counter()
    for job in found.jobs:
        done[job.work] += job.count
    assert (found.short, done[Work.FINISHING]) == (0, 5)
    assert (done[Work.GLAZING], done[Work.THROWING]) == (7, 11)
    assert [load.contents[0][1] for load in found.loads] == [8, 7]


def test_stock_comes_first() -> None:
    there = tuple(
        OnHand(stage=stage, key=key, count=1, ready_date=day(0))
        for stage, key in (
            (Stage.BISQUED, "mug"),
            (Stage.GLAZED, "blue"),
            (Stage.FIRED, "blue"),
            (Stage.GRADED, "blue"),
            (Stage.LISTED, "blue"),
        )
    )
    found = sound(studio(on_hand=there))
    assert (found.short, found.cost_pence) == (0, 700)  # 2 mugs glaze fired, none thrown
    assert not [job for job in found.jobs if job.work == Work.THROWING]


def test_nothing_is_asked_and_nothing_done() -> None:
    found = sound(studio(needs=()))
    assert (found.jobs, found.loads, found.kept, found.proven) == ((), (), (), True)


def test_an_unproven_line_has_its_trial_first() -> None:
    found = sound(studio(needs=(replace(SALE, counts=(("ash", 8),), due_date=day(20)),)))
    glaze = [load for load in found.loads if load.schedule_key != BISQUE]
    trial, rest = sorted(glaze, key=lambda load: load.start_date)[:2]
    assert found.short == 0
    assert trial.kiln_key == "small"
    assert 2 <= dict(trial.contents)["ash"] <= 6
    assert rest.start_date >= trial.open_date


def test_a_line_on_trial_fills_no_kiln_alone() -> None:
    # the big kiln alone: 25 of 100 tenths, 2 mugs a load, so 5 mugs take 3 loads; bisque takes 5
    blue = replace(studio().lines[0], on_trial=True)
    wanted = studio(
        kilns=(BIG,),
        lines=(blue, *studio().lines[1:]),
        needs=(replace(SALE, due_date=day(20)),),
    )
    found = sound(wanted)
    glaze = [dict(load.contents)["blue"] for load in found.loads if load.schedule_key != BISQUE]
    assert (found.short, sorted(glaze)) == (0, [1, 2, 2])
    assert broken_promises(problem=wanted, plan=backward_plan(problem=wanted)) == ()
    narrow = replace(wanted, trial_rule=TrialRule(share_percent=9))  # 9 tenths hold no mug
    assert sound(narrow).short == 5


def test_a_line_on_trial_in_one_kiln_takes_its_share_there_alone() -> None:
    # 25 of the big kiln's 100 tenths are 2 mugs a load; the small one, left alone, holds all 5.
    blue = replace(studio().lines[0], trial_kilns=("big",))
    found = sound(studio(lines=(blue, *studio().lines[1:])))
    glaze = [load for load in found.loads if load.schedule_key != BISQUE]
    assert found.short == 0
    for load in glaze:
        most = 2 if load.kiln_key == "big" else 6
        assert dict(load.contents)["blue"] <= most


def test_a_line_that_no_kiln_may_try_stays_short() -> None:
    found = sound(studio(kilns=(BIG,), needs=(replace(SALE, counts=(("ash", 2),)),)))
    assert (found.short, found.weighted_short, found.short_bound) == (2, 6, 6)


def test_what_does_not_fit_any_kiln_stays_short() -> None:
    found = sound(studio(needs=(replace(SALE, counts=(("tall", 1), ("blue", 1))),)))
    kept = {one.line_key: one.kept for one in found.kept}
    assert kept == {"tall": 0, "blue": 1}
    high = replace(BIG, clear_height_mm=300)
    assert sound(studio(kilns=(high,), needs=(replace(SALE, counts=(("tall", 1),)),))).short == 0


def test_the_important_date_wins() -> None:
    # 3 mugs can be thrown in time (one on each of the first three days), 2 + 2 are asked
    few = tuple(hands(i, 20 if i < 3 else 0) for i in range(21))
    other = Need(
        key="shop",
        name="shop",
        due_date=day(15),
        buffer_days=4,
        importance=1,
        counts=(("blue", 2),),
    )
    found = sound(studio(days=few, needs=(other, replace(SALE, counts=(("blue", 2),)))))
    kept = {one.need_key: one.kept for one in found.kept}
    assert kept == {"sale": 2, "shop": 1}
    assert found.weighted_short == 1


def test_buffer_days_are_eaten_before_a_piece_is_short() -> None:
    # throw 0, dry 5, bisque 5 to 6, glaze 6, fire 7 to 8, finish 8: there on day 9
    for due, in_buffer, short in ((13, 0, 0), (12, 5, 0), (9, 5, 0), (8, 0, 5)):
        found = sound(studio(needs=(replace(SALE, due_date=day(due)),)))
        assert (found.in_buffer, found.short) == (in_buffer, short), due


def test_pinned_loads_are_worked_round() -> None:
    pinned = tuple(
        Load(
            kiln_key="small",
            schedule_key=BISQUE,
            start_date=day(i),
            busy_days=1,
            contents=(),
        )
        for i in range(20)
    )
    two_heat = (Circuit(key="house", at_once=2),)
    found = sound(studio(pinned=pinned, circuits=two_heat))
    assert found.short == 0
    assert {load.kiln_key for load in found.loads} == {"big"}


def test_a_kept_appointment_is_filled() -> None:
    kept = Load(
        kiln_key="big",
        schedule_key="cone 6",
        start_date=day(8),
        busy_days=2,
        contents=(),
        filled=False,
    )
    days = tuple(hands(i, start=i < 8) for i in range(21))
    late_mugs = replace(MUG, drying_days=6)  # dry 6, bisque 6 to 7, glaze 7, fire on day 8 alone
    found = sound(studio(pinned=(kept,), days=days, wares=(late_mugs, *studio().wares[1:])))
    assert found.short == 0
    assert found.loads[-1].start_date == day(8)


def test_same_seed_and_steps_same_plan_and_better_than_by_hand_rules() -> None:
    """Steps end the search here, not the clock."""
    problem = make_problem(size="small", seed=2)
    first, again = (plan(problem=problem, steps=30, seconds=300, seed=3) for _ in range(2))
    assert replace(first, seconds=0) == replace(again, seconds=0)
    assert first.ended is Ended.STEPS
    assert first.weighted_short < backward_plan(problem=problem).weighted_short
    assert first.short_bound <= first.weighted_short
    assert 0 < first.cost_bound_pence <= first.cost_pence
    assert broken_promises(problem=problem, plan=first) == ()


def test_what_ended_the_search_is_told() -> None:
    problem = make_problem(size="small", seed=2)
    assert sound(studio()).ended is Ended.PROOF
    assert plan(problem=problem, seconds=0.01, steps=10**6).ended is Ended.CLOCK
    told: list[Progress] = []
    stopped = plan(
        problem=problem,
        seconds=300,
        steps=10**6,
        progress=told.append,
        stop=lambda: bool(told),
    )
    assert stopped.ended is Ended.STOP
    assert broken_promises(problem=problem, plan=stopped) == ()
    assert stopped.weighted_short <= told[0].weighted_short


def test_a_stop_before_any_plan_is_not_found_in_time() -> None:
    with pytest.raises(NotFoundInTime):
        plan(problem=studio(), stop=lambda: True)


def test_short_and_proven_is_told_from_short_and_perhaps_not_found() -> None:
    assert sound(studio()).outcome is Outcome.KEPT
    soon = studio(needs=(replace(SALE, due_date=day(8)),))
    assert sound(soon).outcome is Outcome.IMPOSSIBLE
    by_hand = backward_plan(problem=soon)  # it proves nothing, so it cannot know
    assert by_hand.outcome is Outcome.NOT_FOUND


def test_progress_is_told_and_only_gets_better() -> None:
    told: list[Progress] = []
    problem = make_problem(size="small", seed=1)
    found = plan(problem=problem, steps=60, seconds=300, progress=told.append)
    marks = [(p.weighted_short, p.in_buffer, p.cost_pence) for p in told]
    assert len(marks) > 1
    assert marks == sorted(marks, reverse=True)
    assert marks[-1] >= (found.weighted_short, found.in_buffer, found.cost_pence)
    assert all(broken_promises(problem=problem, plan=p.plan) == () for p in told)
    assert [p.seconds for p in told] == sorted(p.seconds for p in told)
    assert all(p.cost_bound_pence <= p.cost_pence for p in told)
    assert told[-1].cost_bound_pence > 0


def test_no_time_at_all_is_not_the_same_as_impossible() -> None:
    with pytest.raises(NotFoundInTime, match="No plan was found in 0 seconds"):
        plan(problem=studio(), seconds=0)


def test_a_new_plan_leaves_the_firings_of_the_one_in_force() -> None:
    # two small glaze firings are cheaper (1400) than the big one (1500) that the plan in force has
    eight = studio(needs=(replace(SALE, counts=(("blue", 8),)),))
    dear = replace(SMALL, runs=tuple(replace(run, cost_pence=800) for run in SMALL.runs))
    in_force = sound(replace(eight, kilns=(BIG, dear)))
    assert [load.kiln_key for load in in_force.loads] == ["small", "big"]
    freed = sound(eight)
    assert (freed.cost_pence, len(plan_changes_of(in_force, freed))) == (600 + 1400, 2)
    again = plan(problem=eight, seconds=60, before=in_force)
    assert broken_promises(problem=eight, plan=again) == ()
    assert (again.cost_pence, plan_changes_of(in_force, again)) == (600 + 1500, [])


def test_only_what_a_day_off_hits_is_moved() -> None:
    problem = make_problem(size="small", seed=1)
    in_force = plan(problem=problem, steps=60, seconds=300)
    hit = in_force.loads[len(in_force.loads) // 2]
    days = tuple(
        replace(one, may_start=one.may_start and one.date != hit.start_date) for one in problem.days
    )
    after = replace(problem, days=days)
    again = plan(problem=after, steps=150, seconds=300, before=in_force)
    assert broken_promises(problem=after, plan=again) == ()
    gone = [one for one in plan_changes_of(in_force, again) if one.kind in STIRRED]
    same_day = [load for load in in_force.loads if load.start_date == hit.start_date]
    assert again.weighted_short == in_force.weighted_short
    assert 1 <= len(gone) <= len(same_day) + 1


def test_a_firing_in_force_that_is_no_longer_needed_may_stand_empty() -> None:
    """Much less is wanted now: appointments of the plan in force are kept for nothing."""
    problem = make_problem(size="small", seed=1)
    in_force = plan(problem=problem, steps=40, seconds=300)
    kept = tuple(replace(load, contents=(), filled=False) for load in in_force.loads[::2])
    fewer = tuple(
        replace(need, counts=tuple((key, max(1, count // 4)) for key, count in need.counts))
        for need in problem.needs
    )
    less = replace(problem, pinned=(*problem.pinned, *kept), needs=fewer)
    again = plan(problem=less, steps=60, seconds=300, before=in_force)
    assert broken_promises(problem=less, plan=again) == ()
    assert again.weighted_short == 0


STIRRED = (ChangeKind.MOVED, ChangeKind.DROPPED)


def plan_changes_of(before: Plan, after: Plan) -> list[Change]:
    return plan_changes(before=before, after=after, today_date=day(0))


@settings(max_examples=40, deadline=None)
@given(
    room=st.integers(0, 300),
    loads=st.lists(st.tuples(st.integers(5, 90), st.integers(1, 50)), min_size=1, max_size=4),
)
def test_the_cheapest_cover_is_what_another_solver_finds(
    room: int, loads: list[tuple[int, int]]
) -> None:
    """Against scipy.optimize.milp (HiGHS), which knows nothing of this project."""
    there = np.array([load[0] for load in loads])
    cost = np.array([load[1] for load in loads])
    other = milp(
        cost,
        integrality=np.ones(len(loads)),
        bounds=Bounds(0, np.inf),
        constraints=LinearConstraint(there[None, :], room, np.inf),
    )
    assert cheapest_cover(room_tenths=room, loads=loads)[room] == round(other.fun)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("size", ["small", "demo", "typical"])
def test_planning_by_hand_rules_is_always_sound(size: str, seed: int) -> None:
    problem = make_problem(size=size, seed=seed)
    found = backward_plan(problem=problem)
    assert broken_promises(problem=problem, plan=found) == ()
    asked = sum(need.importance * n for need in problem.needs for _, n in need.counts)
    assert 0 < found.weighted_short < asked
    ahead = start_plan(made=frame(problem=problem))
    assert broken_promises(problem=problem, plan=ahead) == ()
    assert ahead.weighted_short < found.weighted_short


@pytest.mark.parametrize("size", ["small", "demo", "typical"])
def test_the_solver_starts_from_the_whole_of_a_plan(size: str) -> None:
    """Every variable fixed as hinted: the solver accepts the plan and reads the same one back."""
    made = frame(problem=make_problem(size=size, seed=1))
    start = start_plan(made=made)
    model = build(made=made)
    add_cuts(model=model)
    hint(model=model, plan=start)
    solver = cp_model.CpSolver()
    solver.parameters.fix_variables_to_their_hinted_value = True
    solver.parameters.num_workers = 1
    assert solver.solve(model.cp) == cp_model.OPTIMAL
    again = read(model=model, value=solver.value)
    assert again.weighted_short == start.weighted_short
    assert again.cost_pence == start.cost_pence
    assert sorted(again.loads, key=str) == sorted(start.loads, key=str)
