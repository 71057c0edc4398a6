"""What is planned, what does the plan in force ask today, and what does the planner ask?"""

from studio.planning.selectors.due import DueWork, due_work
from studio.planning.selectors.page import PlanPage, plan_page, strip, unreadable
from studio.planning.selectors.plans import drift, in_force, overtaken, problem, proposed, stored
from studio.planning.selectors.question import Question, ask, plan_rule
from studio.planning.selectors.standing import StandRow, stand_rows

__all__ = [
    "DueWork",
    "PlanPage",
    "Question",
    "StandRow",
    "ask",
    "drift",
    "due_work",
    "in_force",
    "overtaken",
    "plan_page",
    "plan_rule",
    "problem",
    "proposed",
    "stand_rows",
    "stored",
    "strip",
    "unreadable",
]
