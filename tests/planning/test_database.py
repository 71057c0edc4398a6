"""Does the database itself refuse what must never be? Each row is written past the services."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, models, transaction

from studio.planning.models import (
    BackPlan,
    CalendarAddress,
    DayOff,
    Hands,
    PlannedFiring,
    PlanRule,
    Search,
    Task,
)
from tests.planning.cast import NOW, TODAY, Cast

DAY = timedelta(days=1)
Write = Callable[[Cast], Any]


def hands(cast: Cast, **values: Any) -> Hands:
    """The hands of a Sunday, which the cast leaves free."""
    own = {"weekday": 6, "throwing_min": 1440, "glazing_min": 1440, "finishing_min": 1440}
    return Hands.objects.create(**{**own, **values})


def rule(**values: int) -> PlanRule:
    """The one row of yields."""
    own = {"drying_percent": 1, "bisque_percent": 100, "glaze_percent": 50}
    return PlanRule.objects.create(**{"id": 1, **own, **values})


def plan(cast: Cast, **values: Any) -> BackPlan:
    """A plan that looks no further than its own day."""
    own = {
        "state": "proposed", "today_date": TODAY, "last_date": TODAY, "problem": {}, "plan": {},
        "by": cast.by, "made_at": NOW,
    }  # fmt: skip
    return BackPlan.objects.create(**{**own, **values})


def task(cast: Cast, **values: Any) -> Task:
    """One mug to throw."""
    own = {"work": "throwing", "date": TODAY, "form": cast.mug, "clay_lot": cast.clay, "count": 1}
    if "backplan" not in values:
        values["backplan"] = plan(cast)
    return Task.objects.create(**{**own, **values})


def search(cast: Cast, **values: Any) -> Search:
    """A search that has just begun."""
    own = {"seconds": 8, "by": cast.by, "begun_at": NOW, "beat_at": NOW}
    return Search.objects.create(**{**own, **values})


def address(cast: Cast, **values: Any) -> CalendarAddress:
    """Where Ada's calendar reads."""
    own = {"nonce": "n" * 43, "name": "Ada's phone", "by": cast.by, "made_at": NOW}
    return CalendarAddress.objects.create(**{**own, **values})


def two_of(make: Callable[[Cast], object], cast: Cast) -> None:
    for _ in range(2):
        make(cast)


def two_days_off(cast: Cast) -> None:
    for why in ("fair", "market"):
        DayOff.objects.create(date=TODAY, why=why)


def two_plans(cast: Cast, state: str) -> None:
    for _ in range(2):
        plan(cast, state=state)


def planned_by_two(cast: Cast) -> None:
    firing = cast.firing(cast.wide, cast.bisque)
    for state in ("accepted", "put_aside"):
        PlannedFiring.objects.create(backplan=plan(cast, state=state), firing=firing)


MUST_FAIL: dict[str, Write] = {
    "hands.weekday": lambda c: hands(c, weekday=0),
    "hands_weekday": lambda c: hands(c, weekday=7),
    "hands_a_day_at_most throwing": lambda c: hands(c, throwing_min=1441),
    "hands_a_day_at_most glazing": lambda c: hands(c, glazing_min=1441),
    "hands_a_day_at_most finishing": lambda c: hands(c, finishing_min=1441),
    "dayoff.date": two_days_off,
    "plan_rule_is_one": lambda c: rule(id=2),
    "plan_rule_sure 49": lambda c: rule(sure_percent=49),
    "plan_rule_sure 100": lambda c: rule(sure_percent=100),
    **{
        f"plan_rule_yields {step} {percent}": lambda c, s=step, p=percent: rule(
            **{f"{s}_percent": p}
        )
        for step in ("drying", "bisque", "glaze")
        for percent in (0, 101)
    },
    "one_plan_in_force": lambda c: two_plans(c, "accepted"),
    "one_plan_proposed": lambda c: two_plans(c, "proposed"),
    "backplan_state_known": lambda c: plan(c, state="wished"),
    "backplan_looks_ahead": lambda c: plan(c, last_date=TODAY - DAY),
    "one_search_at_a_time": lambda c: two_of(search, c),
    "search_state_known": lambda c: search(c, state="lost", ended_at=NOW),
    "search_ends_once open": lambda c: search(c, ended_at=NOW),
    "search_ends_once closed": lambda c: search(c, state="found"),
    "search_takes_time": lambda c: search(c, seconds=0),
    "calendaraddress.nonce": lambda c: two_of(address, c),
    "calendar_address_named": lambda c: address(c, name=""),
    "plannedfiring.firing": planned_by_two,
    "task_counts": lambda c: task(c, count=0),
    "task_coats_unless_throwing coats": lambda c: task(c, coats=c.sky),
    "task_coats_unless_throwing none": lambda c: task(c, work="glazing"),
    "task_coats_unless_throwing work": lambda c: task(c, work="firing", coats=c.sky),
}


@pytest.mark.parametrize("name", list(MUST_FAIL))
def test_the_database_refuses(cast: Cast, name: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        MUST_FAIL[name](cast)


def test_every_constraint_of_the_room_is_tried() -> None:
    tried = {name.split(" ")[0] for name in MUST_FAIL}
    ours = set()
    for model in apps.get_app_config("planning").get_models():
        ours |= {constraint.name for constraint in model._meta.constraints}
        ours |= {
            f"{model._meta.model_name}.{field.name}"
            for field in model._meta.get_fields()
            if isinstance(field, models.Field) and field.unique and not field.primary_key
        }
    assert ours == tried


def test_what_must_be_possible_is(cast: Cast) -> None:
    """Otherwise a check that refuses everything would pass the tests above."""
    hands(cast)
    DayOff.objects.create(date=TODAY)
    rule()
    mine = plan(cast, state="accepted")
    two_plans(cast, "put_aside")
    PlannedFiring.objects.create(backplan=mine, firing=cast.firing(cast.wide, cast.bisque))
    search(cast)
    two_of(lambda c: search(c, state="cut_off", ended_at=NOW), cast)
    address(cast)
    address(cast, nonce="m" * 43)
    task(cast)
    for work in ("glazing", "finishing"):
        task(cast, backplan=mine, work=work, coats=cast.sky)
