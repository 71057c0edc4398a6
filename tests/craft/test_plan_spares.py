"""Are as many spares put in as the wished chance takes, and never in the place of a promise?"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from math import comb

import pytest

from studio.craft.backplan import plan
from studio.craft.plan_reading import kept_rows
from studio.craft.plan_record import problem_from_json, problem_to_json
from studio.craft.plan_spares import with_spares
from studio.craft.problem import BISQUE, BadProblem, OnHand, PlanLine, Problem, Stage, Yields
from studio.craft.referee import broken_promises
from tests.craft.backplan_cases import BIG, BLUE, MONDAY, MUG, SALE, studio

GREEN = PlanLine(key="green", name="green mug", ware_key="mug", schedule_key="cone 6")
ROOM = MUG.room_tenths
DAY = timedelta(days=1)


def chance(started: int, wanted: int) -> float:
    """Of so many pots, each good in 8 of 10, at least so many are: the terms summed by hand."""
    return sum(comb(started, k) * 0.8**k * 0.2 ** (started - k) for k in range(wanted, started + 1))


def asked(places: int = 20, *, bisqued: int = 20, **changes: object) -> Problem:
    """Five blue mugs from bisqued ware, of ten glaze fired eight come out; one kiln."""
    what: dict[str, object] = {
        "kilns": (replace(BIG, glaze_room_tenths=places * ROOM),),
        "lines": (BLUE, GREEN),
        "needs": (SALE,),
        "yields": Yields(drying_percent=100, bisque_percent=100, glaze_percent=80),
        "on_hand": (OnHand(stage=Stage.BISQUED, key="mug", count=bisqued, ready_date=MONDAY),),
        "sure_percent": 90,
    }
    return studio(**(what | changes))


def glazed(problem: Problem, key: str = "blue", **given: object) -> tuple[int, int]:
    """Pots of a line in glaze loads of the plan, before and after spares; all else is the same."""
    before = plan(problem=problem, seconds=30)
    after = with_spares(problem=problem, plan=before, **given)  # type: ignore[arg-type]
    assert broken_promises(problem=problem, plan=after) == ()
    assert (after.kept, after.cost_pence) == (before.kept, before.cost_pence)
    assert len(after.loads) == len(before.loads)
    first, second = (
        sum(dict(load.contents).get(key, 0) for load in one.loads if load.schedule_key != BISQUE)
        for one in (before, after)
    )
    return first, second


def test_as_many_as_the_chance_takes() -> None:
    # The mean asks for 5 / 0.8 = 6.25, so 7; those are enough in 85 of 100 such firings.
    assert [round(chance(n, 5), 3) for n in (7, 8, 9)] == [0.852, 0.944, 0.980]
    assert glazed(asked(sure_percent=85)) == (7, 7)
    assert glazed(asked(sure_percent=90)) == (7, 8)
    assert glazed(asked(sure_percent=95)) == (7, 9)


def test_off_is_the_mean() -> None:
    problem = asked(sure_percent=0)
    found = plan(problem=problem, seconds=30)
    assert with_spares(problem=problem, plan=found) is found
    assert [row.spare for row in kept_rows(problem=problem, plan=found)] == [0]


def test_the_rows_say_what_was_reached() -> None:
    problem = asked()
    before = plan(problem=problem, seconds=30)
    after = with_spares(problem=problem, plan=before)
    rows = [kept_rows(problem=problem, plan=one)[0] for one in (before, after)]
    assert [(row.kept, row.spare, row.more_to_be_sure) for row in rows] == [(5, 0, 1), (5, 1, 0)]
    assert [row.how_sure for row in rows] == ["very likely, 9 in 10", "very likely, 9 in 10"]


def test_where_there_is_room_for_one_only_the_promise_has_it() -> None:
    # 5 blue ask for 7 places and 1 green for 2 (1 / 0.8 = 1.25): 9, and the eighth blue is spare.
    both = replace(SALE, counts=(("blue", 5), ("green", 1)))
    assert glazed(asked(9, needs=(both,))) == (7, 7)
    assert glazed(asked(9, needs=(both,)), "green") == (2, 2)
    assert glazed(asked(10, needs=(both,))) == (7, 8)
    # Seven places and one firing: one piece of the 6 is short, and nothing spare takes its place.
    tight = asked(7, needs=(both,), days=_one_start())
    before = plan(problem=tight, seconds=30)
    assert before.short == 1
    assert with_spares(problem=tight, plan=before).kept == before.kept


def _one_start() -> tuple[object, ...]:
    days = studio().days
    return tuple(replace(one, may_start=i == 5) for i, one in enumerate(days))


def test_spares_are_thrown_and_bisqued_in_loads_that_are_made_anyway() -> None:
    # Nothing stands: what the mean throws is 7, and one more goes through both firings.
    problem = asked(bisqued=0)
    before = plan(problem=problem, seconds=30)
    after = with_spares(problem=problem, plan=before)
    assert broken_promises(problem=problem, plan=after) == ()
    thrown = [sum(j.count for j in p.jobs if j.work == "throwing") for p in (before, after)]
    assert thrown == [7, 8]


def test_no_spare_where_nothing_is_left_to_make_it_of() -> None:
    assert glazed(asked(bisqued=7)) == (7, 7)
    assert glazed(asked(bisqued=8, sure_percent=95)) == (7, 8)


def test_a_load_that_does_not_stand_takes_fewer() -> None:
    def stands(most: int) -> object:
        return lambda load: sum(count for _, count in load.contents) <= most

    assert glazed(asked(sure_percent=95), stands=stands(8)) == (7, 8)
    assert glazed(asked(sure_percent=95), stands=stands(7)) == (7, 7)
    assert glazed(asked(sure_percent=95), stop=lambda: True) == (7, 7)


def test_the_question_keeps_how_sure() -> None:
    problem = asked(sure_percent=97)
    assert problem_from_json(problem_to_json(problem)) == problem
    for wrong in (-1, 100):
        with pytest.raises(BadProblem, match="chances in 100 are 0 to 99"):
            asked(sure_percent=wrong)


def test_what_opens_early_for_a_later_date_is_no_spare_of_the_first() -> None:
    # One graded mug is the first date's; the firing for the second opens before both.
    first = replace(SALE, key="first", due_date=SALE.due_date - DAY, counts=(("blue", 1),))
    stood = OnHand(stage=Stage.GRADED, key="blue", count=1, ready_date=MONDAY)
    base = asked()
    problem = replace(base, needs=(first, SALE), on_hand=(*base.on_hand, stood))
    found = with_spares(problem=problem, plan=plan(problem=problem, seconds=30))
    rows = kept_rows(problem=problem, plan=found)
    # The second date's 5 take 7 by the mean and 8 for nine in ten: one is spare, not eight.
    assert [(row.need, row.spare) for row in rows] == [(first.name, 1), (SALE.name, 1)]
