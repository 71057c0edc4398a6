"""Does a surer plan light what its dates take, keep every promise, and cost what it says?"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from math import comb

from studio.craft.answer import Plan, Work
from studio.craft.backplan import plan as seek_plan
from studio.craft.plan_spares import with_spares
from studio.craft.plan_surer import (
    SPARE,
    Surer,
    as_asked,
    gain,
    lacking,
    sure_wants,
    surer,
    with_spares_asked,
)
from studio.craft.problem import BISQUE, OnHand, PlanLine, Problem, Stage, Yields
from studio.craft.referee import broken_promises
from tests.craft.backplan_cases import BIG, BLUE, MONDAY, MUG, SALE, studio

GREEN = PlanLine(key="green", name="green mug", ware_key="mug", schedule_key="cone 6")
BOTH = replace(SALE, counts=(("blue", 5), ("green", 5)))
DAY = timedelta(days=1)


def chance(started: int, wanted: int) -> float:
    """Of so many pots, each good in 8 of 10, at least so many are: the terms summed by hand."""
    return sum(comb(started, k) * 0.8**k * 0.2 ** (started - k) for k in range(wanted, started + 1))


def asked(places: int = 7, *, bisqued: int = 30, **changes: object) -> Problem:
    """Five blue mugs of which seven places are enough on average, and one kiln of so many."""
    what: dict[str, object] = {
        "kilns": (replace(BIG, glaze_room_tenths=places * MUG.room_tenths),),
        "lines": (BLUE, GREEN),
        "needs": (SALE,),
        "yields": Yields(drying_percent=100, bisque_percent=100, glaze_percent=80),
        "on_hand": (OnHand(stage=Stage.BISQUED, key="mug", count=bisqued, ready_date=MONDAY),),
        "sure_percent": 92,
    }
    return studio(**(what | changes))


def found_for(problem: Problem) -> Plan:
    return with_spares(problem=problem, plan=seek_plan(problem=problem, seconds=30))


def near(problem: Problem, before: Plan) -> Plan:
    return seek_plan(problem=problem, seconds=30, before=before)


def glazed(plan: Plan, key: str = "blue") -> int:
    return sum(dict(one.contents).get(key, 0) for one in plan.loads if one.schedule_key != BISQUE)


def test_another_firing_is_lit_for_a_date_that_was_not_sure() -> None:
    assert [round(chance(n, 5), 3) for n in (7, 8)] == [0.852, 0.944]
    problem = asked()
    cheap = found_for(problem)
    assert (glazed(cheap), len(cheap.loads)) == (7, 1)
    assert lacking(problem=problem, plan=cheap) == {("sale", "blue")}
    sure = surer(problem=problem, plan=cheap, seek=near)
    assert sure is not None
    assert broken_promises(problem=problem, plan=sure) == ()
    assert (glazed(sure), len(sure.loads)) == (8, 2)
    # One glaze firing more, at 1500.
    assert gain(problem=problem, plan=sure, other=cheap) == Surer(
        wants=(("sale", "blue"),), firings=1, pence=1500
    )
    # What is promised is what was asked; the floor is that of the question as asked.
    assert [(row.asked, row.kept) for row in sure.kept] == [(5, 5)]
    assert sure.cost_bound_pence == cheap.cost_bound_pence == 1500
    assert not sure.proven
    # Nobody is asked to grade more than what is promised.
    assert sum(job.count for job in sure.jobs if job.work is Work.FINISHING) == 5


def test_spares_that_have_room_ask_for_no_other_plan() -> None:
    problem = asked(8)
    cheap = found_for(problem)
    assert glazed(cheap) == 8
    assert lacking(problem=problem, plan=cheap) == frozenset()
    assert surer(problem=problem, plan=cheap, seek=unasked) is None


def unasked(problem: Problem, before: Plan) -> Plan:
    raise AssertionError("sought without need")


def test_no_wish_asks_for_nothing() -> None:
    problem = asked(sure_percent=0)
    cheap = found_for(problem)
    assert surer(problem=problem, plan=cheap, seek=unasked) is None


def test_a_date_that_cannot_get_sure_lights_nothing() -> None:
    # One day only may start a firing, and the kiln is full.
    days = tuple(replace(one, may_start=n == 4) for n, one in enumerate(studio().days))
    problem = asked(days=days)
    cheap = found_for(problem)
    rounds = []

    def seek(more: Problem, before: Plan) -> Plan:
        rounds.append(more)
        return near(more, before)

    assert surer(problem=problem, plan=cheap, seek=seek) is None
    assert len(rounds) == 1


def test_the_question_asks_for_spares_beside_the_promise() -> None:
    problem = asked()
    cheap = found_for(problem)
    more = with_spares_asked(problem=problem, plan=cheap, wants=[("sale", "blue")])
    *promised, spares = more.needs
    assert [one.counts for one in promised] == [SALE.counts]
    # Eight started are 6.4 on average: 6 good ones ask for 8, as 6 / 0.8 = 7.5; 5 are promised.
    assert (spares.key, spares.counts, spares.importance) == (SPARE + "sale", (("blue", 1),), 1)
    assert promised[0].importance > SALE.importance
    assert spares.due_date == SALE.due_date


def test_one_that_gets_sure_is_had_without_the_one_that_cannot() -> None:
    # Bisqued ware for 16: seven each on average are 14, eight each would take 16.
    problem = asked(14, needs=(BOTH,), bisqued=15, wares=(replace(MUG, throwing_min=999),))
    cheap = found_for(problem)
    assert len(lacking(problem=problem, plan=cheap)) == 2
    sure = surer(problem=problem, plan=cheap, seek=near)
    assert sure is not None
    assert broken_promises(problem=problem, plan=sure) == ()
    assert len(sure_wants(problem=problem, plan=sure)) == 1
    assert sorted((glazed(sure), glazed(sure, "green"))) == [7, 8]


def test_a_plan_that_gives_up_a_promise_for_spares_is_not_taken() -> None:
    problem = asked()
    cheap = found_for(problem)

    def greedy(more: Problem, before: Plan) -> Plan:
        found = near(more, before)
        kept = tuple(
            row if row.need_key.startswith(SPARE) else replace(row, kept=row.kept - 1)
            for row in found.kept
        )
        return replace(found, kept=kept)

    assert surer(problem=problem, plan=cheap, seek=greedy) is None
    assert surer(problem=problem, plan=cheap, seek=lambda more, before: None) is None
    assert surer(problem=problem, plan=cheap, seek=near, finish=lambda found: None) is None


def test_what_was_found_with_spares_is_told_as_it_was_asked() -> None:
    first = replace(SALE, key="first", due_date=SALE.due_date - DAY, counts=(("blue", 3),))
    problem = asked(20, needs=(first, SALE))
    cheap = seek_plan(problem=problem, seconds=30)
    wants = [(kept.need_key, kept.line_key) for kept in cheap.kept]
    found = near(with_spares_asked(problem=problem, plan=cheap, wants=wants), cheap)
    told = as_asked(problem=problem, found=found, plan=cheap)
    assert broken_promises(problem=problem, plan=told) == ()
    assert [row.need_key for row in told.kept] == ["first", "sale"]
    assert told.cost_pence == found.cost_pence
    # 3 + 5 of the line are promised, so so many are graded, the earliest first.
    graded = [job.count for job in told.jobs if job.work is Work.FINISHING]
    assert sum(graded) == 8
