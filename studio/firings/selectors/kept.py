"""What does a kiln, a circuit or a schedule say just now, and is it still what somebody saw?"""

from __future__ import annotations

import hashlib
import json
from datetime import date, time
from typing import Any

from django.db.models import Model
from django.utils import timezone

from studio.firings import rules
from studio.firings.models import Schedule
from studio.web.models import Change


def values_of(row: Model) -> dict[str, Any]:
    """The plain values of a row's columns but its key."""
    columns = [column for column in row._meta.concrete_fields if not column.primary_key]
    values = {column.attname: getattr(row, column.attname) for column in columns}
    return {
        name: value.isoformat() if isinstance(value, date | time) else value
        for name, value in values.items()
    }


def rows_of(schedule: Schedule) -> list[list[float | int | None]]:
    """The rows of a schedule as plain numbers: rate, target, hold."""
    return [[one.rate_c_per_h, one.target_c, one.hold_min] for one in schedule.segments.all()]


def seen_of(row: Model) -> str:
    """A token of all that a row says; another word of it gives another token."""
    rows = rows_of(row) if isinstance(row, Schedule) else []
    words = json.dumps([values_of(row), rows], sort_keys=True)
    return hashlib.sha256(words.encode()).hexdigest()[:16]


def changed_since(row: Model, seen: str | None) -> str:
    """What happened to a row since somebody saw it so; '' when it is still so, or none asked."""
    if seen is None or seen == seen_of(row):
        return ""
    changes = Change.objects.filter(
        room="firings", subject=row._meta.model_name, subject_id=row.pk
    ).select_related("by")
    last = changes.first()
    happened = ""
    if last is not None:
        who = last.by.get_full_name() or last.by.get_username()
        happened = f"{who}, {timezone.localtime(last.at):%H:%M on %d %b}: {last.said}"
    return rules.not_as_seen(what=str(row), happened=happened)
