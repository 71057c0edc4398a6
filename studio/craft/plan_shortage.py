"""What does a plan say of what it does not bring: is it sure, how many can be had, what helps?

Pure: a question and its answer in, sentences out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from studio.craft.answer import FiringMore, Outcome, Plan
from studio.craft.calendar import say_date
from studio.craft.problem import BISQUE, Problem


def outcome_words(*, problem: Problem, plan: Plan) -> str:
    """Kept, proven impossible, or not found in time: three different sentences."""
    if plan.outcome is Outcome.KEPT:
        return "Everything asked for is kept."
    if plan.outcome is Outcome.IMPOSSIBLE:
        return (
            f"It cannot all be made: {_pieces(plan.short)} short in every plan there is with these "
            "kilns, hands and dates."
            if _one_importance(problem)
            else f"It cannot all be made: no plan with these kilns, hands and dates does better "
            f"than {plan.short} short, weighed by how much each date matters."
        )
    return (
        f"{_pieces(plan.short)} short in the best plan found in this time. Nothing proves that "
        "they cannot be made: look longer."
    )


def most_that_can_be_had(*, problem: Problem, plan: Plan) -> tuple[int, int]:
    """Pieces this plan brings, and a number that no plan exceeds [pieces]."""
    asked = sum(kept.asked for kept in plan.kept)
    asked_by = Counter[int]()
    for need in problem.needs:
        asked_by[need.importance] += sum(count for _, count in need.counts)
    left, surely_short = plan.short_bound, 0
    for importance in sorted(asked_by, reverse=True):  # the weightiest make it fewest
        short = min(asked_by[importance], -(-max(0, left) // importance))
        left -= short * importance
        surely_short += short
    return asked - plan.short, asked - min(plan.short, surely_short)


def most_words(*, problem: Problem, plan: Plan) -> str:
    """'34 of 40 can be had; no plan brings more than 36.'"""
    brings, most = most_that_can_be_had(problem=problem, plan=plan)
    asked = sum(kept.asked for kept in plan.kept)
    if brings == most:
        return f"{brings} of {asked} can be had, and no more."
    return f"{brings} of {asked} can be had; no plan brings more than {most}."


def firing_more_words(
    *, problem: Problem, plan: Plan, schedules: Mapping[str, str]
) -> tuple[str, ...]:
    """'A firing more on Tue 12 May in the big kiln would bring 18.', the most first."""
    return tuple(_more(problem, one, schedules) for one in plan.firings_more)


def _more(problem: Problem, more: FiringMore, schedules: Mapping[str, str]) -> str:
    kiln = next(kiln.name for kiln in problem.kilns if kiln.key == more.kiln_key)
    day = next(day for day in problem.days if day.date == more.start_date)
    kind = "bisque" if more.schedule_key == BISQUE else schedules.get(more.schedule_key, "glaze")
    off = "" if day.may_start else ", a day on which none is started now,"
    where = f"in a second kiln like {kiln}" if more.kiln_is_taken else f"in {kiln}"
    return (
        f"A {kind} firing more on {say_date(more.start_date)}{off} {where} would bring {more.gain}."
    )


def _pieces(count: int) -> str:
    return "1 piece is" if count == 1 else f"{count} pieces are"


def _one_importance(problem: Problem) -> bool:
    return len({need.importance for need in problem.needs}) == 1
