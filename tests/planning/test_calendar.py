"""Does a calendar read the plan, without signing in, until the address is withdrawn?

Source of the rules: "Internet Calendaring and Scheduling Core Object Specification (iCalendar)",
RFC 5545 (IETF, 2009): 3.6.1 (DTEND of a day is the day after the last), 3.8.4.7 (UID); and "New
Properties for iCalendar", RFC 7986 (IETF, 2016): 5.7 (REFRESH-INTERVAL).
"""

from __future__ import annotations

import html
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from studio.planning import feeds, services
from studio.planning.models import BackPlan, CalendarAddress, Task
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.planning.cast import NOW, TODAY, Cast

pytestmark = pytest.mark.usefixtures("clock")

DAY = timedelta(days=1)
Key = Callable[[], str]


def in_force(cast: Cast, count: int = 8) -> BackPlan:
    """A plan in force that asks for mugs to throw tomorrow and to glaze the day after."""
    backplan = BackPlan.objects.create(
        state="accepted", today_date=TODAY, last_date=TODAY + 30 * DAY, problem={}, plan={},
        by=cast.by, made_at=NOW,
    )  # fmt: skip
    for work, day in (("throwing", 1), ("glazing", 2)):
        glazed = work == "glazing"
        Task.objects.create(
            backplan=backplan, work=work, date=TODAY + day * DAY, form=cast.mug,
            clay_lot=cast.clay, coats=cast.sky if glazed else None,
            schedule=cast.gloss if glazed else None, count=count,
        )  # fmt: skip
    return backplan


def events(raw: bytes) -> dict[str, tuple[object, object, str]]:
    """Start, end and UID of each event by its summary, as the library reads them back."""
    found = Calendar.from_ical(raw)
    assert found.errors == []
    return {
        str(event["SUMMARY"]): (
            event.decoded("DTSTART"),
            event.decoded("DTEND"),
            str(event["UID"]),
        )
        for event in found.walk("VEVENT")
    }


def give(cast: Cast) -> CalendarAddress:
    services.give_address(name="Ada's phone", by=cast.by, at=NOW)
    return CalendarAddress.objects.latest("id")


def url(address: CalendarAddress) -> str:
    return reverse("planning:feed", args=[feeds.token_of(address)])


def test_firings_work_and_dates_read_back(cast: Cast) -> None:
    in_force(cast)
    cast.firing(cast.wide, cast.bisque, start_date=TODAY + 3 * DAY)
    cast.sale("Winter sale; big, warm", TODAY + 9 * DAY, {cast.mugs: 12})
    found = events(feeds.plan_calendar(now=NOW))
    assert {name: days[:2] for name, days in found.items()} == {
        "Throw 8 × Mug": (TODAY + DAY, TODAY + 2 * DAY),
        "Glaze 8 × Mug in Sky": (TODAY + 2 * DAY, TODAY + 3 * DAY),
        "Wide: Slow bisque": (TODAY + 3 * DAY, TODAY + 5 * DAY),
        "Winter sale; big, warm: ready by today": (TODAY + 9 * DAY, TODAY + 10 * DAY),
    }
    assert len({uid for *_, uid in found.values()}) == len(found)
    calendar = Calendar.from_ical(feeds.plan_calendar(now=NOW))
    assert calendar["PRODID"] == "-//Wareboard//plan//EN"
    assert calendar.decoded("REFRESH-INTERVAL") == timedelta(hours=1)


def test_a_new_plan_changes_the_event_and_adds_none(cast: Cast) -> None:
    old = in_force(cast)
    before = events(feeds.plan_calendar(now=NOW))
    assert feeds.plan_calendar(now=NOW) == feeds.plan_calendar(now=NOW + DAY)
    old.state = "put_aside"
    old.save()
    in_force(cast, count=11)
    after = events(feeds.plan_calendar(now=NOW))
    assert after["Throw 11 × Mug"] == before["Throw 8 × Mug"]
    assert len(after) == len(before)


def test_without_a_plan_the_calendar_is_whole_still(cast: Cast) -> None:
    assert events(feeds.plan_calendar(now=NOW)) == {}


def test_a_calendar_reads_without_signing_in_until_it_is_withdrawn(
    client: Client, cast: Cast
) -> None:
    in_force(cast)
    address = give(cast)
    answer = client.get(url(address))
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert "no-store" in answer.headers["Cache-Control"]
    assert "Throw 8 × Mug" in events(answer.content)
    address.refresh_from_db()
    assert address.read_at == NOW
    for later, noted in ((59, NOW), (61, NOW + timedelta(minutes=61))):  # about once an hour
        services.note_read(address=address, at=NOW + timedelta(minutes=later))
        address.refresh_from_db()
        assert address.read_at == noted
    services.withdraw_address(address=address, by=cast.by, at=NOW)
    assert client.get(url(address)).status_code == 404


def test_a_forged_or_unknown_address_opens_nothing(client: Client, cast: Cast) -> None:
    address = give(cast)
    token = feeds.token_of(address)
    unknown = feeds.token_of(CalendarAddress(nonce="x" * 43))
    for wrong in (token[:-1], "x" + token, address.nonce, unknown):
        answer = client.get(reverse("planning:feed", args=[wrong]))
        assert answer.status_code == 404, wrong
    assert client.post(url(address)).status_code == 405


def test_the_page_gives_and_withdraws_addresses(
    signed_in: Client, cast: Cast, form_key: Key
) -> None:
    page = reverse("planning:calendar")
    answer = signed_in.post(page, {"form_key": form_key(), "name": "Ada's phone"}, follow=True)
    address = CalendarAddress.objects.get()
    shown = html.unescape(answer.content.decode())
    assert f"http://testserver{url(address)}" in shown
    assert "not read yet" in shown
    withdraw = reverse("planning:withdraw", args=[address.pk])
    answer = signed_in.post(withdraw, {"form_key": form_key()}, follow=True)
    assert "No address is given out." in html.unescape(answer.content.decode())
    again = signed_in.post(withdraw, {"form_key": form_key()})
    assert again.status_code == 409
    assert "was withdrawn already" in html.unescape(again.content.decode())


def test_an_address_without_a_name_is_refused(signed_in: Client, form_key: Key) -> None:
    answer = signed_in.post(reverse("planning:calendar"), {"form_key": form_key(), "name": " "})
    assert answer.status_code == 422
    assert "Say whose calendar it is" in answer.content.decode()
    assert not CalendarAddress.objects.exists()


def test_the_file_is_for_signed_in_people(client: Client, signed_in: Client, cast: Cast) -> None:
    file = reverse("planning:calendar_file")
    answer = signed_in.get(file)
    assert answer.headers["Content-Disposition"] == 'attachment; filename="plan.ics"'
    assert Client().get(file).status_code == 302


def test_undo_brings_an_address_back_and_takes_a_new_one_in(cast: Cast, client: Client) -> None:
    address = give(cast)
    made = Change.objects.get()
    withdrawn = services.withdraw_address(address=address, by=cast.by, at=NOW)
    with pytest.raises(Refusal, match="The calendar address of Ada's phone was changed since"):
        services.undo(change=made, by=cast.by, at=NOW)
    services.undo(change=withdrawn, by=cast.by, at=NOW)
    assert client.get(url(address)).status_code == 200
    services.undo(change=made, by=cast.by, at=NOW)
    assert client.get(url(address)).status_code == 404
