"""How is a change of this room written down, at the time it was done?"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User

from studio.planning.models import BackPlan
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.services import record


def refuse(sentence: str) -> None:
    """Raise the sentence, if there is one."""
    if sentence:
        raise Refusal(sentence)


def write_down(
    *,
    action: str,
    said: str,
    by: User,
    at: datetime,
    backplan: BackPlan | None = None,
    undo: dict[str, Any] | None = None,
) -> Change:
    """Record a change of this room."""
    change = record(
        room="planning",
        action=action,
        said=said,
        by=by,
        subject="backplan" if backplan else "",
        subject_id=backplan.pk if backplan else None,
        undo=undo,
    )
    if change.at != at:
        change.at = at
        change.save(update_fields=["at"])
    return change
