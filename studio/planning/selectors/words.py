"""How good is a plan, in a potter's words: what is proven, and how far could a better one go?"""

from __future__ import annotations

from studio.craft.answer import Outcome, Plan
from studio.craft.money import show_money
from studio.craft.plan_reading import KeptRow
from studio.craft.problem import Problem
from studio.web.selectors import the_studio


def gets(row: KeptRow) -> str:
    """'6 come, 9 in 10 sure; 2 short', '40 come and 3 spare, 9 in 10 sure'."""
    if not row.kept:
        return f"none come; {row.short} short"
    sure = row.how_sure
    if " in 10" in sure:
        sure = f"{sure_words(row)} sure"
    come = "1 comes" if row.kept == 1 else f"{row.kept} come"
    if row.spare:
        come += f" and {row.spare} spare"
    return f"{come}{', ' if sure else ''}{sure}" + (f"; {row.short} short" if row.short else "")


def sure_words(row: KeptRow) -> str:
    """'9 in 10', 'less than 2 in 10', 'as good as sure': how sure a row is, in short."""
    return row.how_sure.rpartition(", ")[2]


def say_sure(percent: int) -> str:
    """'9 in 10', '95 in 100': a wish in words."""
    return f"{percent} in 100" if percent % 10 else f"{percent // 10} in 10"


def proof(*, problem: Problem, plan: Plan) -> str:
    """What is known about better plans: how many fewer could be short, how much could be saved."""
    parts = []
    if plan.outcome == Outcome.NOT_FOUND:
        least = min(need.importance for need in problem.needs)
        fewer = min(plan.short, -(-(plan.weighted_short - plan.short_bound) // least))
        parts.append(f"At best {fewer} fewer could be short; that is not known yet.")
    gap = plan.cost_pence - plan.cost_bound_pence
    if plan.outcome != Outcome.NOT_FOUND and plan.cost_bound_pence <= 0 < gap:
        parts.append("How much cheaper another could be is not known yet.")
    elif plan.outcome != Outcome.NOT_FOUND:
        # The floor is one for what plans bring on average: spares only make a plan dearer.
        bring = "brings as much, however sure," if problem.sure_percent else "brings as much"
        parts.append(
            "No plan that brings as much can be cheaper."
            if gap <= 0
            else f"No plan that {bring} can be more than {_money(gap)} cheaper."
        )
    return " ".join(parts)


def _money(pence: int) -> str:
    return show_money(pence, currency=the_studio().currency)
