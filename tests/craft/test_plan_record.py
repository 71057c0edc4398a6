"""Does a question or a plan come back from its record as it was, and is a spoilt one refused?"""

from __future__ import annotations

import json
from dataclasses import fields
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.craft.answer import Binds, Cause, Ended, FiringMore, Job, Kept, Plan, Work
from studio.craft.plan_record import (
    BadRecord,
    plan_from_json,
    plan_to_json,
    problem_from_json,
    problem_to_json,
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
    TrialRule,
    Ware,
    Yields,
)

TODAY = date(2026, 11, 25)
DAYS = st.integers(0, 30).map(lambda i: TODAY + timedelta(days=i))
COUNTS = st.integers(1, 99)
CONTENTS = st.dictionaries(st.sampled_from(["1-1", "7"]), COUNTS).map(lambda d: tuple(d.items()))
LOADS = st.builds(
    Load,
    kiln_key=st.just("1"),
    schedule_key=st.sampled_from([BISQUE, "2"]),
    start_date=DAYS,
    busy_days=st.integers(1, 4),
    contents=CONTENTS,
    filled=st.booleans(),
)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """Questions with every field used."""
    minutes = st.integers(0, 1440)
    return Problem(
        today_date=TODAY,
        last_date=TODAY + timedelta(days=30),
        days=tuple(
            HandsDay(
                date=TODAY + timedelta(days=i),
                throwing_min=draw(minutes),
                glazing_min=draw(minutes),
                finishing_min=draw(minutes),
                may_start=draw(st.booleans()),
            )
            for i in range(31)
        ),
        kilns=(
            PlanKiln(
                key="1",
                name=draw(st.text(min_size=1, max_size=8)),
                glaze_room_tenths=200,
                bisque_room_tenths=300,
                clear_height_mm=400,
                circuit_key="1",
                takes_trials=draw(st.booleans()),
                runs=(
                    Run(schedule_key=BISQUE, busy_days=2, cost_pence=900),
                    Run(schedule_key="2", busy_days=draw(st.integers(1, 4)), cost_pence=0),
                ),
            ),
        ),
        circuits=(Circuit(key="1", at_once=1),),
        wares=(
            Ware(
                key="1-1",
                name="Mug",
                room_tenths=10,
                height_mm=100,
                throwing_min=12,
                glazing_min=5,
                finishing_min=4,
                drying_days=5,
            ),
        ),
        lines=(
            PlanLine(
                key="7", name="Mug", ware_key="1-1", schedule_key="2", proven=draw(st.booleans())
            ),
        ),
        needs=(
            Need(
                key="sale-1",
                name=draw(st.text(max_size=8)),
                due_date=draw(DAYS),
                buffer_days=3,
                importance=draw(st.integers(1, 5)),
                counts=(("7", draw(COUNTS)),),
            ),
        ),
        on_hand=tuple(
            OnHand(stage=stage, key=key, count=draw(st.integers(0, 9)), ready_date=draw(DAYS))
            for stage, key in ((Stage.THROWN, "1-1"), (Stage.GRADED, "7"))
        ),
        pinned=tuple(
            load
            for load in draw(st.lists(LOADS, max_size=2))
            if all((key == "1-1") == (load.schedule_key == BISQUE) for key, _ in load.contents)
        ),
        yields=Yields(drying_percent=draw(st.integers(1, 100))),
        trial_rule=TrialRule(
            least_pieces=1,
            most_pieces=draw(st.integers(1, 9)),
            share_percent=draw(st.integers(1, 100)),
        ),
    )


