"""How is a change of this room written down, and what do its services share?"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from studio.sales.models import SaleDay
from studio.web import services as web
from studio.web.models import Change

TIMES = ("members_at", "public_at", "closes_at")
FIELDS = ("name", *TIMES, "buffer_days", "importance")
"""What a person sets of a sale day."""


def name_taken(name: str, *, but: int | None) -> str | None:
    """Say that another sale day has this name; None when none has."""
    others = SaleDay.objects.filter(name=name)
    if (others if but is None else others.exclude(id=but)).exists():
        return f"There is a sale day called {name} already. Give this one another name."
    return None


def local(at: datetime | None) -> Any:
    """A time as the studio's clock shows it."""
    return at and timezone.localtime(at)


def plain(value: Any) -> Any:
    """A value as JSON can keep it."""
    return value.isoformat() if isinstance(value, datetime) else value


def write_down(
    *,
    action: str,
    said: str,
    by: User,
    at: datetime,
    sale_day: SaleDay,
    undo: dict[str, Any] | None,
) -> Change:
    """Record a change of this room about a sale day, at the time it was done."""
    return web.record(
        room="sales",
        action=action,
        said=said,
        by=by,
        at=at,
        subject="sale_day",
        subject_id=sale_day.id,
        undo=undo,
    )
