"""Do chances go by the record of the line where there is one, and by the stated yield elsewhere?"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from math import comb

import pytest

from studio.craft.answer import Kept, Plan
from studio.craft.learnt import Batch, Record, chance_through, learn, start_through
from studio.craft.plan_odds import Odds, chance, enough, is_sure, odds, say_chance
from studio.craft.plan_reading import kept_rows
from studio.craft.plan_record import problem_from_json, problem_to_json
from studio.craft.problem import BadProblem, Load, PastKind, PastStep, Problem, Yields
from tests.craft.backplan_cases import BIG, BLUE, MONDAY, MUG, SALE, studio

DAY = timedelta(days=1)
GOOD = ((18, 20), (19, 20), (17, 20), (18, 20))
BAD = ((9, 20), (12, 20), (10, 20), (13, 20))


def kind(key: str, batches: tuple[tuple[int, int], ...], *, form: str, body: str) -> PastKind:
    return PastKind(key=key, form_key=form, body_key=body, batches=batches)


def past(own: tuple[tuple[int, int], ...]) -> tuple[PastStep, ...]:
    """The record of glazing in the hand (nothing lost) and of the glaze fire."""
    return (
        PastStep(
            guess_percent=99,
            kinds=(kind(MUG.key, ((40, 40), (40, 40)), form="mug", body="grey"),),
        ),
        PastStep(
            guess_percent=88,
            kinds=(
                kind(BLUE.key, own, form="mug", body="grey"),
                kind("another mug", GOOD, form="mug", body="red"),
                kind("a bowl", GOOD, form="bowl", body="grey"),
                kind("a jar", GOOD, form="jar", body="red"),
            ),
        ),
    )


def question(own: tuple[tuple[int, int], ...] | None) -> Problem:
    return studio(
        kilns=(BIG,),
        lines=(BLUE,),
        needs=(SALE,),
        yields=Yields(glaze_percent=80),
        sure_percent=90,
        past=() if own is None else past(own),
    )


def at(started: int, wanted: int = 10, loads: int = 1) -> Odds:
    return Odds(wanted=wanted, started=started, loads=loads)


def test_without_a_record_each_pot_comes_by_the_stated_yield() -> None:
    by_hand = sum(comb(12, k) * 0.8**k * 0.2 ** (12 - k) for k in range(10, 13))
    problem = question(None)
    assert chance(problem=problem, line_key="blue", at=at(12)) == pytest.approx(by_hand)
    assert chance(problem=problem, line_key="blue", at=at(0, wanted=0)) == 1


@pytest.mark.parametrize("loads", [1, 3])
@pytest.mark.parametrize("own", [GOOD, BAD, ()])
def test_with_one_it_is_what_the_record_of_the_line_and_its_like_says(
    own: tuple[tuple[int, int], ...], loads: int
) -> None:
    def batches(rows: tuple[tuple[int, int], ...]) -> tuple[Batch, ...]:
        return tuple(Batch(good=good, of=of) for good, of in rows)

    steps = (
        learn(Record(line=batches(((40, 40), (40, 40)))), guess_percent=99),
        learn(
            Record(
                line=batches(own),
                form=(batches(GOOD),),
                body=(batches(GOOD),),
                rest=(batches(GOOD),),
            ),
            guess_percent=88,
        ),
    )
    problem = question(own)
    found = chance(problem=problem, line_key="blue", at=at(13, loads=loads))
    assert found == pytest.approx(chance_through(steps, started=13, wanted=10, loads=loads))
    start = start_through(steps, wanted=10, chance_percent=90, loads=loads)
    assert enough(problem=problem, line_key="blue", at=at(0, loads=loads)) == start


def test_a_line_that_comes_out_worse_asks_for_more() -> None:
    numbers = [enough(problem=question(own), line_key="blue", at=at(0)) for own in (GOOD, BAD)]
    assert numbers[0] is not None
    assert numbers[1] is not None
    # About 90 and 55 of 100 come out: 10 good ones want some 11 and 18 on average, and spares.
    assert 11 < numbers[0] < 18 < numbers[1]


def test_where_bad_loads_forbid_the_wish_no_number_is_named() -> None:
    ruined = ((0, 20), (20, 20)) * 4
    problem = question(ruined)
    assert enough(problem=problem, line_key="blue", at=at(0)) is None
    plan = loaded(6)
    assert not is_sure(problem=problem, plan=plan, kept=plan.kept[0])
    [row] = kept_rows(problem=problem, plan=plan)
    assert row.more_to_be_sure == 0


def loaded(*counts: int) -> Plan:
    """A plan that glaze fires so many mugs a load, each load in time."""
    return Plan(
        jobs=(),
        loads=tuple(
            Load(
                kiln_key=BIG.key,
                schedule_key=BLUE.schedule_key,
                start_date=MONDAY + n * DAY,
                busy_days=1,
                contents=((BLUE.key, count),),
            )
            for n, count in enumerate(counts)
        ),
        kept=(Kept(need_key=SALE.key, line_key=BLUE.key, asked=5, kept=5),),
        cost_pence=0,
        weighted_short=0,
        short_bound=0,
        cost_bound_pence=0,
        proven=False,
    )


def test_hardly_less_than_the_wish_is_as_sure_as_wished() -> None:
    # Of 7 with 8 of 10 good, 5 come in 85.2 of 100 cases, of 6 in 65.5; 9 in 10 is the wish.
    by_hand = [sum(comb(n, k) * 0.8**k * 0.2 ** (n - k) for k in range(5, n + 1)) for n in (6, 7)]
    assert by_hand[0] < 0.85 < by_hand[1] < 0.9
    problem = question(None)
    for count, sure in ((6, False), (7, True)):
        plan = loaded(count)
        assert is_sure(problem=problem, plan=plan, kept=plan.kept[0]) is sure
    # 99 in 100 leave 1: half of it less is 98.5.
    plan = loaded(9)
    assert sum(comb(9, k) * 0.8**k * 0.2 ** (9 - k) for k in range(5, 10)) < 0.985
    wished = replace(problem, sure_percent=99)
    assert not is_sure(problem=wished, plan=plan, kept=plan.kept[0])


def test_a_plan_is_read_by_its_loads() -> None:
    problem = question(GOOD)
    plan = loaded(4, 3)
    found = odds(problem=problem, plan=plan, line_key="blue", due_date=SALE.due_date)
    assert found == Odds(wanted=5, started=7, loads=2)
    [row] = kept_rows(problem=problem, plan=plan)
    assert row.how_sure == say_chance(chance(problem=problem, line_key="blue", at=found))


def test_the_record_is_kept_with_the_question_and_checked() -> None:
    problem = question(BAD)
    assert problem_from_json(problem_to_json(problem)) == problem
    with pytest.raises(BadProblem, match="record of blue: good pieces are 0 to all of a batch"):
        kind("blue", ((3, 2),), form="mug", body="grey")
    with pytest.raises(BadProblem, match="a guess is 1 to 99"):
        replace(problem.past[0], guess_percent=100)
