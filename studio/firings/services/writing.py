"""How does a firing change, so that of two phones at the same moment one acts?

Laws of this room's services:

1. The kiln's row is held first, then the firing's, then the boards', always in this order, so that
   two people neither overtake nor wait for each other for ever.
2. Everything is read again after it is held; what a page showed is only a wish.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from studio.firings.models import Firing, Kiln
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.services import record


def refuse(sentence: str | None) -> None:
    """Raise the sentence, if there is one."""
    if sentence:
        raise Refusal(sentence)


def held(firing: Firing) -> Firing:
    """Hold a firing and its kiln for this transaction and answer it as it is now."""
    hold_kiln(firing.kiln_id)
    Firing.objects.select_for_update().get(pk=firing.pk)
    return Firing.objects.select_related("kiln__circuit", "schedule").get(pk=firing.pk)


def hold_kiln(kiln_id: int) -> None:
    """Hold a kiln, so that nobody else plans, loads or opens it meanwhile."""
    Kiln.objects.select_for_update().get(pk=kiln_id)


def write_down(
    *,
    action: str,
    said: str,
    by: User,
    at: datetime,
    firing: Firing | None = None,
    subject: str = "firing",
    subject_id: int | None = None,
    undo: dict[str, Any] | None = None,
) -> Change:
    """Record a change of this room, at the time it was done."""
    change = record(
        room="firings",
        action=action,
        said=said,
        by=by,
        subject=subject,
        subject_id=firing.pk if firing is not None else subject_id,
        undo=undo,
    )
    if change.at != at:
        change.at = at
        change.save(update_fields=["at"])
    return change


def day(moment: datetime) -> str:
    """A moment as it is told: '10:04', with the day when it is another than today."""
    local = timezone.localtime(moment)
    if local.date() == timezone.localdate():
        return f"{local:%H:%M}"
    return f"{local:%H:%M on %a %d %b}"
