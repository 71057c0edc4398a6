"""Does each planning page show what it should and refuse in words, with nothing half saved?"""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from studio.craft import backplan as craft_backplan
from studio.craft.answer import Plan
from studio.craft.backplan import NotFoundInTime, UnsoundPlan
from studio.firings.models import Firing
from studio.planning import selectors
from studio.planning.models import BackPlan
from studio.planning.selectors import in_force, proposed
from studio.planning.selectors.question import NOTHING_PROMISED
from tests.conftest import MODEL_BACKEND
from tests.planning.cast import NOW, TODAY, Cast
from tests.planning.pages import begin, text, work_out
from tests.planning.proposals import propose

pytestmark = pytest.mark.usefixtures("clock")

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY
Key = Callable[[], str]


PAGES = ["plan", "hands", "days_off", "rules"]


@pytest.mark.parametrize("name", PAGES)
def test_signed_out_people_are_sent_to_sign_in(client: Client, db: None, name: str) -> None:
    answer = client.get(reverse(f"planning:{name}"))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("name", PAGES)
def test_pages_open_in_an_empty_studio(signed_in: Client, name: str) -> None:
    assert signed_in.get(reverse(f"planning:{name}")).status_code == 200


def test_an_empty_studio_is_told_why_there_is_no_plan(signed_in: Client) -> None:
    assert NOTHING_PROMISED in text(signed_in.get("/plan/"))


def test_working_out_with_nothing_promised_says_so(
    signed_in: Client, cast: Cast, form_key: Key
) -> None:
    key = form_key()
    answer = signed_in.post(
        reverse("planning:work_out"), {"form_key": key, "last_date": "2027-01-01"}
    )
    page = text(answer)
    assert answer.status_code == 422
    assert NOTHING_PROMISED in page
    assert 'value="2027-01-01"' in page
    assert key in page
    assert not BackPlan.objects.exists()


