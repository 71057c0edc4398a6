"""Does a search beside the request tell how far it is, stop when asked, and lose nothing?"""

from __future__ import annotations

import html
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.urls import reverse

from studio.craft import backplan as craft_backplan
from studio.craft.answer import Ended, Plan, Progress
from studio.craft.backplan import NotFoundInTime
from studio.planning import services
from studio.planning.models import BackPlan, Search
from studio.planning.selectors import ask, proposed, search_page, stored
from studio.planning.services import searching
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.conftest import MODEL_BACKEND
from tests.planning.cast import NOW, TODAY, Cast, make_cast

pytestmark = pytest.mark.usefixtures("clock")

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY
SILENT = NOW + searching.SILENT_AFTER + timedelta(seconds=1)
Key = Callable[[], str]
Tell = Callable[[Progress], None]


def begin(cast: Cast, *, seconds: float = 60) -> Search:
    return services.begin(question=ask(today_date=TODAY), seconds=seconds, by=cast.by, at=NOW)


def text(answer: Any) -> str:
    """A page as people read it."""
    return html.unescape(answer.content.decode())


def best_of(cast: Cast) -> Plan:
    """A sound plan for the question of today."""
    return craft_backplan.plan(problem=ask(today_date=TODAY).problem, steps=1, seconds=60)


def told(plan: Plan, *, seconds: float = 4.0) -> Progress:
    return Progress(
        seconds=seconds,
        short=plan.short,
        weighted_short=plan.weighted_short,
        in_buffer=plan.in_buffer,
        cost_pence=plan.cost_pence,
        short_bound=0,
        cost_bound_pence=plan.cost_pence - 400,
        plan=plan,
    )


def test_a_search_ends_with_a_proposal(wants_mugs: Cast) -> None:
    search = begin(wants_mugs)
    assert (search.state, BackPlan.objects.count()) == ("looking", 0)
    searching.run(search.pk)
    search.refresh_from_db()
    assert search.state == "found"
    assert search.backplan == proposed()
    assert search.ended_at == NOW
    assert Change.objects.get().by == wants_mugs.by


def test_one_search_at_a_time(wants_mugs: Cast, other_potter: User) -> None:
    begin(wants_mugs)
    with pytest.raises(Refusal, match="ada began to look for a plan at 09:00, and it is still"):
        services.begin(question=ask(today_date=TODAY), seconds=8, by=other_potter, at=NOW)
    assert Search.objects.count() == 1


