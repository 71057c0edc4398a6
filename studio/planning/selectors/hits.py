"""Which firings and which work does a day off hit?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from studio.craft.plan_reading import counted
from studio.firings.models import Firing
from studio.planning.models import DayOff, Task
from studio.planning.selectors.due import VERBS
from studio.planning.selectors.plans import in_force

Planned = Firing.State.PLANNED


@dataclass(frozen=True, kw_only=True, slots=True)
class Hit:
    """Something that stands on a day, in words."""

    text: str
    can_wait: bool = False
    """Opening a kiln can: it is cool on the next day as well."""


def day_hits(day: date) -> list[Hit]:
    """What would start, be opened or be done by hand on a day: it cannot, when the day is off.

    A kiln that would be opened that day may wait till the next; what waits for its pots waits too.
    """
    found = [
        Hit(text=f"{firing} would start")
        for firing in Firing.objects.filter(state=Planned, start_date=day)
        .select_related("kiln", "schedule")
        .order_by("kiln__name")
    ]
    state = Firing.State
    open_then = Firing.objects.filter(
        state__in=[state.PLANNED, state.LOADED, state.FIRING, state.COOLING], start_date__lt=day
    ).select_related("kiln", "schedule")
    found += [
        Hit(text=f"{firing} would be opened", can_wait=True)
        for firing in open_then.order_by("kiln__name")
        if (day - firing.start_date).days == firing.busy_days
    ]
    backplan = in_force()
    if backplan is not None:
        found += [Hit(text=_work(task)) for task in _tasks(backplan.pk, day)]
    return found


def on_days_off(firings: Iterable[Firing]) -> list[Firing]:
    """Those that are to start on a day off."""
    off = set(DayOff.objects.values_list("date", flat=True))
    return [firing for firing in firings if firing.start_date in off]


def hits_ahead(*, today_date: date) -> list[tuple[DayOff, list[Hit]]]:
    """The days off from today on, each with what stands on it all the same and cannot wait."""
    return [
        (off, [hit for hit in day_hits(off.date) if not hit.can_wait])
        for off in DayOff.objects.filter(date__gte=today_date)
    ]


def _tasks(backplan_id: int, day: date) -> list[Task]:
    tasks = Task.objects.filter(backplan_id=backplan_id, date=day)
    return list(tasks.select_related("form", "coats"))


def _work(task: Task) -> str:
    name = f"{task.form} in {task.coats}" if task.coats else str(task.form)
    return f"{VERBS[Task.Work(task.work)]} {counted(task.count, name)}"
