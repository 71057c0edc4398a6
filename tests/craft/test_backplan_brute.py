"""Does the solver bring as much, as cheaply, as trying everything would bring?"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from studio.craft.backplan import plan
from studio.craft.problem import (
    BISQUE,
    Circuit,
    Need,
    OnHand,
    Problem,
    Run,
    Stage,
    TrialRule,
    Yields,
)
from studio.craft.referee import broken_promises
from tests.craft.backplan_brute import TooMany, least_short_and_cost
from tests.craft.backplan_cases import ASH, BIG, BLUE, MONDAY, MUG, SMALL, day, hands, studio

MOST = 2
"""Pieces at once in any one action; minutes and room keep the solver to it as well."""

MORNINGS = 8_000

CUP = replace(MUG, drying_days=1, throwing_min=10, glazing_min=10, finishing_min=10)
QUICK = replace(BIG, glaze_room_tenths=20, bisque_room_tenths=20, runs=tuple(
    Run(schedule_key=key, busy_days=1, cost_pence=900) for key in (BISQUE, "cone 6")
))  # fmt: skip
TEST = replace(SMALL, glaze_room_tenths=20, bisque_room_tenths=10)


@st.composite
def tiny_studios(draw: st.DrawFn) -> Problem:
    span = 6
    minutes = st.sampled_from((20, 20, 20, 10, 0))
    two_lines = draw(st.sampled_from((False, False, True)))
    ash = replace(ASH, proven=draw(st.booleans()))
    wanted = draw(st.integers(1, 2))
    counts = (("blue", wanted), ("ash", 1)) if two_lines else (("blue", wanted),)
    sale = Need(
        key="sale",
        name="sale",
        due_date=day(draw(st.sampled_from((span - 1, span - 1, span - 2)))),
        buffer_days=draw(st.sampled_from((0, 0, 1))),
        importance=draw(st.integers(1, 2)),
        counts=counts,
    )
    shop = Need(
        key="shop",
        name="shop",
        due_date=day(draw(st.integers(0, span - 1))),
        buffer_days=0,
        importance=draw(st.integers(1, 3)),
        counts=(("blue", 1),),
    )
    on_hand = []
    for stage in draw(st.lists(st.sampled_from(list(Stage)), max_size=3)):
        key = "mug" if stage in (Stage.THROWN, Stage.BISQUED) else "blue"
        ready = day(draw(st.integers(0, 2)))
        on_hand.append(OnHand(stage=stage, key=key, count=1, ready_date=ready))
    return studio(
        last_date=MONDAY + timedelta(days=span - 1),
        days=tuple(
            hands(
                i,
                draw(minutes),
                draw(minutes),
                draw(minutes),
                draw(st.sampled_from((1, 1, 1, 0))) == 1,
            )
            for i in range(span)
        ),
        kilns=(QUICK, TEST) if two_lines else (QUICK,),
        circuits=(Circuit(key="house", at_once=draw(st.integers(1, 2))),),
        wares=(CUP,),
        lines=(BLUE, ash) if two_lines else (BLUE,),
        needs=(sale, shop) if draw(st.booleans()) else (sale,),
        on_hand=tuple(on_hand),
        yields=Yields(
            drying_percent=draw(st.sampled_from((100, 70))),
            bisque_percent=100,
            glaze_percent=draw(st.sampled_from((100, 75))),
        ),
        trial_rule=TrialRule(least_pieces=1, most_pieces=1),
    )


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(problem=tiny_studios())
def test_the_least_shortfall_is_found(problem: Problem) -> None:
    try:
        short, cost_pence = least_short_and_cost(problem, most=MOST, most_states=MORNINGS)
    except TooMany:
        reject()  # two lines with clay and time for anything: minutes for one example
    found = plan(problem=problem, seconds=60.0)
    assert broken_promises(problem=problem, plan=found) == ()
    assert found.weighted_short == found.short_bound == short
    assert found.proven
    if all(need.buffer_days == 0 for need in problem.needs):
        assert found.cost_pence == found.cost_bound_pence == cost_pence


def test_trying_everything_agrees_with_a_count_by_hand() -> None:
    """Throw on day 0, dry 1, bisque 1 to 2, glaze 2, fire 3 to 4, finish 4, there on day 5."""
    sale = Need(
        key="sale", name="sale", due_date=day(5), buffer_days=0, importance=2, counts=(("blue", 2),)
    )
    problem = studio(
        last_date=day(5),
        days=tuple(hands(i, 20, 20, 20) for i in range(6)),
        kilns=(QUICK,),
        wares=(CUP,),
        lines=(BLUE,),
        needs=(sale,),
    )
    assert least_short_and_cost(problem, most=MOST) == (0, 900 + 900)
    earlier = replace(problem, needs=(replace(sale, due_date=day(4)),))
    assert least_short_and_cost(earlier, most=MOST) == (2 * 2, 0)
    one_a_day = replace(problem, days=tuple(hands(i, 20, 20, 10) for i in range(6)))
    assert least_short_and_cost(one_a_day, most=MOST) == (2 * 1, 900 + 900)
