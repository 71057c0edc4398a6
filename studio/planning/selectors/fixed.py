"""Which firings does a plan find fixed: begun already, or planned and kept?

1. A planned firing whose day has passed without loading is taken as today; where its kiln is
   not free today, it is left out. Both are said.
2. A kiln that has begun opens as ``firings.selectors.span`` says.
3. What stands in a kiln that has begun comes with its firing. A planned firing holds nothing yet:
   its kiln is kept, and the plan fills it anew from stock.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from datetime import date

from studio.craft.calendar import say_date
from studio.craft.problem import BISQUE, Load
from studio.firings.models import Firing, Schedule
from studio.firings.selectors import span
from studio.planning.selectors import stock
from studio.wares.kinds import Kind
from studio.wares.models import Line
from studio.wares.rules import FIRES_GLAZE


def schedule_key(schedule: Schedule) -> str:
    """The planner's key of a schedule: all bisque schedules are one."""
    return BISQUE if schedule.kind == Schedule.Kind.BISQUE else str(schedule.pk)


def fixed_loads(
    *,
    today_date: date,
    last_date: date,
    keep_planned: bool,
    freed: Collection[int] = (),
    by_kind: dict[Kind, Line],
    remarks: list[str],
) -> tuple[Load, ...]:
    """The pinned loads of the question; adds what was assumed to ``remarks``."""
    begun = begun_loads(today_date=today_date, by_kind=by_kind)
    query = Firing.objects.select_related("kiln", "schedule", "planned_by__backplan")
    waiting = query.filter(state=Firing.State.PLANNED, start_date__lte=last_date)
    waiting = waiting.prefetch_related("planned_wares")
    kept = [
        firing
        for firing in waiting
        if not hasattr(firing, "planned_by") or (keep_planned and firing.pk not in freed)
    ]
    on_time = [_waiting(f, f.start_date, by_kind) for f in kept if f.start_date >= today_date]
    overdue: list[Load] = []
    for firing in (f for f in kept if f.start_date < today_date):
        load = _waiting(firing, today_date, by_kind)
        was = (
            f"The firing of {firing.kiln} planned for {say_date(firing.start_date)} was not loaded"
        )
        if any(overlaps(load, other) for other in (*begun, *on_time, *overdue)):
            remarks.append(f"{was} and its kiln is not free today: it is left out.")
        else:
            remarks.append(f"{was}: it is taken as today.")
            overdue.append(load)
    return (*begun, *overdue, *on_time)


def begun_loads(*, today_date: date, by_kind: dict[Kind, Line]) -> list[Load]:
    """The firings that are loaded, firing or cooling, with what stands in them."""
    state = Firing.State
    standing = stock.in_kilns()
    begun = Firing.objects.filter(state__in=[state.LOADED, state.FIRING, state.COOLING])
    return [
        _begun(firing, today_date, standing.get(firing.pk, []), by_kind)
        for firing in begun.select_related("kiln", "schedule")
    ]


def overlaps(a: Load, b: Load) -> bool:
    """Do two loads want one kiln on one day?"""
    return a.kiln_key == b.kiln_key and a.start_date < b.open_date and b.start_date < a.open_date


def _begun(
    firing: Firing,
    today_date: date,
    held: list[tuple[Kind, int]],
    by_kind: dict[Kind, Line],
) -> Load:
    start, open_date = span(firing=firing, today_date=today_date)
    contents: Counter[str] = Counter()
    for kind, count in held:
        if not stock.is_glazed(kind) and firing.schedule.kind == "bisque":
            contents[stock.ware_key_of(kind)] += count
        elif firing.schedule.kind in FIRES_GLAZE and kind in by_kind:
            contents[str(by_kind[kind].pk)] += count
    return Load(
        kiln_key=str(firing.kiln_id),
        schedule_key=schedule_key(firing.schedule),
        start_date=start,
        busy_days=(open_date - start).days,
        contents=tuple(sorted(contents.items())),
    )


def _waiting(firing: Firing, start_date: date, by_kind: dict[Kind, Line]) -> Load:
    contents: Counter[str] = Counter()
    for ware in firing.planned_wares.all():
        if ware.coats_id is None:
            contents[stock.ware_key(ware.form_id, ware.clay_lot_id)] += ware.count
            continue
        kind = Kind(ware.form_id, ware.clay_lot_id, ware.coats_id, firing.schedule_id)
        if kind in by_kind:
            contents[str(by_kind[kind].pk)] += ware.count
    return Load(
        kiln_key=str(firing.kiln_id),
        schedule_key=schedule_key(firing.schedule),
        start_date=start_date,
        busy_days=firing.busy_days,
        contents=tuple(sorted(contents.items())),
        filled=False,
    )
