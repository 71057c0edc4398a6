"""What does each kiln do now, what comes next, and when is it free again?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import BooleanField, Case, Exists, Max, OuterRef, QuerySet, Sum, Value, When
from django.utils import timezone

from studio.craft.programme import busy_days
from studio.firings import rules
from studio.firings.models import Firing, Kiln, Run, Schedule
from studio.firings.selectors.heat import Expected, Hours, expected, hours_of
from studio.web.models import Change

UNDER_WAY = [Firing.State.LOADED, Firing.State.FIRING, Firing.State.COOLING]
TAKES_DAYS = [Firing.State.PLANNED, *UNDER_WAY]
UNLOAD_H = 1.0
"""To unload a kiln and ready it: common practice, no source."""
STATE_WORDS = {
    "loaded": "is being loaded",
    "firing": "is firing",
    "cooling": "is cooling",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class KilnNow:
    """A kiln at this moment."""

    kiln: Kiln
    firing: Firing | None
    next_firing: Firing | None
    expected: Expected | None
    is_late: bool

    @property
    def state(self) -> str:
        """free, loaded, firing or cooling."""
        return self.firing.state if self.firing else "free"

    @property
    def opening_at(self) -> datetime | None:
        """When it should be cool enough to open, once it is lit."""
        return self.expected.opening_at if self.expected else None


def run_for(*, kiln: Kiln, schedule: Schedule) -> Run | None:
    """How long a kiln is busy with a schedule, if the potter has said."""
    return Run.objects.filter(kiln=kiln, schedule=schedule).first()


def is_used(schedule: Schedule) -> bool:
    """Whether a schedule was fired, or a line or a pot is meant for it."""
    lit = Firing.objects.filter(schedule=schedule, lit_at__isnull=False).exists()
    return lit or schedule.line_set.exists() or schedule.piece_set.exists()


def busy_with(*, kiln: Kiln, but: Firing | None = None) -> str:
    """Which other firing has this kiln now, in words; '' when none has."""
    busy = Firing.objects.filter(kiln=kiln, state__in=UNDER_WAY).select_related("schedule", "kiln")
    if but is not None:
        busy = busy.exclude(pk=but.pk)
    other = busy.first()
    if other is None:
        return ""
    return f"{other.schedule} of {other.start_date:%d %b} {STATE_WORDS[other.state]}"


def opened_last(*, kiln: Kiln, but: Firing) -> datetime | None:
    """When a kiln was opened last after another firing than this; None when it never was."""
    opened = Firing.objects.filter(kiln=kiln, state=Firing.State.OPENED).exclude(pk=but.pk)
    found: datetime | None = opened.aggregate(last=Max("opened_at"))["last"]
    return found


def heating_on(firing: Firing) -> list[str]:
    """The other kilns that are heating on the circuit of this firing's kiln."""
    others = Firing.objects.filter(
        state=Firing.State.FIRING, kiln__circuit_id=firing.kiln.circuit_id
    ).exclude(pk=firing.pk)
    return list(others.values_list("kiln__name", flat=True))


def kilns_now(*, now: datetime) -> list[KilnNow]:
    """Every kiln with what it does now and the next firing planned for it."""
    under_way = {
        firing.kiln_id: firing
        for firing in Firing.objects.filter(state__in=UNDER_WAY)
        .select_related("kiln__fit", "schedule")
        .prefetch_related("schedule__segments")
    }
    planned: dict[int, Firing] = {}
    for firing in (
        Firing.objects.filter(state=Firing.State.PLANNED)
        .select_related("kiln", "schedule")
        .order_by("start_date", "id")
    ):
        planned.setdefault(firing.kiln_id, firing)
    found = []
    for kiln in Kiln.objects.select_related("circuit"):
        current = under_way.get(kiln.pk)
        hopes = expected(current) if current else None
        found.append(
            KilnNow(
                kiln=kiln,
                firing=current,
                next_firing=planned.get(kiln.pk),
                expected=hopes,
                is_late=hopes is not None and hopes.opening_at < now,
            )
        )
    return found


def planned_firings(from_date: date, to_date: date) -> QuerySet[Firing]:
    """Firings that take kiln days and start from one date to another, both included."""
    return (
        Firing.objects.filter(
            state__in=TAKES_DAYS, start_date__gte=from_date, start_date__lte=to_date
        )
        .select_related("kiln", "schedule")
        .prefetch_related("planned_wares__form", "planned_wares__clay_lot", "planned_wares__coats")
        .order_by("start_date", "id")
    )


