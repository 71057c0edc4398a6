"""Which kiln days stand in a calendar? A file in iCalendar form for signed-in people.

Laws (RFC 5545, IETF, 2009):

1. A firing keeps its UID, so that a calendar that reads the file again moves the day and adds
   none (3.8.4.7). It is made from the studio's own key, so that two studios do not share one.
2. A day has no hour and no zone: DTSTART and DTEND are dates, and DTEND is the day after the last
   (3.6.1).
3. DTSTAMP and LAST-MODIFIED say when the firing was last written, so an unchanged firing gives the
   same bytes (3.8.7.2).
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta

from django.db.models import Max
from django.http import HttpResponse
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.views.decorators.http import require_GET
from icalendar import Calendar, Event

from studio.firings import rules, selectors
from studio.firings.models import Firing
from studio.web.htmx import HtmxRequest
from studio.web.models import Change
from studio.web.selectors import temperature_unit, the_studio

DAYS_BACK, DAYS_AHEAD = 60, 731


@require_GET
def calendar(request: HtmxRequest) -> HttpResponse:
    """Answer the firings' calendar; ``?file`` saves it instead of opening it."""
    response = HttpResponse(
        firings_calendar(now=timezone.now()), content_type="text/calendar; charset=utf-8"
    )
    how = "attachment" if "file" in request.GET else "inline"
    response["Content-Disposition"] = f'{how}; filename="firings.ics"'
    return response


def firings_calendar(*, now: datetime) -> bytes:
    """Every firing that takes kiln days, planned and under way."""
    today = timezone.localdate(now)
    found = Calendar()
    found.add("prodid", "-//Wareboard//firings//EN")
    found.add("version", "2.0")
    found.add("calscale", "GREGORIAN")
    found.add("name", f"Kilns of {the_studio()}")
    written = _last_written()
    for firing in selectors.planned_firings(
        today - timedelta(days=DAYS_BACK), today + timedelta(days=DAYS_AHEAD)
    ):
        found.add_component(_event(firing, written.get(firing.pk, now)))
    written_out: bytes = found.to_ical()
    return written_out


def uid_of(firing: Firing) -> str:
    """The name a firing keeps in every calendar."""
    digest = salted_hmac("studio.firings.feeds", str(firing.pk), algorithm="sha256").digest()
    return str(uuid.UUID(bytes=digest[:16], version=4))


def _event(firing: Firing, written_at: datetime) -> Event:
    event = Event()
    event.add("uid", uid_of(firing))
    at = written_at.astimezone(UTC)
    event.add("dtstamp", at)
    event.add("last-modified", at)
    event.add("dtstart", firing.start_date)
    event.add("dtend", firing.start_date + timedelta(days=firing.busy_days))
    event.add("summary", f"{firing.kiln}: {firing.schedule}")
    event.add("description", _description(firing))
    event.add("status", "TENTATIVE" if firing.state == "planned" else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    event.add("categories", ["Firing", firing.schedule.get_kind_display()])
    return event


def _description(firing: Firing) -> str:
    cone = rules.cone_words(firing.schedule.cone, unit=temperature_unit())
    lines = [f"{cone[:1].upper()}{cone[1:]}. State: {firing.get_state_display().lower()}."]
    for ware in firing.planned_wares.all():
        coats = f", {ware.coats}" if ware.coats else ""
        lines.append(f"{ware.count} {ware.form}{coats}, {ware.clay_lot}")
    if firing.note:
        lines.append(firing.note)
    return "\n".join(lines)


def _last_written() -> dict[int, datetime]:
    """When each firing was last written, by its number."""
    changes = Change.objects.filter(subject="firing", subject_id__isnull=False).order_by()
    return {
        firing_id: at
        for firing_id, at in changes.values_list("subject_id").annotate(Max("at"))
        if firing_id is not None
    }
