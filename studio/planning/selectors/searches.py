"""Which search is looking, how far has it come, and what may it be freed of?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from studio.craft import plan_reading as reading
from studio.craft.plan_record import plan_from_json
from studio.firings.models import Firing
from studio.planning.models import BackPlan, Search
from studio.planning.selectors.question import question_from_json
from studio.planning.selectors.words import proof


@dataclass(frozen=True, kw_only=True, slots=True)
class SearchPage:
    """A search in words."""

    search: Search
    lasts_s: int
    headline: str
    proof: str
    cost_pence: int | None

    @property
    def is_looking(self) -> bool:
        """Is it still at it?"""
        return self.search.state == Search.State.LOOKING


def search_now(*, now: datetime) -> SearchPage | None:
    """The search that is looking, if one is."""
    found = Search.objects.filter(state=Search.State.LOOKING).select_related("by").first()
    return search_page(search=found, now=now) if found else None


def search_page(*, search: Search, now: datetime) -> SearchPage:
    """How far a search has come."""
    lasts = ((search.ended_at or now) - search.begun_at).total_seconds()
    if search.best is None:
        return SearchPage(
            search=search, lasts_s=round(lasts), headline="", proof="", cost_pence=None
        )
    problem = question_from_json(search.problem).problem
    plan = plan_from_json(search.best)
    return SearchPage(
        search=search,
        lasts_s=round(lasts),
        headline=reading.headline(problem=problem, plan=plan),
        proof=proof(problem=problem, plan=plan),
        cost_pence=plan.cost_pence,
    )


def firings_to_free() -> QuerySet[Firing]:
    """The waiting firings that the plan in force asked for."""
    return (
        Firing.objects.filter(
            state=Firing.State.PLANNED,
            planned_by__backplan__state=BackPlan.State.ACCEPTED,
        )
        .select_related("kiln", "schedule")
        .order_by("start_date", "id")
    )
