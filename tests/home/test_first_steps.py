"""Is a new studio led through its first steps, each line only until it is done?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.home.first_steps import first_steps
from studio.planning.models import BackPlan, Hands
from studio.sales.models import SaleDay, Want
from studio.wares.services import count_in
from studio.web.models import Studio
from tests import make

pytestmark = pytest.mark.django_db


def _sale_day() -> SaleDay:
    opens = timezone.now() + timedelta(days=40)
    return SaleDay.objects.create(name="Spring", members_at=opens, public_at=opens)


def _want() -> None:
    Want.objects.create(sale_day=_sale_day(), line=make.line(), count=6)


def _count_in() -> None:
    count_in(
        form=make.form(),
        clay_lot=make.clay_lot(),
        stage="bisqued",
        count=3,
        made_date=make.MADE,
        by=make.user(),
        at=make.AT,
    )


def _backplan() -> None:
    day = date(2026, 3, 2)
    BackPlan.objects.create(
        today_date=day,
        last_date=day,
        problem={},
        plan={},
        made_at=make.AT,
        by=make.user(),
    )


WAY: list[tuple[str, Callable[[], object]]] = [
    ("Say who you are", lambda: Studio.objects.create(id=1)),
    ("Add a circuit", make.circuit),
    ("Add a kiln", make.kiln),
    ("Add a bisque schedule", make.bisque_schedule),
    ("Add a glaze schedule", make.schedule),
    (
        "Say how long each kiln is busy",
        lambda: [make.run(make.kiln(), one()) for one in (make.bisque_schedule, make.schedule)],
    ),
    ("Add a form", make.form),
    ("Add a clay lot", make.clay_lot),
    ("Add a glaze", make.glaze),
    ("Add coats", make.coats),
    ("Add a line", make.line),
    (
        "Say how much your hands can do",
        lambda: Hands.objects.create(weekday=0, throwing_min=60, glazing_min=60, finishing_min=60),
    ),
    ("Count in what stands here", _count_in),
    ("Set a sale day", _want),
    ("Work out the first plan", _backplan),
]


def left() -> list[str]:
    return [step.text for step in first_steps().left]


def test_each_step_is_asked_in_its_order_until_it_is_taken() -> None:
    asked = [text for text, _ in WAY]
    for done, (text, take) in enumerate(WAY):
        assert left() == asked[done:]
        assert first_steps().done == done
        take()
        assert text not in left()
    assert first_steps().total == len(WAY)
    assert left() == []


def test_every_step_leads_to_a_page_from_the_start_on(signed_in: Client) -> None:
    for _, take in WAY:
        for step in first_steps().left:
            assert signed_in.get(step.url).status_code == 200, step
        take()


def test_today_shows_them_while_some_are_left(signed_in: Client) -> None:
    page = signed_in.get(reverse("today")).text
    assert "First steps" in page
    assert f"0 of {len(WAY)} done" in page
    assert page.index("Say who you are") < page.index(">next<") < page.index("Add a circuit")
    for _, take in WAY[:-1]:
        take()
    page = signed_in.get(reverse("today")).text
    assert f"{len(WAY) - 1} of {len(WAY)} done" in page
    assert "Add a kiln" not in page
    WAY[-1][1]()
    assert "First steps" not in signed_in.get(reverse("today")).text


def test_runs_are_asked_of_the_kiln_that_lacks_one(potter: User) -> None:
    full, empty = make.kiln("Ant"), make.kiln("Bee")
    make.run(full, make.bisque_schedule())
    (step,) = [one for one in first_steps().left if one.text == "Say how long each kiln is busy"]
    assert step.url == reverse("firings:run", args=[full.pk])  # it has no glaze run yet
    make.run(full, make.schedule())
    assert "Say how long each kiln is busy" not in left()
    assert empty.runs.count() == 0  # a kiln that stands still is nobody's first step


def test_a_sale_day_that_asks_for_nothing_is_the_place_to_go_on() -> None:
    day = _sale_day()
    (step,) = [one for one in first_steps().left if one.text == "Set a sale day"]
    assert step.url == reverse("sales:sale", args=[day.pk])


def test_a_plan_page_without_a_plan_leads_to_today(signed_in: Client) -> None:
    page = signed_in.get(reverse("planning:plan")).text
    assert f'<a href="{reverse("today")}">Today</a> names the first steps' in page
