"""Put a firing on days of a kiln, move it, call it off."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.firings import rules, selectors
from studio.firings.models import Firing, Kiln, Place, PlannedWare, Schedule
from studio.firings.services.writing import held, hold_kiln
from studio.wares.models import ClayLot, Coats, Form
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.selectors import length_unit
from studio.web.services import record

Ware = tuple[Form, ClayLot, Coats | None, int]
"""What a planned firing is meant to hold: coats are None for a bisque firing."""


@transaction.atomic
def plan_firing(
    *,
    kiln: Kiln,
    schedule: Schedule,
    start_date: date,
    wares: Sequence[Ware] = (),
    note: str = "",
    by: User,
    at: datetime,
) -> Change:
    """Put a firing on a kiln's days. The change's subject is the firing. Raises Refusal."""
    hold_kiln(kiln.pk)
    run = selectors.run_for(kiln=kiln, schedule=schedule)
    refuse(
        rules.fits_kiln(
            kiln=kiln.name,
            kiln_top_cone=kiln.top_cone,
            schedule=schedule.name,
            cone=schedule.cone,
            has_run=run is not None,
        )
    )
    assert run is not None
    refuse(
        rules.can_plan(
            kiln=kiln.name,
            start_date=start_date,
            busy_days=run.busy_days,
            today_date=timezone.localdate(at),
            others=selectors.days_taken(kiln=kiln, today_date=timezone.localdate(at)),
        )
    )
    for form, clay_lot, coats, count in wares:
        refuse(_why_not_ware(kiln, schedule, form, clay_lot, coats, count))
    firing = Firing.objects.create(
        kiln=kiln, schedule=schedule, start_date=start_date, busy_days=run.busy_days, note=note
    )
    together: dict[tuple[Form, ClayLot, Coats | None], int] = {}
    for form, clay_lot, coats, count in wares:
        together[form, clay_lot, coats] = together.get((form, clay_lot, coats), 0) + count
    PlannedWare.objects.bulk_create(
        PlannedWare(firing=firing, form=form, clay_lot=clay_lot, coats=coats, count=count)
        for (form, clay_lot, coats), count in together.items()
    )
    pieces = sum(together.values())
    meant = f" for {pieces} pieces" if pieces else ""
    return record(
        room="firings",
        action="plan_firing",
        said=f"Planned {schedule} in {kiln} from {start_date:%a %d %b}{meant}",
        by=by,
        at=at,
        subject="firing",
        subject_id=firing.pk,
        undo={},
    )


def _why_not_ware(
    kiln: Kiln, schedule: Schedule, form: Form, clay_lot: ClayLot, coats: Coats | None, count: int
) -> str:
    return rules.can_mean(
        what=form.name, kind=schedule.kind, has_coats=coats is not None, count=count
    ) or rules.too_hot(
        what=form.name,
        clay=str(clay_lot),
        clay_top_cone=clay_lot.top_cone,
        coats=coats.name if coats else "",
        coats_top_cone=coats.top_cone if coats else "",
        cone=schedule.cone,
    ) or rules.too_tall(
        what=form.name,
        going_in_mm=selectors.going_in(form, clay_lot),
        kiln=kiln.name,
        inside_height_mm=kiln.inside_height_mm,
        unit=length_unit(),
    )  # fmt: skip


@transaction.atomic
def shift(*, firing: Firing, start_date: date, by: User, at: datetime) -> Change:
    """Put a planned firing on other days. Raises Refusal."""
    now = held(firing)
    refuse(rules.can_shift(state=now.state))
    refuse(
        rules.can_plan(
            kiln=now.kiln.name,
            start_date=start_date,
            busy_days=now.busy_days,
            today_date=timezone.localdate(at),
            others=selectors.days_taken(kiln=now.kiln, today_date=timezone.localdate(at), but=now),
        )
    )
    was = now.start_date
    now.start_date = start_date
    now.save(update_fields=["start_date"])
    return record(
        room="firings",
        action="shift",
        said=f"{now.schedule} in {now.kiln} moved from {was:%a %d %b} to {start_date:%a %d %b}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"start_date": was.isoformat()},
    )


@transaction.atomic
def note(*, firing: Firing, text: str, by: User, at: datetime) -> Change:
    """Write a note on a firing."""
    now = held(firing)
    was = now.note
    now.note = text.strip()
    now.save(update_fields=["note"])
    return record(
        room="firings",
        action="note",
        said=f"Note on {now.schedule} in {now.kiln}: {now.note or 'none'}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"note": was, "now": now.note},
    )


@transaction.atomic
def call_off(*, firing: Firing, by: User, at: datetime) -> Change:
    """Call off a firing that was not lit; what stands in it is on its boards again.

    Raises Refusal.
    """
    now = held(firing)
    refuse(rules.can_call_off(state=now.state, kiln=now.kiln.name))
    standing = list(now.places.filter(outcome="").values_list("id", flat=True))
    was = now.state
    Place.objects.filter(id__in=standing).update(outcome=Place.Outcome.TAKEN_OUT)
    now.state = Firing.State.CALLED_OFF
    now.save(update_fields=["state"])
    back = f"; its {len(standing)} pieces are on their boards again" if standing else ""
    return record(
        room="firings",
        action="call_off",
        said=f"Called off {now.schedule} in {now.kiln} of {now.start_date:%a %d %b}{back}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"state": was, "places": standing},
    )