def test_a_plan_is_worked_out_shown_and_put_in_force(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    backplan = work_out(signed_in, form_key)
    page = text(signed_in.get("/plan/"))
    assert "All 12 wanted by Sat 9 Jan 2027 come in time." in page
    assert "Put this plan in force" in page
    assert f'href="{reverse("planning:calendar")}"' in page
    assert not re.search(r"\d (Mug|Bowl)", page)
    assert 'class="strip"' in page
    assert "Mug in Sky" in page
    answer = signed_in.post(
        reverse("planning:accept", args=[backplan.pk]), {"form_key": form_key()}, follow=True
    )
    page = text(answer)
    assert "Put a plan in force; its firings: " in page
    assert "in force" in page
    assert "Put this plan in force" not in page
    assert in_force() == backplan
    assert Firing.objects.filter(state="planned").count() == backplan.firings.count() > 0


def test_the_same_form_works_out_one_plan(
    signed_in: Client, wants_mugs: Cast, form_key: Key, monkeypatch: pytest.MonkeyPatch
) -> None:
    key = form_key()
    work_out(signed_in, lambda: key)

    def not_again(**_: object) -> Plan:
        raise AssertionError("sought twice")

    monkeypatch.setattr(craft_backplan, "plan", not_again)
    work_out(signed_in, lambda: key)
    assert BackPlan.objects.count() == 1


def test_what_moved_is_asked_before_the_database_is_held(
    signed_in: Client, wants_mugs: Cast, form_key: Key, monkeypatch: pytest.MonkeyPatch
) -> None:
    backplan = work_out(signed_in, form_key)
    around = len(connection.savepoint_ids)  # what the test itself holds
    depths: list[int] = []

    def drift(**_: object) -> str:
        depths.append(len(connection.savepoint_ids) - around)
        return "pots have moved"

    monkeypatch.setattr(selectors, "drift", drift)
    url = reverse("planning:accept", args=[backplan.pk])
    key = form_key()
    for _ in range(2):
        answer = signed_in.post(url, {"form_key": key}, follow=True)
        assert answer.status_code == 200
    assert depths == [0]
    assert in_force() == backplan


def test_a_plan_not_found_in_time_is_told_apart_from_an_impossible_one(
    signed_in: Client, wants_mugs: Cast, form_key: Key, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slow(*, seconds: float, **_: object) -> Plan:
        raise NotFoundInTime(seconds=seconds)

    monkeypatch.setattr(craft_backplan, "plan", slow)
    answer = begin(signed_in, form_key, seconds="30")
    page = text(signed_in.get(answer.headers["Location"]))
    assert "No plan was found in the time given" in page
    assert "No plan was found in 30 seconds. That does not mean that there is none" in page
    assert "No plan can be looked for yet" not in page
    assert "It cannot all be done" not in page
    assert not BackPlan.objects.exists()


def test_an_unsound_plan_is_not_kept(
    signed_in: Client,
    wants_mugs: Cast,
    form_key: Key,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def wrong(**_: object) -> Plan:
        raise UnsoundPlan("12 finished Mug are wants_mugs, 0 are expected.")

    monkeypatch.setattr(craft_backplan, "plan", wrong)
    answer = begin(signed_in, form_key)
    assert "did not pass its check" in text(signed_in.get(answer.headers["Location"]))
    assert not BackPlan.objects.exists()


def test_a_wrong_date_or_length_of_time_is_refused(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    answer = signed_in.post(
        reverse("planning:work_out"),
        {"form_key": form_key(), "last_date": "soon", "seconds": "9999"},
    )
    page = text(answer)
    assert answer.status_code == 422
    assert "Enter a valid date." in page
    assert "9999 is not one of the available choices." in page


def test_accepting_twice_is_refused_on_the_page(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    backplan = work_out(signed_in, form_key)
    url = reverse("planning:accept", args=[backplan.pk])
    assert signed_in.post(url, {"form_key": form_key()}).status_code == 302
    answer = signed_in.post(url, {"form_key": form_key()})
    assert answer.status_code == 409
    assert "This plan is in force already." in text(answer)


def test_what_moved_since_is_said_when_a_plan_is_put_in_force(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    backplan = work_out(signed_in, form_key)
    wants_mugs.board("T1", 3)
    assert "pots have moved" in text(signed_in.get("/plan/"))
    answer = signed_in.post(
        reverse("planning:accept", args=[backplan.pk]), {"form_key": form_key()}, follow=True
    )
    assert "pots have moved" in text(answer)


def test_the_button_and_the_service_say_the_same(
    signed_in: Client, wants_mugs: Cast, form_key: Key, potter: User
) -> None:
    wants_mugs.board("T1", 12, made_date=TODAY - 20 * DAY)
    backplan = work_out(signed_in, form_key)
    with time_machine.travel(NOW + 40 * DAY, tick=False):
        signed_in.force_login(potter, backend=MODEL_BACKEND)  # the first sign-in has run out
        page = text(signed_in.get(reverse("planning:one", args=[backplan.pk])))
        answer = signed_in.post(
            reverse("planning:accept", args=[backplan.pk]), {"form_key": form_key()}
        )
    sentence = "This plan begins with a firing on "
    assert 'disabled aria-describedby="why-accept"' in page
    assert sentence in page
    assert sentence in text(answer)


def test_a_part_is_ticked_on_the_page_and_what_it_loses_is_said(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    backplan = work_out(signed_in, form_key)
    plan = selectors.stored(backplan)[1]
    page = text(signed_in.get("/plan/"))
    assert len(re.findall(r'name="load" value="\d+" checked', page)) == len(plan.loads)
    assert len(re.findall(r'name="job" value="\d+" checked', page)) == len(plan.jobs)
    url = reverse("planning:accept", args=[backplan.pk])
    key = form_key()
    none = signed_in.post(url, {"form_key": key, "in_part": "on"})
    assert none.status_code == 409
    assert "Nothing is ticked. Tick what to take" in text(none)
    wrong = signed_in.post(url, {"form_key": form_key(), "in_part": "on", "load": "99"})
    assert wrong.status_code == 409
    assert "That is no part of this plan." in text(wrong)
    ticked = {"load": ["0"], "job": [str(n) for n in range(len(plan.jobs))]}
    answer = signed_in.post(url, {"form_key": key, "in_part": "on", **ticked}, follow=True)
    page = text(answer)
    assert "Put a plan in force in part; its firings: 1 new." in page
    assert "Without what was left out: " in page
    assert f"Taken in part: {len(plan.loads) - 1} of its {len(plan.loads)} firings" in page
    assert Firing.objects.filter(state="planned").count() == 1


def test_putting_aside(signed_in: Client, wants_mugs: Cast, form_key: Key) -> None:
    backplan = work_out(signed_in, form_key)
    answer = signed_in.post(
        reverse("planning:put_aside", args=[backplan.pk]), {"form_key": form_key()}
    )
    assert answer.headers["Location"] == "/plan/"
    assert proposed() is None


def test_a_shortfall_without_a_cause_claims_none(signed_in: Client, wants_mugs: Cast) -> None:
    backplan = propose(wants_mugs)
    page = text(signed_in.get(reverse("planning:one", args=[backplan.pk])))
    assert "What falls short" in page
    assert "does not prove that none of them binds" in page
    paper = signed_in.get(reverse("planning:paper", args=[backplan.pk])).content
    printed = " ".join(PdfReader(io.BytesIO(paper)).pages[0].extract_text().split())
    assert "not found in the time given" in printed
    assert "no single limit" not in printed + page.lower()


def test_lists_and_paper(signed_in: Client, wants_mugs: Cast, form_key: Key) -> None:
    backplan = work_out(signed_in, form_key)
    throwing = text(
        signed_in.get(reverse("planning:list", args=[backplan.pk]), {"only": "throwing"})
    )
    assert re.search(r"<td>\d+ × Mug</td>", throwing)
    assert "This plan is not in force." in throwing
    everything = text(signed_in.get(reverse("planning:list", args=[backplan.pk])))
    assert "Grade, photograph and list:" in everything
    answer = signed_in.get(reverse("planning:paper", args=[backplan.pk]))
    assert answer.headers["Content-Type"] == "application/pdf"
    words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    assert "All 12 wanted by Sat 9 Jan 2027" in words
    assert re.search(r"\d+ × Mug in Sky", words)
    assert not re.search(r"\d Mug", words + throwing + everything)


def test_days_that_are_past_are_left_out(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    backplan = work_out(signed_in, form_key)
    url = reverse("planning:list", args=[backplan.pk])
    [first, *_] = selectors.stored(backplan)[1].jobs
    day = f"<h3>{first.date:%a} {first.date.day} {first.date:%b}"
    assert day in text(signed_in.get(url))
    with time_machine.travel(NOW + (first.date - TODAY + DAY), tick=False):
        signed_in.force_login(wants_mugs.by, backend=MODEL_BACKEND)
        assert day not in text(signed_in.get(url))


def test_a_plan_of_another_version_is_refused_in_words(
    signed_in: Client, wants_mugs: Cast, form_key: Key
) -> None:
    backplan = work_out(signed_in, form_key)
    backplan.plan = backplan.plan | {"version": 99}
    backplan.save()
    for name in ("one", "list", "paper"):
        page = text(signed_in.get(reverse(f"planning:{name}", args=[backplan.pk])))
        assert "stored by another version" in page
    answer = signed_in.post(
        reverse("planning:accept", args=[backplan.pk]), {"form_key": form_key()}
    )
    assert "stored by another version" in text(answer)
    assert in_force() is None


def test_an_unknown_plan_is_not_found(signed_in: Client) -> None:
    assert signed_in.get("/plan/999/").status_code == 404
