"""Do a plan's sentences and rows say what its numbers say?"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest

from studio.craft.answer import Binds, Cause, Job, Kept, Plan, Work
from studio.craft.plan_reading import (
    cause_rows,
    firing_rows,
    headline,
    is_open,
    kept_rows,
    proof,
    work_days,
)
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
from studio.planning.selectors.drawings import strip

TODAY = date(2026, 11, 25)
DAY = timedelta(days=1)
SALE = date(2027, 1, 9)


def a_problem(**changed: object) -> Problem:
    fields: dict[str, object] = {
        "today_date": TODAY,
        "last_date": SALE + DAY,
        "days": tuple(
            HandsDay(date=TODAY + i * DAY, throwing_min=240, glazing_min=120, finishing_min=120)
            for i in range(47)
        ),
        "kilns": (
            PlanKiln(
                key="1",
                name="Wide",
                glaze_room_tenths=400,
                bisque_room_tenths=500,
                clear_height_mm=400,
                circuit_key="1",
                takes_trials=True,
                runs=(
                    Run(schedule_key=BISQUE, busy_days=2, cost_pence=900),
                    Run(schedule_key="2", busy_days=2, cost_pence=1400),
                ),
            ),
        ),
        "circuits": (Circuit(key="1", at_once=1),),
        "wares": (
            Ware(
                key="1-1",
                name="Mug",
                room_tenths=10,
                height_mm=107,
                throwing_min=12,
                glazing_min=5,
                finishing_min=4,
                drying_days=5,
            ),
        ),
        "lines": (PlanLine(key="7", name="Mug in Sky", ware_key="1-1", schedule_key="2"),),
        "needs": (
            Need(
                key="sale-1",
                name="Winter sale",
                due_date=SALE,
                buffer_days=3,
                importance=1,
                counts=(("7", 40),),
            ),
        ),
    }
    return Problem(**(fields | changed))  # type: ignore[arg-type]


def a_plan(comes: int = 34, **changed: object) -> Plan:
    fields: dict[str, object] = {
        "jobs": (),
        "loads": (),
        "kept": (Kept(need_key="sale-1", line_key="7", asked=40, kept=comes),),
        "cost_pence": 0,
        "weighted_short": 40 - comes,
        "short_bound": 40 - comes,
        "cost_bound_pence": 0,
        "proven": True,
        "seconds": 8.0,
    }
    return Plan(**(fields | changed))  # type: ignore[arg-type]


def gloss(days: int, count: int) -> Load:
    return Load(
        kiln_key="1",
        schedule_key="2",
        start_date=TODAY + days * DAY,
        busy_days=2,
        contents=(("7", count),),
    )


@pytest.mark.parametrize(
    ("causes", "sentence"),
    [
        ((), "34 of 40 wanted by Sat 9 Jan 2027; 6 short."),
        (
            (Cause(binds=Binds.KILN_DAYS, gain=6),),
            "34 of 40 wanted by Sat 9 Jan 2027; 6 short: kiln days bind.",
        ),
        (
            (Cause(binds=Binds.DATE, gain=6), Cause(binds=Binds.GLAZING, gain=0)),
            "34 of 40 wanted by Sat 9 Jan 2027; 6 short: the date binds.",
        ),
        (
            (Cause(binds=Binds.GLAZING, gain=1), Cause(binds=Binds.KILN_DAYS, gain=5)),
            "34 of 40 wanted by Sat 9 Jan 2027; 6 short: kiln days and glazing minutes bind.",
        ),
    ],
)
def test_a_shortfall_says_how_many_by_when_and_what_binds(
    causes: tuple[Cause, ...], sentence: str
) -> None:
    assert headline(problem=a_problem(), plan=a_plan(causes=causes)) == sentence


def test_everything_in_time() -> None:
    assert headline(problem=a_problem(), plan=a_plan(40)) == (
        "All 40 wanted by Sat 9 Jan 2027 come in time."
    )
    late = a_plan(40, kept=(Kept(need_key="sale-1", line_key="7", asked=40, kept=40, in_buffer=3),))
    assert headline(problem=a_problem(), plan=late) == (
        "All 40 wanted by Sat 9 Jan 2027 come in time, 3 of them inside the buffer days."
    )


@pytest.mark.parametrize(
    ("changed", "begins", "more"),
    [
        ({}, "Nothing better exists: with these kilns, hands and dates no other", False),
        (
            {"proven": False},
            "No other plan brings more. A cheaper one may exist; it was not",
            False,
        ),
        (
            {"proven": False, "short_bound": 4},
            "This is the best plan found in 8 seconds, not proven to be the best there is: at best "
            "2 fewer could be short.",  # 6 short - 4 proven
            True,
        ),
        (
            {"proven": False, "short_bound": 0, "seconds": 0.4},
            "This is the best plan found in a",
            True,
        ),
    ],
)
def test_what_is_proven_is_told_apart_from_what_was_not_found(
    changed: dict[str, object], begins: str, more: bool
) -> None:
    plan = a_plan(**changed)
    assert proof(problem=a_problem(), plan=plan).startswith(begins)
    assert is_open(plan) is more


def test_a_weighted_gap_is_told_in_pieces() -> None:
    problem = a_problem()
    problem = replace(problem, needs=(replace(problem.needs[0], importance=3),))
    plan = a_plan(weighted_short=18, short_bound=11, proven=False)
    # 18 - 11 = 7 weighted, three a piece: at most 3 pieces.
    assert "at best 3 fewer" in proof(problem=problem, plan=plan)


def test_firings_are_new_kept_not_needed_or_under_way() -> None:
    kept, idle = gloss(5, 1), gloss(9, 1)
    begun = Load(
        kiln_key="1",
        schedule_key=BISQUE,
        start_date=TODAY - DAY,
        busy_days=2,
        contents=(("1-1", 25),),
    )
    problem = a_problem(pinned=(begun, replace(kept, filled=False), replace(idle, filled=False)))
    plan = a_plan(loads=(gloss(20, 30), replace(kept, contents=(("7", 20),))))
    rows = firing_rows(problem=problem, plan=plan, schedules={"2": "Gloss"})
    assert [(row.standing, row.schedule, row.pieces, row.used_percent) for row in rows] == [
        ("under way", "bisque", 25, 50),  # 25 x 10 of 500
        ("kept", "Gloss", 20, 50),  # 20 x 10 of 400
        ("not needed", "Gloss", 0, 0),  # what it was meant for stands in the others
        ("new", "Gloss", 30, 75),
    ]
    drawn = strip(problem=problem, plan=plan)
    assert drawn is not None
    assert [load.label for load in drawn.loads] == [
        "30 × Mug in Sky",
        "20 × Mug in Sky",
        "25 × Mug",
        "not needed",
    ]
    assert [(load.start_date, load.pinned) for load in drawn.loads] == [
        (TODAY + 20 * DAY, False),
        (TODAY + 5 * DAY, True),
        (TODAY - DAY, True),
        (TODAY + 9 * DAY, True),
    ]


def test_a_day_holds_its_work_and_its_kilns() -> None:
    plan = a_plan(
        loads=(gloss(3, 10),),
        jobs=(
            Job(work=Work.THROWING, date=TODAY, key="1-1", count=10),
            Job(work=Work.GLAZING, date=TODAY, key="7", count=6),
            Job(work=Work.FINISHING, date=TODAY + 5 * DAY, key="7", count=8),
        ),
    )
    first, second, third = work_days(problem=a_problem(), plan=plan, schedules={"2": "Gloss"})
    assert [(kind, [(r.count, r.name, r.minutes) for r in rows]) for kind, rows in first.kinds] == [
        ("Throw", [(10, "Mug", 10 * 12)]),
        ("Glaze", [(6, "Mug in Sky", 6 * 5)]),
    ]
    assert first.throwing_min == 120
    assert (second.date, len(second.starts)) == (TODAY + 3 * DAY, 1)
    assert [kind for kind, _ in third.kinds] == ["Grade, photograph and list"]
    assert len(third.opens) == 1


def chance(started: int, wanted: int, p: float) -> float:
    """P(X >= wanted) of the binomial distribution, term by term."""
    return sum(
        math.comb(started, k) * p**k * (1 - p) ** (started - k) for k in range(wanted, started + 1)
    )


def test_how_sure_counts_loads_that_open_in_time_and_what_is_fired() -> None:
    problem = a_problem(
        on_hand=(
            OnHand(stage=Stage.FIRED, key="7", count=4, ready_date=TODAY),
            OnHand(stage=Stage.GRADED, key="7", count=6, ready_date=TODAY),
            OnHand(stage=Stage.GLAZED, key="7", count=9, ready_date=TODAY),
        ),
        yields=Yields(glaze_percent=88),
    )
    plan = a_plan(34, loads=(gloss(3, 14), gloss(10, 14), gloss(44, 50)))
    [row] = kept_rows(problem=problem, plan=plan)
    # 34 kept - 4 fired - 6 graded = 24 must come out of 14 + 14; the third load opens too late.
    expected = chance(28, 24, 0.88)
    assert 0.65 < expected < 0.85
    assert row.how_sure == f"likely, {round(10 * expected)} in 10"
    enough = next(n for n in range(24, 99) if chance(n, 24, 0.88) >= 0.9)
    assert row.more_to_be_sure == enough - 28
    assert row.short == 6


@pytest.mark.parametrize(
    ("started", "wanted", "words"),
    [
        (10, 0, "sure: fired already"),
        (40, 20, "as good as sure"),
        (20, 16, "very likely, 9 in 10"),
        (10, 9, "likely, 7 in 10"),
        (9, 9, "unlikely, 3 in 10"),
        (20, 20, "very unlikely, less than 2 in 10"),
    ],
)
def test_how_sure_in_words(started: int, wanted: int, words: str) -> None:
    stood = OnHand(stage=Stage.GRADED, key="7", count=40 - wanted, ready_date=TODAY)
    [row] = kept_rows(
        problem=a_problem(on_hand=(stood,)), plan=a_plan(40, loads=(gloss(3, started),))
    )
    assert row.how_sure == words


def test_an_earlier_date_takes_its_share_first() -> None:
    first = Need(
        key="sale-0",
        name="Fair",
        due_date=SALE - 20 * DAY,
        buffer_days=0,
        importance=1,
        counts=(("7", 10),),
    )
    problem = a_problem()
    problem = replace(problem, needs=(*problem.needs, first))
    plan = a_plan(
        loads=(gloss(3, 12), gloss(30, 44)),
        kept=(
            Kept(need_key="sale-1", line_key="7", asked=40, kept=38),
            Kept(need_key="sale-0", line_key="7", asked=10, kept=10),
        ),
    )
    rows = kept_rows(problem=problem, plan=plan)
    assert [row.need for row in rows] == ["Fair", "Winter sale"]
    assert str(round(10 * chance(12, 10, 0.88))) in rows[0].how_sure
    # By the sale 10 + 38 must have come out of 12 + 44.
    assert str(round(10 * chance(56, 48, 0.88))) in rows[1].how_sure


def test_nothing_kept_has_no_chance_and_a_late_line_cannot_be_thrown() -> None:
    problem = a_problem()
    soon = replace(problem.needs[0], due_date=TODAY + 6 * DAY)
    [row] = kept_rows(problem=replace(problem, needs=(soon,)), plan=a_plan(0))
    assert (row.how_sure, row.more_to_be_sure, row.latest_throw_date) == ("", 0, None)


def test_the_latest_throwing_day_is_counted_back() -> None:
    [row] = kept_rows(problem=a_problem(), plan=a_plan())
    # buffer 3 + finishing 1 + glaze 2 + overnight 1 + bisque 2 + drying 5 = 14 days before
    assert row.latest_throw_date == SALE - 14 * DAY


def test_causes_without_gain_are_left_out() -> None:
    rows = list(
        cause_rows(
            a_plan(
                causes=(
                    Cause(binds=Binds.DRYING, gain=0),
                    Cause(binds=Binds.THROWING, gain=2),
                    Cause(binds=Binds.DATE, gain=6),
                )
            )
        )
    )
    assert [(row.binds, row.gain) for row in rows] == [("the date", 6), ("throwing minutes", 2)]
    assert rows[0].freed_by == "a later date"
