"""Which plans are there, and what does one say?"""

from __future__ import annotations

from datetime import date, datetime

from studio.craft.answer import Plan
from studio.craft.plan_record import plan_from_json
from studio.craft.problem import Problem
from studio.planning.models import BackPlan
from studio.planning.selectors.question import ask, question_from_json


def problem(
    *, today_date: date, now: datetime | None = None, last_date: date | None = None
) -> Problem:
    """The planner's question of today. Raises ``BadProblem`` when no plan could be sought."""
    return ask(today_date=today_date, now=now, last_date=last_date).problem


def proposed() -> BackPlan | None:
    """The plan that waits to be accepted, if there is one."""
    return BackPlan.objects.filter(state=BackPlan.State.PROPOSED).select_related("by").first()


def in_force() -> BackPlan | None:
    """The plan that was accepted, if there is one."""
    return BackPlan.objects.filter(state=BackPlan.State.ACCEPTED).select_related("by").first()


def stored(backplan: BackPlan) -> tuple[Problem, Plan, tuple[str, ...]]:
    """The question, the answer and the remarks of a stored plan. Raises ``BadRecord``."""
    question = question_from_json(backplan.problem)
    return question.problem, plan_from_json(backplan.plan), question.remarks
