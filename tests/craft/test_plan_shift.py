"""Are pieces that found no room put into other firings, with every promise as it was?"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from studio.craft.answer import Plan, Work
from studio.craft.backplan import plan as seek_plan
from studio.craft.plan_shift import shifted, without
from studio.craft.problem import BISQUE, Load, OnHand, Problem, Stage
from studio.craft.referee import broken_promises
from tests.craft.backplan_cases import BIG, BLUE, MONDAY, MUG, SALE, SURE, studio


def asked() -> Problem:
    """Fourteen blue mugs from bisqued ware; the one kiln has 10 places."""
    stood = OnHand(stage=Stage.BISQUED, key="mug", count=20, ready_date=MONDAY)
    return studio(
        kilns=(BIG,),
        lines=(BLUE,),
        wares=(MUG,),
        needs=(replace(SALE, counts=(("blue", 14),)),),
        on_hand=(stood,),
        yields=SURE,
    )


def two_loads(problem: Problem) -> tuple[Plan, Load, Load]:
    plan = seek_plan(problem=problem, seconds=30)
    small, big = sorted(
        (load for load in plan.loads if load.schedule_key != BISQUE),
        key=lambda load: sum(n for _, n in load.contents),
    )
    assert sum(n for load in (small, big) for _, n in load.contents) == 14
    return plan, small, big


def held(load: Load) -> int:
    return sum(n for _, n in load.contents)


def standing(most: int) -> object:
    return lambda load: held(load) <= most


def test_pieces_go_to_another_firing_that_has_room() -> None:
    problem = asked()
    plan, small, big = two_loads(problem)
    moved = shifted(
        problem=problem,
        plan=plan,
        load=big,
        left=Counter({"blue": 1}),
        stands=lambda load: True,
    )
    assert moved is not None
    assert broken_promises(problem=problem, plan=moved) == ()
    assert (moved.kept, moved.cost_pence) == (plan.kept, plan.cost_pence)
    assert sum(job.count for job in moved.jobs) == sum(job.count for job in plan.jobs)
    at = plan.loads.index(big), plan.loads.index(small)
    assert [held(moved.loads[n]) for n in at] == [held(big) - 1, held(small) + 1]


def test_not_where_the_other_would_not_stand_or_has_no_room() -> None:
    problem = asked()
    plan, small, big = two_loads(problem)

    def tried(count: int, most: int) -> Plan | None:
        return shifted(
            problem=problem,
            plan=plan,
            load=big,
            left=Counter({"blue": count}),
            stands=standing(most),  # type: ignore[arg-type]
        )

    assert tried(1, held(small)) is None
    assert tried(10, 99) is None  # ten places a load: with the least in it, not ten more


def test_what_is_spare_is_left_out_and_what_is_needed_is_not() -> None:
    problem = asked()
    plan, small, big = two_loads(problem)
    assert without(problem=problem, plan=plan, load=big, left=Counter({"blue": 1})) is None
    # One mug fewer is wanted: the fourteenth is spare, and is neither fired nor glazed.
    fewer = replace(problem, needs=(replace(SALE, counts=(("blue", 13),)),))
    one = Counter({"blue": 1})
    last = max((job for job in plan.jobs if job.work is Work.FINISHING), key=lambda job: job.date)
    graded = replace(last, count=last.count - 1)
    rich = replace(
        plan,
        kept=tuple(replace(row, asked=13, kept=13) for row in plan.kept),
        jobs=tuple(graded if job is last else job for job in plan.jobs),
    )
    assert broken_promises(problem=fewer, plan=rich) == ()
    left = without(problem=fewer, plan=rich, load=small, left=one)
    assert left is not None
    assert broken_promises(problem=fewer, plan=left) == ()
    assert sum(job.count for job in left.jobs if job.work is Work.GLAZING) == 13
