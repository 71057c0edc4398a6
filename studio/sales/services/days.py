"""Set a sale day, and what is wanted by it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.sales import rules, selectors
from studio.sales.models import SaleDay, Want
from studio.sales.services.record import (
    FIELDS,
    TIMES,
    local,
    name_taken,
    plain,
    write_down,
)
from studio.wares.models import Line
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse

MOMENT = timedelta(seconds=1)
CHANGED_NOW = "Somebody changed this at the same moment. Nothing was saved; look at it again."


@transaction.atomic
def make_sale_day(
    *,
    name: str,
    members_at: datetime,
    public_at: datetime,
    closes_at: datetime | None = None,
    buffer_days: int = 3,
    importance: int = 1,
    by: User,
    at: datetime,
) -> Change:
    """Set a new sale day; the subject of the change is it. Raises Refusal."""
    values: dict[str, Any] = {
        "name": name.strip(),
        "members_at": members_at,
        "public_at": public_at,
        "closes_at": closes_at,
        "buffer_days": buffer_days,
        "importance": importance,
    }
    refuse(_cannot_hold(values, now=at))
    refuse(name_taken(values["name"], but=None))
    day = SaleDay(**values)
    _save(day)
    return write_down(
        action="make_sale_day",
        said=f"Set the sale day {day.name} for {rules.when(local(members_at))}",
        by=by,
        at=at,
        sale_day=day,
        undo={},
    )


@transaction.atomic
def change_sale_day(
    *,
    sale_day: SaleDay,
    name: str,
    members_at: datetime,
    public_at: datetime,
    closes_at: datetime | None,
    buffer_days: int,
    importance: int,
    by: User,
    at: datetime,
) -> Change:
    """Change a sale day. Once it has begun only its close may be moved. Raises Refusal."""
    day = SaleDay.objects.select_for_update().get(id=sale_day.id)
    values: dict[str, Any] = {
        "name": name.strip(),
        "members_at": members_at,
        "public_at": public_at,
        "closes_at": closes_at,
        "buffer_days": buffer_days,
        "importance": importance,
    }
    moved = any(values[field] != getattr(day, field) for field in ("members_at", "public_at"))
    if moved:
        refuse(rules.can_change_times(name=day.name, members_at=local(day.members_at), now=at))
    asked_at = at if moved else min(at, day.members_at - MOMENT)
    refuse(_cannot_hold(values, now=asked_at))
    refuse(name_taken(values["name"], but=day.id))
    was = {field: plain(getattr(day, field)) for field in FIELDS}
    for field, value in values.items():
        setattr(day, field, value)
    _save(day)
    return write_down(
        action="change_sale_day",
        said=f"Changed the sale day {day.name}",
        by=by,
        at=at,
        sale_day=day,
        undo={"was": was, "now": {field: plain(getattr(day, field)) for field in FIELDS}},
    )


@transaction.atomic
def set_want(*, sale_day: SaleDay, line: Line, count: int, by: User, at: datetime) -> Change:
    """Want so many good pieces of a line by a sale day, in place of what was wanted before."""
    refuse(selectors.cannot_want(sale_day=sale_day, count=count, now=at))
    want = Want.objects.select_for_update().filter(sale_day=sale_day, line=line).first()
    was = want.count if want else None
    Want.objects.update_or_create(sale_day=sale_day, line=line, defaults={"count": count})
    before = f" instead of {was}" if was is not None else ""
    return write_down(
        action="set_want",
        said=f"{count} {line} wanted for {sale_day.name}{before}",
        by=by,
        at=at,
        sale_day=sale_day,
        undo={"line_id": line.id, "was": was, "now": count},
    )


@transaction.atomic
def drop_want(*, want: Want, by: User, at: datetime) -> Change:
    """Want a line no longer for a sale day. Raises Refusal when somebody dropped it before."""
    held = Want.objects.select_for_update().filter(id=want.id).first()
    refuse("This want was taken away already. Nothing was changed." if held is None else None)
    assert held is not None
    change = write_down(
        action="set_want",
        said=f"{held.line} no longer wanted for {held.sale_day.name}",
        by=by,
        at=at,
        sale_day=held.sale_day,
        undo={"line_id": held.line_id, "was": held.count, "now": None},
    )
    held.delete()
    return change


def _save(day: SaleDay) -> None:
    """Save a sale day. Raises Refusal when somebody took its name at this moment."""
    try:
        with transaction.atomic():
            day.save()
    except IntegrityError:
        raise Refusal(name_taken(day.name, but=day.id) or CHANGED_NOW) from None


def _cannot_hold(values: Mapping[str, Any], *, now: datetime) -> str | None:
    shown = {**values, **{field: local(values[field]) for field in TIMES}}
    return rules.can_hold_sale(**shown, now=now)
