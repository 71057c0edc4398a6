"""Set a month's parcels, and what is wanted for them."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.parcels import rules, selectors
from studio.parcels.models import Shipment, ShipmentWant
from studio.parcels.services.record import plain, write_down
from studio.wares.models import Line
from studio.web.models import Change
from studio.web.refusal import refuse

FIELDS = ("post_date", "parcel_count", "buffer_days", "importance")


@transaction.atomic
def set_shipment(
    *,
    month: int,
    post_date: date,
    parcel_count: int = 5,
    buffer_days: int = 2,
    importance: int = 3,
    by: User,
    at: datetime,
) -> Change:
    """Set a month's parcels, or change them; the subject of the change is the month's shipment.

    Fewer parcels than are picked are refused. Raises Refusal.
    """
    values: dict[str, Any] = {
        "post_date": post_date,
        "parcel_count": parcel_count,
        "buffer_days": buffer_days,
        "importance": importance,
    }
    refuse(rules.can_ship(month=month, **values, today_date=timezone.localdate(at)))
    held = Shipment.objects.select_for_update().filter(month=month).first()
    has = held.parcels.turns().count() if held else 0
    refuse(
        f"{has} parcels are picked already, so there cannot be {parcel_count}. Skip some first."
        if has > parcel_count
        else None
    )
    was = {field: plain(getattr(held, field)) for field in FIELDS} if held else None
    shipment, _ = Shipment.objects.update_or_create(month=month, defaults=values)
    name = rules.month_name(month)
    return write_down(
        action="set_shipment",
        said=f"{'Changed' if held else 'Set'} the parcels of {name}: {parcel_count},"
        f" posted {post_date.day} {post_date:%b %Y}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=shipment.id,
        undo={"was": was, "now": {field: plain(values[field]) for field in FIELDS}},
    )


@transaction.atomic
def set_want(*, shipment: Shipment, line: Line, count: int, by: User, at: datetime) -> Change:
    """Want so many good pieces of a line for a month, in place of what was wanted before."""
    refuse(selectors.cannot_want(shipment=shipment, count=count, now=at))
    want = ShipmentWant.objects.select_for_update().filter(shipment=shipment, line=line).first()
    was = want.count if want else None
    ShipmentWant.objects.update_or_create(shipment=shipment, line=line, defaults={"count": count})
    before = f" instead of {was}" if was is not None else ""
    return write_down(
        action="set_want",
        said=f"{count} {line} wanted for the parcels of {rules.month_name(shipment.month)}{before}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=shipment.id,
        undo={"line_id": line.id, "was": was, "now": count},
    )


@transaction.atomic
def drop_want(*, want: ShipmentWant, by: User, at: datetime) -> Change:
    """Want a line no longer for a month. Raises Refusal when somebody dropped it before."""
    held = ShipmentWant.objects.select_for_update().filter(id=want.id).first()
    refuse("This want was taken away already. Nothing was changed." if held is None else None)
    assert held is not None
    month = rules.month_name(held.shipment.month)
    change = write_down(
        action="set_want",
        said=f"{held.line} no longer wanted for the parcels of {month}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=held.shipment_id,
        undo={"line_id": held.line_id, "was": held.count, "now": None},
    )
    held.delete()
    return change


@transaction.atomic
def set_aside(*, shipment: Shipment, by: User, at: datetime) -> Change:
    """Want for a month what its coming turns need, and no less of anything. Raises Refusal.

    What is not there yet is thereby asked of the plan by the day the parcels are posted.
    """
    held = Shipment.objects.select_for_update().get(id=shipment.id)
    refuse(selectors.cannot_set_aside(held))
    refuse(selectors.cannot_want(shipment=held, count=1, now=at))
    rows = selectors.to_set_aside(held)
    month = rules.month_name(held.month)
    refuse(None if rows else f"All that the turns of {month} need is set aside already.")
    for row in rows:
        ShipmentWant.objects.update_or_create(
            shipment=held, line=row.line, defaults={"count": row.count}
        )
    made = sum(row.to_make for row in rows)
    said = f"Set aside {sum(row.count - row.wanted for row in rows)} more for {month}"
    return write_down(
        action="set_aside",
        said=f"{said}, {made} of them to be made" if made else said,
        by=by,
        at=at,
        subject="shipment",
        subject_id=held.id,
        undo={"wants": [[row.line.id, row.wanted or None, row.count] for row in rows]},
    )