def test_the_best_so_far_is_written_and_a_stop_is_heeded(
    wants_mugs: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    search, best = begin(wants_mugs), best_of(wants_mugs)
    seen: list[Any] = []

    def slow(
        *, progress: Callable[[Progress], None], stop: Callable[[], bool], **_: object
    ) -> Plan:
        progress(told(best))
        for _ in range(200):
            if stop():
                return craft_backplan.replace(best, ended=Ended.STOP, seconds=4.0)
            threading.Event().wait(0.05)
        raise AssertionError("was not stopped")

    beat = searching._beat

    def beat_then_stop(search_id: int, *rest: Any) -> bool:
        done = beat(search_id, *rest)
        seen.append(search_page(search=Search.objects.get(pk=search_id), now=NOW))
        if seen[-1].headline:
            services.ask_to_stop(search=search, at=NOW)
        return done

    monkeypatch.setattr(craft_backplan, "plan", slow)
    monkeypatch.setattr(searching, "_beat", beat_then_stop)
    searching.run(search.pk)
    search.refresh_from_db()
    assert search.state == "stopped"
    assert seen[0].headline == "All 12 wanted by Sat 9 Jan 2027 come in time."
    floor = "No plan that brings as much, however sure, can be more than £4.00 cheaper."
    assert floor in seen[0].proof
    assert search.backplan is not None
    assert stored(search.backplan)[2][0] == (
        "The search was stopped after 4 seconds; this is the best it had found."
    )


def test_stopping_before_any_plan_stores_none(
    wants_mugs: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    search = begin(wants_mugs)
    services.ask_to_stop(search=search, at=NOW)

    def none(*, seconds: float, **_: object) -> Plan:
        raise NotFoundInTime(seconds=seconds)

    monkeypatch.setattr(craft_backplan, "plan", none)
    searching.run(search.pk)
    search.refresh_from_db()
    assert (search.state, search.backplan) == ("not_found", None)
    assert search.said == [
        "The search was stopped before it had found any plan. Nothing was stored."
    ]


def test_a_search_that_has_ended_is_not_stopped(wants_mugs: Cast) -> None:
    search = begin(wants_mugs)
    searching.run(search.pk)
    with pytest.raises(Refusal, match="This search has ended already"):
        services.ask_to_stop(search=search, at=NOW)


def test_a_search_cut_off_by_a_restart_says_so_and_keeps_its_best(
    wants_mugs: Cast, signed_in: Client
) -> None:
    search, best = begin(wants_mugs), best_of(wants_mugs)
    look = searching.Look()
    look.told(told(best))
    assert searching._beat(search.pk, look, look.best, NOW + timedelta(seconds=4))
    search.refresh_from_db()
    assert not services.tend(search=search, at=NOW + timedelta(seconds=19))  # 15 after its sign
    with time_machine.travel(NOW + timedelta(seconds=20), tick=False):
        answer = signed_in.get(reverse("planning:search", args=[search.pk]), follow=True)
    page = text(answer)
    search.refresh_from_db()
    assert search.state == "cut_off"
    assert "The search was cut off after 4 seconds, when the server was stopped" in page
    assert "All 12 wanted by Sat 9 Jan 2027 come in time." in page
    assert search.backplan == proposed()


def test_a_search_cut_off_before_any_plan_says_so(wants_mugs: Cast, signed_in: Client) -> None:
    search = begin(wants_mugs)
    with time_machine.travel(SILENT, tick=False):
        page = text(signed_in.get(reverse("planning:search", args=[search.pk])))
    assert "The search was cut off" in page
    assert "It had not found any plan yet." in page
    assert not BackPlan.objects.exists()


def test_when_another_search_began_is_told_by_the_studio_s_clock(wants_mugs: Cast) -> None:
    summer = datetime(2026, 7, 1, 9, 30, tzinfo=UTC)  # by the clock it is 10:30 then
    question = ask(today_date=TODAY)
    services.begin(question=question, seconds=60, by=wants_mugs.by, at=summer)
    with pytest.raises(Refusal, match="began to look for a plan at 10:30"):
        services.begin(question=question, seconds=60, by=wants_mugs.by, at=summer)


def test_a_silent_search_does_not_keep_the_next_from_beginning(wants_mugs: Cast) -> None:
    first = begin(wants_mugs)
    services.begin(question=ask(today_date=TODAY), seconds=8, by=wants_mugs.by, at=SILENT)
    first.refresh_from_db()
    assert first.state == "cut_off"


def test_a_search_closed_by_another_ends_without_a_second_proposal(wants_mugs: Cast) -> None:
    search = begin(wants_mugs)
    services.tend(search=search, at=SILENT)
    searching.run(search.pk)
    assert not BackPlan.objects.exists()


def test_the_page_works_without_a_script_and_polls_with_one(
    wants_mugs: Cast, signed_in: Client, form_key: Key
) -> None:
    search = begin(wants_mugs)
    url = reverse("planning:search", args=[search.pk])
    page = text(signed_in.get(url))
    assert '<noscript><meta http-equiv="refresh" content="3"></noscript>' in page
    assert "No plan yet." in page
    part = signed_in.get(url, headers={"HX-Request": "true"})
    assert "<html" not in text(part)
    assert f'hx-get="{url}"' in text(part)
    assert f'href="{url}"' in text(signed_in.get("/plan/"))
    stop = signed_in.post(reverse("planning:stop", args=[search.pk]), {"form_key": form_key()})
    assert stop.headers["Location"] == url
    assert "The best so far will be kept" in text(signed_in.get(url))
    searching.run(search.pk)
    ended = signed_in.get(url, headers={"HX-Request": "true"})
    search.refresh_from_db()
    assert search.backplan is not None
    assert ended.headers["HX-Redirect"] == reverse("planning:one", args=[search.backplan.pk])
    again = signed_in.post(reverse("planning:stop", args=[search.pk]), {"form_key": form_key()})
    assert again.status_code == 409
    assert "This search has ended already." in text(again)


def test_a_second_search_is_refused_on_the_page(
    wants_mugs: Cast, signed_in: Client, form_key: Key
) -> None:
    begin(wants_mugs)
    answer = signed_in.post(reverse("planning:work_out"), {"form_key": form_key(), "seconds": "8"})
    assert answer.status_code == 409
    assert "it is still looking. Wait for it, or stop it" in text(answer)


def test_an_unknown_search_is_not_found(signed_in: Client) -> None:
    assert signed_in.get("/plan/search/999/").status_code == 404


@pytest.mark.django_db(transaction=True)
def test_two_taps_at_once_begin_one_search_in_a_thread_of_its_own(
    form_key: Key, monkeypatch: pytest.MonkeyPatch, django_user_model: type[User]
) -> None:
    ada = django_user_model.objects.create_user("ada")
    cast = make_cast(ada)
    cast.sale("Winter sale", SALE, {cast.mugs: 12})
    began: list[threading.Thread] = []

    def launch(search_id: int) -> None:
        began.append(threading.Thread(target=searching._run_and_leave, args=(search_id,)))
        began[-1].start()

    monkeypatch.setattr(searching, "launch", launch)
    key, gate = form_key(), threading.Barrier(2)
    went: list[str] = []

    def tap() -> None:
        client = Client()
        client.force_login(ada, backend=MODEL_BACKEND)
        gate.wait()
        answer = client.post(reverse("planning:work_out"), {"form_key": key, "seconds": "60"})
        went.append(answer.headers["Location"])
        connection.close()

    taps = [threading.Thread(target=tap) for _ in range(2)]
    for one in taps:
        one.start()
    for one in [*taps]:
        one.join()
    for one in began:
        one.join()
    search = Search.objects.get()
    assert len(began) == 1
    assert went == [reverse("planning:search", args=[search.pk])] * 2
    assert search.state == "found"
    assert search.backplan == BackPlan.objects.get()
