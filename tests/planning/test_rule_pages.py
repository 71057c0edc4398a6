"""Do the pages of hands, days off and rules keep what is right and refuse the rest in words?"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from studio.firings.models import Firing
from studio.firings.selectors import trial_rule
from studio.planning.models import DayOff, Hands, PlanRule
from studio.web.models import Change
from tests.planning.cast import TODAY, Cast
from tests.planning.pages import text, work_out

pytestmark = pytest.mark.usefixtures("clock")

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY
Key = Callable[[], str]


def week(**changed: object) -> dict[str, object]:
    data: dict[str, object] = {}
    for weekday in range(7):
        data |= {f"throwing_{weekday}": 60, f"glazing_{weekday}": 30, f"finishing_{weekday}": 0}
    return data | changed


def test_hands_are_kept(signed_in: Client, form_key: Key) -> None:
    data = week(may_start_0="on", throwing_6=0) | {"form_key": form_key()}
    assert signed_in.post("/plan/hands/", data).status_code == 302
    assert Hands.objects.count() == 7
    assert Hands.objects.get(weekday=0).may_start
    assert not Hands.objects.get(weekday=1).may_start
    assert 'value="60"' in text(signed_in.get("/plan/hands/"))


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("1441", "Monday, throwing: a day has 1440 minutes."),
        ("-5", "Monday, throwing: minutes are 0 or more."),
        ("two", "Monday, throwing: write a whole number of minutes."),
        ("", "Monday, throwing: write the minutes, 0 for none."),
    ],
)
def test_wrong_minutes_are_refused_and_stay_typed(
    signed_in: Client, form_key: Key, typed: str, sentence: str
) -> None:
    data = week(throwing_0=typed) | {"form_key": form_key()}
    answer = signed_in.post("/plan/hands/", data)
    page = text(answer)
    assert answer.status_code == 422
    assert sentence in page
    assert not Hands.objects.exists()
    assert not typed or f'value="{typed}"' in page


def test_a_day_off_is_taken_and_given_back(signed_in: Client, form_key: Key) -> None:
    url = "/plan/days-off/"
    day = (TODAY + DAY).isoformat()
    signed_in.post(url, {"form_key": form_key(), "day": day, "why": "market"})
    assert "market" in text(signed_in.get(url))
    off = DayOff.objects.get()
    signed_in.post(reverse("planning:work_after_all", args=[off.pk]), {"form_key": form_key()})
    assert not DayOff.objects.exists()
    assert Change.objects.count() == 2


def test_a_day_off_names_what_it_hits_and_offers_to_plan_again(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    backplan = work_out(signed_in, form_key)
    signed_in.post(reverse("planning:accept", args=[backplan.pk]), {"form_key": form_key()})
    firing = Firing.objects.filter(state="planned").earliest("start_date", "id")
    task = backplan.tasks.earliest("date", "id")
    url, key = "/plan/days-off/", form_key()
    day = {"form_key": key, "day": task.date.isoformat(), "why": "ill"}
    answer = signed_in.post(url, day)
    page = text(answer)
    assert answer.status_code == 422
    assert "This is planned on that day" in page
    assert f"Throw {task.count} × Mug" in page
    assert 'value="ill"' in page
    assert not DayOff.objects.exists()
    other = signed_in.post(url, day | {"day": firing.start_date.isoformat(), "all_the_same":
                                       task.date.isoformat()})  # fmt: skip
    assert f"{firing} would start" in text(other)
    assert not DayOff.objects.exists()
    sure = day | {"all_the_same": task.date.isoformat()}
    assert signed_in.post(url, sure).status_code == 302
    signed_in.post(
        url,
        {"form_key": form_key(), "day": firing.start_date.isoformat(),
         "all_the_same": firing.start_date.isoformat()},
    )  # fmt: skip
    page = text(signed_in.get(url))
    assert "Work the plan out again" in page
    assert f"{firing} would start" in page
    page = text(signed_in.get("/plan/"))
    assert "the hands or days off have changed" in page
    assert re.search(rf'name="freed" value="{firing.pk}"[^>]* checked', page)


def test_a_replan_after_a_day_off_moves_what_was_let_go_and_lists_it(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    first = work_out(signed_in, form_key)
    signed_in.post(reverse("planning:accept", args=[first.pk]), {"form_key": form_key()})
    bisque = Firing.objects.filter(state="planned").earliest("start_date", "id")
    others = set(Firing.objects.filter(state="planned").exclude(pk=bisque.pk))
    DayOff.objects.create(date=bisque.start_date)
    second = work_out(signed_in, form_key, freed=str(bisque.pk))
    page = text(signed_in.get("/plan/"))
    assert "What changes from the plan before (1)" in page
    assert "Moved: bisque to " in page
    answer = signed_in.post(
        reverse("planning:accept", args=[second.pk]), {"form_key": form_key()}, follow=True
    )
    assert f"its firings: 1 new, {len(others)} kept, 1 called off." in text(answer)
    bisque.refresh_from_db()
    assert bisque.state == "called_off"
    assert others <= set(Firing.objects.filter(state="planned"))


def test_a_firing_that_is_not_of_the_plan_in_force_cannot_be_let_go(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    backplan = work_out(signed_in, form_key)
    signed_in.post(reverse("planning:accept", args=[backplan.pk]), {"form_key": form_key()})
    own = wants_mugs.firing(wants_mugs.wide, wants_mugs.gloss, start_date=TODAY + 2 * DAY)
    answer = signed_in.post(
        reverse("planning:work_out"), {"form_key": form_key(), "freed": str(own.pk)}
    )
    assert answer.status_code == 422
    assert f"{own.pk} is not one of the available choices." in text(answer)


def test_a_past_day_off_is_refused_and_stays_typed(signed_in: Client, form_key: Key) -> None:
    day = (TODAY - DAY).isoformat()
    answer = signed_in.post("/plan/days-off/", {"form_key": form_key(), "day": day})
    page = text(answer)
    assert answer.status_code == 422
    assert "Tue 24 Nov 2026 is past. A day off is today or later." in page
    assert f'value="{day}"' in page
    assert not DayOff.objects.exists()


RULE = {
    "drying_percent": 95,
    "bisque_percent": 97,
    "glaze_percent": 85,
    "least_pieces": 2,
    "most_pieces": 5,
}


def test_rules_are_kept(signed_in: Client, form_key: Key) -> None:
    assert 'value="88"' in text(signed_in.get("/plan/rules/"))
    assert signed_in.post("/plan/rules/", RULE | {"form_key": form_key()}).status_code == 302
    assert PlanRule.objects.get().glaze_percent == 85
    assert trial_rule().most_pieces == 5
    assert 'name="most_pieces" value="5"' in text(signed_in.get("/plan/rules/"))


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"glaze_percent": 101}, "Glaze firing: 101 of 100 is no yield. Give 1 to 100."),
        ({"least_pieces": 7}, "A trial of at most 5 cannot have at least 7."),
    ],
)
def test_rules_out_of_range_are_refused_on_the_page(
    signed_in: Client, form_key: Key, changed: dict[str, int], sentence: str
) -> None:
    answer = signed_in.post("/plan/rules/", RULE | changed | {"form_key": form_key()})
    assert answer.status_code == 422
    assert sentence in text(answer)
    assert not PlanRule.objects.exists()
