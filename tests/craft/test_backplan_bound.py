"""Is the floor under the shortfall never above what can be had, and as high as it should be?"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from studio.craft.backplan_bound import short_floor
from studio.craft.backplan_frame import frame
from studio.craft.backplan_short_plain import plain_floor
from studio.craft.backplan_short_whole import best_filling, prices_for, worth
from studio.craft.problem import Circuit, OnHand, Problem, Stage
from tests.bench.studios import make_problem
from tests.craft.backplan_brute import least_short_and_cost
from tests.craft.backplan_cases import BIG, BLUE, MUG, SALE, SMALL, TALL, VASE, day, hands, studio
from tests.craft.test_backplan_brute import MOST, tiny_studios


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(problem=tiny_studios())
def test_no_floor_is_above_what_trying_everything_finds(problem: Problem) -> None:
    short, _ = least_short_and_cost(problem, most=MOST)
    made = frame(problem=problem)
    assert plain_floor(made=made) <= short
    assert short_floor(made=made, seconds=20) <= short


def test_kiln_days_bind() -> None:
    """One kiln of 10 mugs a glaze firing; 2 days a firing; no work on a kiln that is busy.

    Thrown on day 0, dry on day 5. The bisque (20 mugs) takes days 5 and 6 at the earliest; glazed
    on day 7, fired from day 8 on. Finished on day 14 at the latest, so opened on day 14: the glaze
    firings take days 8-9, 10-11 and 12-13. 3 x 10 = 30 mugs, but a bisque holds 20: for more than
    20 a second bisque must come first, which takes one of the three places. 20 mugs of 34 remain:
    34 - 20 = 14 short, of importance 3.
    """
    problem = studio(
        days=tuple(hands(i, 2000, 2000, 2000) for i in range(21)),
        kilns=(BIG,),
        wares=(MUG,),
        lines=(BLUE,),
        needs=(replace(SALE, counts=(("blue", 34),)),),
    )
    assert short_floor(made=frame(problem=problem), seconds=20) == 3 * (34 - 2 * 10)


def test_minutes_of_throwing_bind() -> None:
    """A day of 100 minutes holds 2 vases of 40; split, it would hold 2.5.

    Days to throw: the vase (7 days to dry) is bisqued and glaze fired in 2 days each, glazed
    between: thrown on day t, dry t + 7, out t + 9, glazed that day, fired from t + 10, out t + 12,
    finished by day 14 for the morning of day 15. So days 0, 1 and 2: 3 x 2 = 6 vases of 10.
    By minutes alone 3 x 100 / 40 = 7.5 could be thrown: 2.5 short, so 3.
    """
    tall_kiln = replace(BIG, clear_height_mm=400, glaze_room_tenths=900, bisque_room_tenths=900)
    problem = studio(
        days=tuple(hands(i, 100, 2000, 2000) for i in range(21)),
        kilns=(tall_kiln, replace(tall_kiln, key="other", name="other")),
        circuits=(Circuit(key="house", at_once=2),),
        wares=(VASE,),
        lines=(TALL,),
        needs=(replace(SALE, counts=(("tall", 10),)),),
    )
    made = frame(problem=problem)
    assert plain_floor(made=made) == 3 * 3
    assert short_floor(made=made, seconds=20) == 3 * (10 - 3 * 2)


def test_a_day_of_131_minutes_holds_126_of_these() -> None:
    """Vases of 35, mugs of 18, cups of 9: 7 x 18 = 126; 3 x 35 + 18 = 123; 2 x 35 + 6 x 9 = 124;
    35 + 10 x 9 = 125; so a price a minute finds 126, and split ones that fill 131 are too many."""
    sizes = (9, 18, 35)
    assert worth(counts=best_filling(sizes=sizes, prices=sizes, room=131), prices=sizes) == 126
    claims = (0.0, 0.0, 131 / 35)
    prices = prices_for(sizes=sizes, claims=claims, boxes=[(131, 1.0)], fillings={})
    most = worth(counts=best_filling(sizes=sizes, prices=prices, room=131), prices=prices)
    assert worth(counts=claims, prices=prices) > most
    # Three whole vases and what goes beside them are never cut off: 131 - 3 x 35 = 26 >= 2 x 9.
    assert worth(counts=(2, 0, 3), prices=prices) <= most
    assert prices_for(sizes=sizes, claims=(2, 0, 3), boxes=[(131, 1.0)], fillings={}) == []


@pytest.mark.parametrize("seed", [1, 2])
def test_what_is_left_when_time_is_up_still_holds(seed: int) -> None:
    """However little time there was, a floor is no lower than the plain sum and never above what
    a plan brought (10 and 13 pieces of importance 10 are short in plans that were found)."""
    made = frame(problem=make_problem(size="small", seed=seed, variant="impossible"))
    plain = plain_floor(made=made)
    for seconds in (0.0, 0.3):
        assert plain <= short_floor(made=made, seconds=seconds) <= {1: 100, 2: 130}[seed]


def test_two_kilns_alike_on_two_supplies_count_twice() -> None:
    """The one firing a day of each of two supplies: both small kilns may start on one day.

    A small kiln glazes 6 mugs a day, and no more than two kilns 12. On hand are 12 glazed mugs,
    the date is on day 2, so they are fired on day 0, finished on day 1: nothing is short.
    """
    twin = replace(SMALL, key="twin", name="twin", circuit_key="shed")
    problem = studio(
        kilns=(SMALL, twin),
        circuits=(Circuit(key="house", at_once=1), Circuit(key="shed", at_once=1)),
        days=tuple(hands(i, 120, 60, 100) for i in range(21)),
        wares=(MUG,),
        lines=(BLUE,),
        needs=(replace(SALE, due_date=day(2), buffer_days=0, counts=(("blue", 13),)),),
        on_hand=(OnHand(stage=Stage.GLAZED, key="blue", count=12, ready_date=day(0)),),
    )
    assert short_floor(made=frame(problem=problem), seconds=20) == 3 * (13 - 2 * 6)
    alone = replace(problem, kilns=(SMALL,), circuits=problem.circuits[:1])
    assert short_floor(made=frame(problem=alone), seconds=20) == 3 * (13 - 6)