def planned_from(from_date: date) -> QuerySet[Firing]:
    """Firings still to be lit, late ones first; what is planned from a day on and before it."""
    return (
        Firing.objects.filter(state=Firing.State.PLANNED)
        .select_related("kiln", "schedule")
        .annotate(
            wanted=Sum("planned_wares__count"),
            is_late=Case(
                When(start_date__lt=from_date, then=Value(True)),
                default=Value(False),
                output_field=BooleanField(),
            ),
        )
        .order_by("start_date", "id")
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class KilnRun:
    """A run beside the hours that the schedule's rows ask for in this kiln."""

    run: Run
    hours: Hours | None

    @property
    def other_days(self) -> int | None:
        """The busy days that the hours ask for, when the potter says fewer; None otherwise."""
        if self.hours is None:
            return None
        reckoned = busy_days(self.hours.to_end_h, self.hours.cooling_h, UNLOAD_H)
        return reckoned if reckoned > self.run.busy_days else None


def runs_of(kiln: Kiln) -> list[KilnRun]:
    """How a kiln runs each schedule it has."""
    runs = kiln.runs.select_related("schedule").prefetch_related("schedule__segments")
    return [KilnRun(run=run, hours=hours_of(kiln=kiln, schedule=run.schedule)) for run in runs]


def first_run_values(kiln: Kiln, run: Run | None) -> dict[str, Any]:
    """What the form of a run shows first: the run there is, or nothing."""
    if run is None:
        return {}
    kwh = None if run.energy_wh is None else run.energy_wh / 1000
    return {
        "schedule": run.schedule_id,
        "busy_days": run.busy_days,
        "energy_kwh": kwh,
        "fuel_used": None if run.fuel_thousandths is None else run.fuel_thousandths / 1000,
        "cost_pence": run.cost_pence,
    }


def changes_of(firing: Firing) -> list[Change]:
    """What was done to a firing, the latest first."""
    changes = Change.objects.filter(subject="firing", subject_id=firing.pk)
    undone = Exists(Change.objects.filter(undoes=OuterRef("pk")))
    return list(changes.select_related("by").annotate(was_undone=undone)[:30])


def undoable(changes: Iterable[Change]) -> Change | None:
    """The last of some changes that knows its way back and was not undone; None when none does."""
    return next(
        (
            change
            for change in changes
            if change.undo is not None and not getattr(change, "was_undone", False)
        ),
        None,
    )


def why_not_light(
    firing: Firing,
    *,
    lit_at: datetime,
    at: datetime,
    pieces: int | None = None,
    busy: str | None = None,
) -> str:
    """Why a firing may not be lit now; '' when it may.

    ``pieces`` in it and which other firing keeps its kiln ``busy``, when that is known.
    """
    if pieces is None:
        pieces = firing.places.filter(outcome="").count()
    kiln, schedule = firing.kiln, firing.schedule
    opened_at = opened_last(kiln=kiln, but=firing)
    return rules.can_light(
        state=firing.state,
        kiln=kiln.name,
        pieces=pieces,
        lit_at=lit_at,
        at=at,
        busy_with=busy_with(kiln=kiln, but=firing) if busy is None else busy,
        circuit=f"The circuit {kiln.circuit}",
        at_once=kiln.circuit.at_once,
        heating=heating_on(firing),
        opened_at=opened_at,
        opened=f"{timezone.localtime(opened_at):%H:%M on %a %d %b}" if opened_at else "",
        needs_ware=schedule.kind != "lustre",
    ) or rules.fits_kiln(
        kiln=kiln.name,
        kiln_top_cone=kiln.top_cone,
        schedule=schedule.name,
        cone=schedule.cone,
        has_run=True,
    )


def last_said(firing: Firing, action: str) -> str:
    """Who did something to a firing last, and when: 'who at 10:04'; '' when nobody did."""
    change = (
        Change.objects.filter(subject="firing", subject_id=firing.pk, action=action)
        .select_related("by")
        .first()
    )
    if change is None:
        return ""
    at = timezone.localtime(change.at)
    return f"{change.by.get_full_name() or change.by.get_username()} at {at:%H:%M on %d %b}"
