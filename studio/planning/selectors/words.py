"""How good is a plan, in a potter's words: what is proven, and how far could a better one go?"""

from __future__ import annotations

from studio.craft.answer import Outcome, Plan
from studio.craft.money import show_money
from studio.craft.problem import Problem
from studio.web.selectors import the_studio


def verdict(plan: Plan) -> str:
    """Is it all kept, can it not be done at all, or was it not found in the time given?"""
    looked = _seconds(plan)
    return {
        Outcome.KEPT: "",
        Outcome.IMPOSSIBLE: (
            "It cannot all be done. However long one looks, with these kilns, hands and dates no "
            "plan brings more."
        ),
        Outcome.NOT_FOUND: (
            f"Not all of it was found in {looked}. That does not mean it cannot be done: a longer "
            "look may bring more."
        ),
    }[plan.outcome]


def proof(*, problem: Problem, plan: Plan) -> str:
    """What is known about better plans: how many fewer could be short, how much could be saved."""
    parts = []
    if plan.outcome == Outcome.NOT_FOUND:
        least = min(need.importance for need in problem.needs)
        fewer = min(plan.short, -(-(plan.weighted_short - plan.short_bound) // least))
        parts.append(f"At best {fewer} fewer could be short; that is not known yet.")
    elif plan.outcome == Outcome.IMPOSSIBLE:
        parts.append("No plan can bring more.")
    gap = plan.cost_pence - plan.cost_bound_pence
    if plan.outcome != Outcome.NOT_FOUND:
        parts.append(
            "No plan that brings as much can be cheaper."
            if gap <= 0
            else f"No plan that brings as much can be more than {_money(gap)} cheaper."
        )
    return " ".join(parts)


def _money(pence: int) -> str:
    return show_money(pence, currency=the_studio().currency)


def _seconds(plan: Plan) -> str:
    return "a second" if plan.seconds < 1.5 else f"{plan.seconds:.0f} seconds"
