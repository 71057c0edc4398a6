"""Is the calendar file what RFC 5545 says, and does it hold the firings?

Source of the rules: "Internet Calendaring and Scheduling Core Object Specification (iCalendar)",
RFC 5545 (IETF, 2009): 3.1 (lines end in CRLF and are folded at 75 octets), 3.3.11 (escaping of
text), 3.6.1 (DTEND of a day is the day after the last), 3.8.4.7 and 3.8.7.2 (UID, DTSTAMP).
"""

from __future__ import annotations

from datetime import date, timedelta

from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from studio.firings import feeds, services
from studio.firings.models import PlannedWare
from tests.firings.conftest import NOW, TODAY, World

AWKWARD = "Glaze; for Ö, 窯 & co.\\ " + "long " * 30


def events(raw: bytes) -> list[dict[str, object]]:
    """The events as the library reads them back."""
    return [
        {name.lower(): event.decoded(name) for name in ("SUMMARY", "DTSTART", "DTEND", "UID")}
        for event in Calendar.from_ical(raw).walk("VEVENT")
    ]


def test_a_planned_firing_reads_back(world: World) -> None:
    firing = world.planned(world.big, world.six, start=TODAY + timedelta(days=3))
    raw = feeds.firings_calendar(now=NOW)
    (event,) = events(raw)
    assert event == {
        "summary": "Heron: Cone 6 plain",
        "dtstart": TODAY + timedelta(days=3),
        "dtend": TODAY + timedelta(days=3 + 2),
        "uid": feeds.uid_of(firing),
    }
    assert isinstance(event["dtstart"], date)
    assert f"DTSTART;VALUE=DATE:{TODAY + timedelta(days=3):%Y%m%d}\r\n".encode() in raw
    assert b"DTSTAMP:20261125T100000Z\r\n" in raw


def test_the_whole_is_a_calendar(world: World) -> None:
    world.planned()
    found = Calendar.from_ical(feeds.firings_calendar(now=NOW))
    assert (found["VERSION"], found["PRODID"]) == ("2.0", "-//Wareboard//firings//EN")
    assert found.errors == []


def test_lines_are_folded_and_text_is_escaped(world: World) -> None:
    world.big.name = "Heron; the, big"
    world.big.save()
    firing = world.planned(world.big, world.six)
    PlannedWare.objects.create(
        firing=firing, form=world.mug, clay_lot=world.grey, coats=world.tenmoku, count=24
    )
    services.note(firing=firing, text=AWKWARD, by=world.by, at=NOW)
    raw = feeds.firings_calendar(now=NOW)
    assert raw.endswith(b"END:VCALENDAR\r\n")
    lines = raw.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert all(b"\n" not in line and b"\r" not in line for line in lines)
    assert any(line.startswith(b" ") for line in lines)
    unfolded = raw.replace(b"\r\n ", b"").decode("utf-8")
    assert "SUMMARY:Heron\\; the\\, big: Cone 6 plain\r\n" in unfolded
    assert "Glaze\\; for Ö\\, 窯 & co.\\\\ long" in unfolded
    assert "24 Mug\\, Tenmoku\\, Grey stoneware\\, lot 7\\nGlaze" in unfolded
    (event,) = Calendar.from_ical(raw).walk("VEVENT")
    assert AWKWARD.strip() in str(event["DESCRIPTION"])


def test_each_line_of_utf8_is_whole(world: World) -> None:
    """3.1 folds between octets; this file never cuts a character in two."""
    firing = world.planned()
    services.note(firing=firing, text="窯" * 200, by=world.by, at=NOW)
    for line in feeds.firings_calendar(now=NOW).split(b"\r\n"):
        line.decode("utf-8")


def test_the_uid_stays_and_no_two_are_alike(world: World) -> None:
    firing, other = world.planned(), world.planned(world.small)
    before = {str(event["uid"]) for event in events(feeds.firings_calendar(now=NOW))}
    services.shift(firing=firing, start_date=TODAY + timedelta(days=40), by=world.by, at=NOW)
    after = {str(event["uid"]) for event in events(feeds.firings_calendar(now=NOW))}
    assert before == after
    assert len(before) == 2
    assert feeds.uid_of(firing) != feeds.uid_of(other)


def test_an_unchanged_firing_gives_the_same_bytes(world: World) -> None:
    world.planned()
    once = feeds.firings_calendar(now=NOW)
    assert feeds.firings_calendar(now=NOW + timedelta(hours=5)) == once


def test_called_off_and_opened_firings_are_not_in_it(world: World) -> None:
    firing = world.planned()
    world.glazed(3)  # an opened bisque firing
    services.call_off(firing=firing, by=world.by, at=NOW)
    assert events(feeds.firings_calendar(now=NOW)) == []


def test_the_file_and_the_feed(world: World, signed_in: Client) -> None:
    world.planned()
    url = reverse("firings:calendar")
    feed, file = signed_in.get(url), signed_in.get(f"{url}?file")
    assert feed.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert feed.headers["Content-Disposition"].startswith("inline")
    assert file.headers["Content-Disposition"] == 'attachment; filename="firings.ics"'
    assert feed.content == file.content
    assert signed_in.post(url).status_code == 405
