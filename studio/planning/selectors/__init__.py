"""What is planned, what does the plan in force ask today, and what does the planner ask?"""

from studio.planning.selectors.addresses import open_addresses, path_of
from studio.planning.selectors.drawings import strip
from studio.planning.selectors.due import DueWork, due_work
from studio.planning.selectors.hits import Hit, day_hits, hits_ahead, on_days_off
from studio.planning.selectors.moved import drift, overtaken
from studio.planning.selectors.page import PlanPage, plan_page, unreadable
from studio.planning.selectors.parts import lost_without, not_needed
from studio.planning.selectors.plans import in_force, problem, proposed, stored
from studio.planning.selectors.question import Question, ask, plan_rule
from studio.planning.selectors.searches import (
    SearchPage,
    firings_to_free,
    search_now,
    search_page,
)
from studio.planning.selectors.slips import may_wait_until
from studio.planning.selectors.standing import StandRow, stand_rows
from studio.planning.selectors.yields import yield_rows

__all__ = [
    "DueWork",
    "Hit",
    "PlanPage",
    "Question",
    "SearchPage",
    "StandRow",
    "ask",
    "day_hits",
    "drift",
    "due_work",
    "firings_to_free",
    "hits_ahead",
    "in_force",
    "lost_without",
    "may_wait_until",
    "not_needed",
    "on_days_off",
    "open_addresses",
    "overtaken",
    "path_of",
    "plan_page",
    "plan_rule",
    "problem",
    "proposed",
    "search_now",
    "search_page",
    "stand_rows",
    "stored",
    "strip",
    "unreadable",
    "yield_rows",
]
