"""Is throwing that no firing needs taken out, and none that one does?"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from studio.craft.answer import Job, Plan, Work
from studio.craft.backplan import plan as seek_plan
from studio.craft.plan_trim import without_needless_throwing
from studio.craft.problem import OnHand, Problem, Stage, Yields
from studio.craft.referee import broken_promises
from tests.craft.backplan_cases import BIG, BLUE, MONDAY, MUG, SALE, day, studio

HALF = Yields(drying_percent=50, bisque_percent=100, glaze_percent=100)


def asked(**changes: object) -> Problem:
    what: dict[str, object] = {"kilns": (BIG,), "lines": (BLUE,), "wares": (MUG,)}
    return studio(**(what | changes))


def thrown(plan: Plan) -> int:
    return sum(job.count for job in plan.jobs if job.work is Work.THROWING)


def with_more(plan: Plan, *more: tuple[int, int]) -> Plan:
    """The plan with so many mugs thrown besides on each of these days."""
    jobs = [Job(work=Work.THROWING, date=day(when), key="mug", count=n) for when, n in more]
    return replace(plan, jobs=(*plan.jobs, *jobs))


def trimmed(problem: Problem, plan: Plan) -> Plan:
    assert broken_promises(problem=problem, plan=plan) == ()
    found = without_needless_throwing(problem=problem, plan=plan)
    assert broken_promises(problem=problem, plan=found) == ()
    assert (found.loads, found.kept, found.cost_pence) == (plan.loads, plan.kept, plan.cost_pence)
    return found


def test_what_is_needed_stays() -> None:
    problem = asked()
    plan = seek_plan(problem=problem, seconds=30)
    assert thrown(plan) == 5
    assert trimmed(problem, plan) is plan


def test_what_is_thrown_too_late_or_too_much_goes() -> None:
    problem = asked()
    plan = seek_plan(problem=problem, seconds=30)
    early = min(job.date for job in plan.jobs if job.work is Work.THROWING)
    index = (early - MONDAY) // timedelta(days=1)
    assert thrown(trimmed(problem, with_more(plan, (12, 3), (19, 2)))) == 5
    more = with_more(plan, (0, 1)) if index else with_more(plan, (1, 1))
    assert thrown(trimmed(problem, more)) == 5


def test_losses_in_drying_are_reckoned_with() -> None:
    # Five of ten dry well: ten are needed, and an eleventh gives no whole one.
    problem = asked(yields=HALF)
    plan = seek_plan(problem=problem, seconds=30)
    assert thrown(plan) == 10
    assert thrown(trimmed(problem, with_more(plan, (14, 1)))) == 10


def test_what_stands_already_makes_throwing_needless() -> None:
    problem = asked()
    plan = seek_plan(problem=problem, seconds=30)
    stood = OnHand(stage=Stage.THROWN, key="mug", count=5, ready_date=MONDAY)
    richer = replace(problem, on_hand=(stood,))
    assert thrown(trimmed(richer, plan)) == 0
    assert SALE.counts == (("blue", 5),)
