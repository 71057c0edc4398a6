"""What does a surer plan cost more, and for what, so that a potter may choose by price?"""

from __future__ import annotations

from dataclasses import dataclass

from studio.craft.answer import Plan
from studio.craft.money import show_money
from studio.craft.plan_odds import SURE_PERCENT, chance, odds
from studio.craft.plan_reading import KeptRow, counted, kept_rows
from studio.craft.plan_record import plan_from_json
from studio.craft.plan_surer import gain, sure_wants
from studio.craft.problem import Problem
from studio.planning.models import BackPlan
from studio.planning.selectors.words import say_sure
from studio.web.selectors import the_studio


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """Two plans for one question: which this is, what the surer gives, and the way to the other."""

    is_surer: bool
    said: str
    gains: tuple[str, ...]
    button: str
    other_cost_pence: int


def choice_of(backplan: BackPlan, *, problem: Problem, plan: Plan) -> Choice | None:
    """The choice that a stored plan still leaves; none where one plan alone was found."""
    if backplan.other is None or backplan.state != BackPlan.State.PROPOSED:
        return None
    return choice(problem=problem, plan=plan, other=plan_from_json(backplan.other["plan"]))


def choice(*, problem: Problem, plan: Plan, other: Plan) -> Choice:
    """A plan beside another of the same question, one dearer and surer than the other."""
    is_surer = plan.cost_pence > other.cost_pence
    sure, cheap = (plan, other) if is_surer else (other, plan)
    found = gain(problem=problem, plan=sure, other=cheap)
    price = f"{_firings(found.firings)}{_money(found.pence)} more"
    wish = say_sure(problem.sure_percent or SURE_PERCENT)
    dates = "1 line of a date is" if len(found.wants) == 1 else f"{len(found.wants)} lines are"
    if is_surer:
        said = (
            f"This is the surer of two plans: {price} than the cheaper one, so that {dates} "
            f"{wish} sure."
        )
    else:
        said = f"This is the cheaper of two plans. For {price}, {dates} {wish} sure in the other."
    return Choice(
        is_surer=is_surer,
        said=said,
        gains=_gains(problem, sure, cheap, set(found.wants)),
        button=f"Take the {'cheaper' if is_surer else 'surer'} plan: {_money(other.cost_pence)}",
        other_cost_pence=other.cost_pence,
    )


def in_all(*, problem: Problem, plan: Plan) -> str:
    """'How sure: 9 of 12 lines come 9 in 10 or surer; the least sure is ..., 7 in 10.'"""
    rows = [row for row in kept_rows(problem=problem, plan=plan) if row.kept]
    if not rows:
        return ""
    sure = sure_wants(problem=problem, plan=plan)
    wish = say_sure(problem.sure_percent or SURE_PERCENT)
    surest = sum((row.need_key, row.line_key) in sure for row in rows)
    least = min(rows, key=lambda row: _percent(problem, plan, row))
    said = f"How sure: {surest} of {len(rows)} lines come whole, {wish} or surer"
    if surest == len(rows):
        return f"{said}."
    share = _percent(problem, plan, least)
    return f"{said}; the least sure is {least.line} for {least.need}, {share} in 100."


def _gains(
    problem: Problem, sure: Plan, cheap: Plan, wants: set[tuple[str, str]]
) -> tuple[str, ...]:
    return tuple(
        f"{counted(row.asked, row.line)} for {row.need}: {_percent(problem, sure, row)} in 100 "
        f"sure, {_percent(problem, cheap, row)} in the cheaper plan"
        for row in kept_rows(problem=problem, plan=sure)
        if (row.need_key, row.line_key) in wants
    )


def _percent(problem: Problem, plan: Plan, row: KeptRow) -> int:
    at = odds(problem=problem, plan=plan, line_key=row.line_key, due_date=row.due_date)
    return round(100 * chance(problem=problem, line_key=row.line_key, at=at))


def _firings(count: int) -> str:
    if count == 0:
        return "as many firings, "
    return f"{count} firing{'' if count == 1 else 's'} and " if count > 0 else ""


def _money(pence: int) -> str:
    return show_money(pence, currency=the_studio().currency)
