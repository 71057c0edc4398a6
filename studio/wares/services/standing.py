"""Say how far a line is to be trusted, on the potter's word."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from studio.wares.models import Line
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record

WORDS = {value: str(word).lower() for value, word in Line.Standing.choices}


def can_call(*, line: str, now: str, wanted: str) -> str:
    """Whether a line that is ``now`` untried, trial or proven may be called ``wanted``."""
    if wanted not in WORDS:
        return f"“{wanted}” is no standing of a line: it is {', '.join(WORDS.values())}."
    if wanted == now:
        return f"{line} is {WORDS[now]} already."
    return ""


@transaction.atomic
def set_standing(*, line: Line, standing: str, by: User, at: datetime) -> Change:
    """Call a line untried, on trial or proven. The change's subject is the line. Raises Refusal."""
    now = (
        Line.objects.select_for_update(of=("self",))
        .select_related("form", "clay_lot", "coats", "schedule")
        .get(pk=line.pk)
    )
    name = f"{now} to {now.schedule}"
    refuse(can_call(line=name, now=now.standing, wanted=standing))
    before = _columns(now)
    now.standing = standing
    now.save(update_fields=["standing"])
    return record(
        room="wares",
        action="standing",
        said=f"{name} is {WORDS[standing]} now",
        by=by,
        at=at,
        subject="line",
        subject_id=now.pk,
        undo={"entry": ["line", now.pk], "before": before, "after": _columns(now)},
    )


def _columns(line: Line) -> dict[str, Any]:
    """What the catalogue's way back compares and restores."""
    columns = [column for column in line._meta.concrete_fields if not column.primary_key]
    return {column.attname: getattr(line, column.attname) for column in columns}
