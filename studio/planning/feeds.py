"""What of the plan stands in a calendar: firings, the work of each day, and the dates?

Laws (RFC 5545, IETF, 2009), beside those of ``firings.feeds``, whose firings stand in it too:

1. One event for each kind of work a day, and its UID is made from day and work: when a new plan
   changes what is thrown that day, a calendar that reads again changes the event and adds none.
2. DTSTAMP is the moment the plan was worked out, so an unchanged plan gives the same bytes.

An address is signed (the studio's key over a random name), so that it cannot be guessed, and the
row of the name is asked at each reading, so that it can be withdrawn.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from datetime import UTC, date, datetime, timedelta

from django.core.signing import BadSignature, Signer
from django.utils import timezone
from django.utils.crypto import salted_hmac
from icalendar import Calendar, Event

from studio.firings.feeds import firings_calendar
from studio.planning.models import BackPlan, CalendarAddress, Task
from studio.planning.selectors import in_force
from studio.planning.selectors.due import VERBS
from studio.planning.selectors.wanted import dates_from
from studio.web.selectors import the_studio

READ_AGAIN = timedelta(hours=1)


def token_of(address: CalendarAddress) -> str:
    """The part of the address that opens the feed."""
    return _signer().sign(address.nonce)


def address_of(token: str) -> CalendarAddress | None:
    """The address that a token opens; none when it is forged, unknown or withdrawn."""
    try:
        nonce = _signer().unsign(token)
    except BadSignature:
        return None
    return CalendarAddress.objects.filter(nonce=nonce, withdrawn_at__isnull=True).first()


def _signer() -> Signer:
    return Signer(sep=".", salt="studio.planning.calendar")


def plan_calendar(*, now: datetime) -> bytes:
    """The firings in the book, the work of the plan in force, and the dates ahead."""
    # The firings' events are made in their room alone; here they are read back and added to.
    found = Calendar.from_ical(firings_calendar(now=now))
    found["prodid"] = "-//Wareboard//plan//EN"
    found["name"] = f"Plan of {the_studio()}"
    found.add("refresh-interval", READ_AGAIN, parameters={"VALUE": "DURATION"})
    backplan = in_force()
    if backplan is not None:
        for event in _work(backplan):
            found.add_component(event)
    stamp = backplan.made_at if backplan else now
    for need in dates_from(today_date=timezone.localdate(now), now=now):
        asked = ", ".join(f"{ask.wanted} × {ask.line.form}" for ask in need.lines)
        found.add_component(
            _event(
                name=f"need {need.key}",
                day=need.due_date,
                summary=f"{need.name}: ready by today",
                description=asked,
                stamp=stamp,
            )
        )
    written: bytes = found.to_ical()
    return written


def _work(backplan: BackPlan) -> list[Event]:
    by_day: dict[tuple[date, str], list[Task]] = defaultdict(list)
    for task in backplan.tasks.select_related("form", "clay_lot", "coats"):
        by_day[task.date, task.work].append(task)
    return [
        _event(
            name=f"work {day} {work}",
            day=day,
            summary=f"{VERBS[Task.Work(work)]} {', '.join(map(_thing, tasks))}",
            description="By the plan in force.",
            stamp=backplan.made_at,
        )
        for (day, work), tasks in sorted(by_day.items())
    ]


def _thing(task: Task) -> str:
    return f"{task.count} × {task.form}" + (f" in {task.coats}" if task.coats else "")


def _event(*, name: str, day: date, summary: str, description: str, stamp: datetime) -> Event:
    event = Event()
    digest = salted_hmac("studio.planning.feeds", name, algorithm="sha256").digest()
    event.add("uid", str(uuid.UUID(bytes=digest[:16], version=4)))
    event.add("dtstamp", stamp.astimezone(UTC))
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    event.add("summary", summary)
    event.add("description", description)
    event.add("transp", "TRANSPARENT")
    return event