PLANS = st.builds(
    Plan,
    jobs=st.lists(
        st.builds(
            Job, work=st.sampled_from(Work), date=DAYS, key=st.sampled_from("7"), count=COUNTS
        ),
        max_size=3,
    ).map(tuple),
    loads=st.lists(LOADS, max_size=3).map(tuple),
    kept=st.integers(1, 50).map(
        lambda n: (Kept(need_key="sale-1", line_key="7", asked=n, kept=n // 2, in_buffer=n // 4),)
    ),
    cost_pence=st.integers(0, 10**6),
    weighted_short=st.integers(0, 99),
    short_bound=st.integers(0, 99),
    cost_bound_pence=st.integers(0, 10**6),
    proven=st.booleans(),
    causes=st.lists(
        st.builds(Cause, binds=st.sampled_from(Binds), gain=st.integers(0, 9)), max_size=2
    ).map(tuple),
    firings_more=st.lists(
        st.builds(
            FiringMore,
            kiln_key=st.just("1"),
            schedule_key=st.just("2"),
            start_date=DAYS,
            gain=COUNTS,
            kiln_is_taken=st.booleans(),
        ),
        max_size=2,
    ).map(tuple),
    seconds=st.floats(0, 100, allow_nan=False),
    ended=st.sampled_from(Ended),
)


@given(problem=problems())
def test_a_question_comes_back_as_it_was(problem: Problem) -> None:
    assert problem_from_json(json.loads(json.dumps(problem_to_json(problem)))) == problem


@given(plan=PLANS)
def test_a_plan_comes_back_as_it_was(plan: Plan) -> None:
    assert plan_from_json(json.loads(json.dumps(plan_to_json(plan)))) == plan


EMPTY_PLAN = Plan(
    jobs=(),
    loads=(),
    kept=(),
    cost_pence=0,
    weighted_short=0,
    short_bound=0,
    cost_bound_pence=0,
    proven=True,
)


def test_whole_seconds_are_read_as_seconds() -> None:
    record = plan_to_json(EMPTY_PLAN) | {"seconds": 2}
    assert plan_from_json(record).seconds == 2.0


@pytest.mark.parametrize("missing", [field.name for field in fields(Plan)])
def test_a_missing_field_is_named(missing: str) -> None:
    record = plan_to_json(EMPTY_PLAN)
    del record[missing]
    with pytest.raises(BadRecord, match=rf"plan\.{missing}: is missing"):
        plan_from_json(record)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"version": 2}, "plan: is of version 2, not 1"),
        ({"version": None}, "plan: is of version None, not 1"),
        ({"extra": 1}, "plan.extra: is not known here"),
        ({"jobs": 3}, "plan.jobs: is not a list"),
        ({"jobs": ["x"]}, "plan.jobs[0]: is not an object"),
        ({"cost_pence": "3"}, "plan.cost_pence: is str, not int"),
        ({"cost_pence": True}, "plan.cost_pence: is bool, not int"),
        ({"proven": 1}, "plan.proven: is int, not bool"),
        ({"causes": [{"binds": "luck", "gain": 1}]}, "'luck' is not a valid Binds"),
        ({"causes": [{"binds": 4, "gain": 1}]}, "plan.causes[0].binds: is int, not text"),
        (
            {"kept": [{"need_key": "a", "line_key": "b", "asked": 1, "kept": 2, "in_buffer": 0}]},
            "plan.kept[0]: kept lies between 0 and asked",
        ),
        (
            {"jobs": [{"work": "throwing", "date": "2026-02-30", "key": "a", "count": 1}]},
            "plan.jobs[0].date: day",
        ),
        (
            {
                "loads": [
                    {
                        "kiln_key": "1",
                        "schedule_key": "2",
                        "start_date": "2026-11-25",
                        "busy_days": 1,
                        "contents": [["a", 1, 2]],
                        "filled": True,
                    }
                ]
            },
            "plan.loads[0].contents[0]: has 3 parts, not 2",
        ),
    ],
)
def test_a_spoilt_record_is_refused_with_its_place(
    change: dict[str, object], sentence: str
) -> None:
    with pytest.raises(BadRecord) as caught:
        plan_from_json(plan_to_json(EMPTY_PLAN) | change)
    assert sentence in str(caught.value)


def test_what_is_no_object_is_refused() -> None:
    with pytest.raises(BadRecord, match="problem: is not an object"):
        problem_from_json([])
