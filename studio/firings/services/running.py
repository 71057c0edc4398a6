"""Light a kiln and switch it off: both are recorded, neither is done by this program."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.firings import rules, selectors
from studio.firings.models import Firing
from studio.firings.services.writing import day, held, held_to_light
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record


@transaction.atomic
def light(*, firing: Firing, lit_at: datetime, by: User, at: datetime) -> Change:
    """Record that a loaded kiln was lit. Its days count from then. Raises Refusal."""
    now = held_to_light(firing)
    refuse(
        selectors.why_not_light(now, lit_at=lit_at, at=at)
        or selectors.not_there_yet(now, lit_at=lit_at)
    )
    was = now.start_date
    now.state = Firing.State.FIRING
    now.lit_at = lit_at
    now.start_date = timezone.localdate(lit_at)
    now.save(update_fields=["state", "lit_at", "start_date"])
    return record(
        room="firings",
        action="light",
        said=f"{now.kiln} lit at {day(lit_at)}: {now.schedule}, cone {now.schedule.cone}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"start_date": was.isoformat()},
    )


@transaction.atomic
def switch_off(*, firing: Firing, off_at: datetime, by: User, at: datetime) -> Change:
    """Record that a kiln was switched off and cools. Raises Refusal."""
    now = held(firing)
    refuse(rules.can_switch_off(state=now.state, lit_at=now.lit_at, off_at=off_at, at=at))
    now.state = Firing.State.COOLING
    now.off_at = off_at
    now.save(update_fields=["state", "off_at"])
    return record(
        room="firings",
        action="switch_off",
        said=f"{now.kiln} switched off at {day(off_at)}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={},
    )
