"""What is planned, what does the plan in force ask today, and what does the planner ask?"""

from __future__ import annotations

from datetime import date

from studio.craft.problem import Problem
from studio.planning.question import ask


def problem(*, today_date: date, last_date: date | None = None) -> Problem:
    """The planner's question of today. Raises ``BadProblem`` when no plan could be sought."""
    return ask(today_date=today_date, last_date=last_date).problem
