"""Which days of a kiln are taken, and by what?"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from django.utils import timezone

from studio.firings import rules
from studio.firings.models import Firing, Kiln
from studio.firings.selectors.kilns import STATE_WORDS, TAKES_DAYS

State = Firing.State


def span(*, firing: Firing, today_date: date) -> tuple[date, date]:
    """The first day a firing takes of its kiln, and the first day the kiln is free again.

    A load that is not lit yet is lit today at the earliest. A kiln that still heats opens tomorrow
    at the earliest, one that cools today.
    """
    start = firing.start_date
    if firing.lit_at is not None:
        start = timezone.localtime(firing.lit_at).date()
    if firing.state in (State.LOADED, State.PLANNED):
        start = max(start, today_date)
    open_date = start + timedelta(days=firing.busy_days)
    if firing.state == State.FIRING:
        open_date = max(open_date, today_date + timedelta(days=1))
    elif firing.state == State.COOLING:
        open_date = max(open_date, today_date)
    return start, open_date


def days_taken(
    *, kiln: Kiln, today_date: date, but: Firing | None = None
) -> Sequence[tuple[str, date, int]]:
    """The name, start and days of every firing that takes days of a kiln.

    A firing that is only planned takes the days it is written for. One that has begun takes them
    until it is opened, however late that is, today among them: open the kiln, then plan today.
    """
    taken = Firing.objects.filter(kiln=kiln, state__in=TAKES_DAYS).select_related("schedule")
    if but is not None:
        taken = taken.exclude(pk=but.pk)
    found = []
    for firing in taken:
        if firing.state == State.PLANNED:
            found.append((firing.schedule.name, firing.start_date, firing.busy_days))
            continue
        start, free = span(firing=firing, today_date=today_date)
        free = max(free, today_date + timedelta(days=1))
        name = f"{firing.schedule}, which {STATE_WORDS[firing.state]}"
        found.append((name, start, (free - start).days))
    return found


def late_for(firing: Firing, *, today_date: date) -> str:
    """A caution: the planned firing of the same kiln that this one runs into; '' when none."""
    start, free = span(firing=firing, today_date=today_date)
    return rules.can_plan(
        kiln=firing.kiln.name,
        start_date=start,
        busy_days=(free - start).days,
        today_date=start,
        others=days_taken(kiln=firing.kiln, today_date=today_date, but=firing),
    )
