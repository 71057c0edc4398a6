"""Which plans are there, what does one say, and how has the studio moved on since?"""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, timedelta

from studio.craft.answer import Plan
from studio.craft.calendar import say_date
from studio.craft.plan_record import plan_from_json
from studio.craft.problem import BadProblem, Problem
from studio.planning.models import BackPlan
from studio.planning.selectors.question import (
    ALL_READY,
    LEAST_DAYS,
    NOTHING_PROMISED,
    ask,
    question_from_json,
)


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


def drift(*, backplan: BackPlan, today_date: date, now: datetime | None = None) -> str:
    """How the studio has moved on since a plan was worked out, in a sentence; '' when it has not.

    Such a plan may still be put in force: whoever does it should know.
    """
    before = stored(backplan)[0]
    try:
        today = ask(today_date=today_date, now=now, last_date=_looked_less_far(before)).problem
    except BadProblem:
        return (
            "Since this plan was worked out the records have changed so that none could be "
            "worked out now. Work it out again to see why."
        )
    moved = [
        words
        for differs, words in (
            (before.today_date != today_date, f"today is no longer {say_date(before.today_date)}"),
            (_pots(before) != _pots(today), "pots have moved"),
            (before.needs != today.needs, "what is promised has changed"),
            (_days(before, today) != _days(today, before), "the hands or days off have changed"),
            (before.kilns != today.kilns, "the kilns have changed"),
        )
        if differs
    ]
    if not moved:
        return ""
    listed = " and ".join([", ".join(moved[:-1]), moved[-1]] if moved[:-1] else moved)
    return f"Since this plan was worked out, {listed}. Work it out again to be sure."


def overtaken(*, backplan: BackPlan, today_date: date, now: datetime | None = None) -> str:
    """What a plan in force no longer reckons with, in a sentence; '' when it still holds.

    Pots that move and days that pass are what a plan is for; more promises, fewer hands and other
    kilns are not.
    """
    before = stored(backplan)[0]
    try:
        today = ask(today_date=today_date, now=now, last_date=_looked_less_far(before)).problem
    except BadProblem as wrong:
        if set(wrong.causes) & {ALL_READY, NOTHING_PROMISED}:
            return ""  # all that the plan was for is done or past
        return "No plan could be worked out as things stand now. Work it out again to see why."
    changed = [
        words
        for differs, words in (
            (_asks_more(before, today), "more is promised than it reckons with"),
            (_days(before, today) != _days(today, before), "the hands or days off have changed"),
            (before.kilns != today.kilns, "the kilns have changed"),
        )
        if differs
    ]
    if not changed:
        return ""
    listed = " and ".join([", ".join(changed[:-1]), changed[-1]] if changed[:-1] else changed)
    return f"Since this plan was put in force, {listed}. Work it out again."


def _asks_more(before: Problem, today: Problem) -> bool:
    reckoned = {(need.key, line): n for need in before.needs for line, n in need.counts}
    return any(
        n > reckoned.get((need.key, line), 0) for need in today.needs for line, n in need.counts
    )


def _looked_less_far(problem: Problem) -> date | None:
    """The last day, when somebody asked for a plan that leaves later dates out."""
    last_due = max(need.due_date for need in problem.needs)
    usual = max(last_due + timedelta(days=1), problem.today_date + timedelta(days=LEAST_DAYS))
    return problem.last_date if problem.last_date < usual else None


def _pots(problem: Problem) -> Counter[tuple[str, str]]:
    counted: Counter[tuple[str, str]] = Counter()
    for hand in problem.on_hand:
        counted[hand.stage.value, hand.key] += hand.count
    for load in problem.pinned:
        if load.filled:
            for key, count in load.contents:
                counted[f"kiln {load.kiln_key} {load.schedule_key}", key] += count
    return counted


def _days(problem: Problem, other: Problem) -> list[object]:
    first = max(problem.today_date, other.today_date)
    last = min(problem.last_date, other.last_date)
    return [day for day in problem.days if first <= day.date <= last]
