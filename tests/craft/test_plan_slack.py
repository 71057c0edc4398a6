"""May a firing slip as far as is said, and by when must each line be thrown?"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from studio.craft.answer import Plan
from studio.craft.backward import backward_plan
from studio.craft.plan_slack import ThrowBy, slack_days, slipped, throw_by
from studio.craft.problem import (
    BISQUE,
    Circuit,
    Load,
    OnHand,
    Problem,
    Stage,
    Yields,
)
from studio.craft.referee import broken_promises
from tests.bench.studios import make_problem
from tests.craft.backplan_cases import SALE, day, hands, studio
from tests.craft.referee_cases import BISQUED, FIRED, SOUND, load
from tests.craft.test_backplan_brute import tiny_studios


def without(problem: Problem, gone: Load) -> Problem:
    """The question without the appointment that a slipped load leaves."""
    left = tuple(
        one
        for one in problem.pinned
        if one.filled or (one.kiln_key, one.start_date) != (gone.kiln_key, gone.start_date)
    )
    return replace(problem, pinned=left)


def judge(problem: Problem, plan: Plan) -> None:
    """The slack told passes the referee for every firing, and keeps what was kept."""
    for one, slack in slack_days(problem=problem, plan=plan).items():
        later = slipped(problem=problem, plan=plan, load=one, days=slack)
        assert later is not None
        assert broken_promises(problem=without(problem, one), plan=later) == ()
        assert [k.kept for k in later.kept] == [k.kept for k in plan.kept]


def test_each_firing_slips_until_the_next_step_would_be_late() -> None:
    # Glazed on day 7 for the firing on 8: the bisque, out on 7, cannot slip at all.
    # The firing is out on 10, finished on 10, there on 11; the sale is on 15: 4 days, out on 14.
    assert slack_days(problem=studio(), plan=SOUND) == {BISQUED: 0, FIRED: 4}
    judge(studio(), SOUND)
    too_far = slipped(problem=studio(), plan=SOUND, load=FIRED, days=5)
    assert too_far is None
    # The firing a day later gives the bisque the day that it takes.
    later = replace(FIRED, start_date=day(9))
    relaxed = replace(
        SOUND,
        loads=(BISQUED, later),
        jobs=(*SOUND.jobs[:2], replace(SOUND.jobs[2], date=day(11))),
        kept=(replace(SOUND.kept[0], in_buffer=5),),
    )
    assert slack_days(problem=studio(), plan=relaxed) == {BISQUED: 1, later: 3}


def test_days_on_which_none_may_start_are_passed_over() -> None:
    # out on 10 + 4 = 14 again, but none may start on days 11 and 12: only day 9 and 10 are left
    days = tuple(hands(i, start=i not in (11, 12)) for i in range(21))
    assert slack_days(problem=studio(days=days), plan=SOUND)[FIRED] == 2
    days = tuple(hands(i, start=i not in (9, 10)) for i in range(21))
    assert slack_days(problem=studio(days=days), plan=SOUND)[FIRED] == 4


def test_hands_that_follow_need_their_minutes() -> None:
    # 30 min of finishing; after day 10 a day has 12 (2 mugs): from a start on day 9, out on 11:
    # 2 + 2 + 1 on days 11, 12, 13, there on 14; on day 10: 2 + 2 on 12 and 13, 1 on 14, there on 15
    days = tuple(hands(i, finishing=12 if i > 10 else 60) for i in range(21))
    assert slack_days(problem=studio(days=days), plan=SOUND)[FIRED] == 2
    judge(studio(days=days), SOUND)


def test_a_kiln_that_is_wanted_again_does_not_wait() -> None:
    away = load("big", "cone 6", 11, 2)  # free on day 10 only: the firing of 8 to 10 slips by one
    assert slack_days(problem=studio(pinned=(away,)), plan=SOUND)[FIRED] == 1


def test_a_supply_that_is_taken_that_day_is_passed_over() -> None:
    other = load("small", "cone 6", 12, 1)
    one = Circuit(key="house", at_once=1)
    problem = studio(pinned=(other,), circuits=(one,))
    assert slack_days(problem=problem, plan=SOUND)[FIRED] == 3
    judge(problem, SOUND)


def test_a_trial_does_not_slip_past_what_waits_for_it() -> None:
    ash = OnHand(stage=Stage.GLAZED, key="ash", count=9, ready_date=day(0))
    trial, rest = load("small", "cone 6", 1, 1, ash=2), load("big", "cone 6", 3, 2, ash=7)
    problem = studio(on_hand=(ash,))
    plan = replace(SOUND, loads=(*SOUND.loads, trial, rest), cost_pence=2500 + 700 + 1500)
    assert broken_promises(problem=problem, plan=plan) == ()
    assert slack_days(problem=problem, plan=plan)[trial] == 1
    judge(problem, plan)


@pytest.mark.parametrize("size", ["small", "demo", "typical"])
def test_slack_holds_before_the_referee_on_made_up_studios(size: str) -> None:
    problem = make_problem(size=size, seed=1)
    judge(problem, backward_plan(problem=problem))


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(problem=tiny_studios())
def test_slack_holds_before_the_referee_on_tiny_studios(problem: Problem) -> None:
    judge(problem, backward_plan(problem=problem))


def test_a_line_is_thrown_for_the_first_date_that_stock_does_not_serve() -> None:
    half = Yields(drying_percent=50, bisque_percent=100, glaze_percent=80)
    shop = replace(SALE, key="shop", due_date=day(20), counts=(("blue", 4), ("hot", 1)))
    listed = OnHand(stage=Stage.LISTED, key="blue", count=5, ready_date=day(0))
    bisqued = OnHand(stage=Stage.BISQUED, key="mug", count=2, ready_date=day(0))
    problem = studio(needs=(SALE, shop), on_hand=(listed, bisqued), yields=half)
    # the sale's 5 are listed. 4 for the shop: 4 / 0.8 = 5 to fire, 2 are bisqued, 3 more, 6 thrown
    # day 20 - 4 buffer - 1 finish - 1 small - 1 glaze - 1 bisque - 5 dry = 7
    # 1 tenmoku: 1 / 0.8 = 2 to fire, 4 to throw; 3 days in the big kiln: day 5
    assert throw_by(problem=problem) == (
        ThrowBy(line_key="hot", need_key="shop", count=4, latest_date=day(5)),
        ThrowBy(line_key="blue", need_key="shop", count=6, latest_date=day(7)),
    )
    assert [load.schedule_key for load in SOUND.loads] == [BISQUE, "cone 6"]


def test_too_late_to_throw_has_no_day() -> None:
    soon = replace(SALE, due_date=day(10))
    assert throw_by(problem=studio(needs=(soon,))) == (
        ThrowBy(line_key="blue", need_key="sale", count=5, latest_date=None),
    )
