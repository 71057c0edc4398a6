"""Give out an address where a calendar reads the plan, and withdraw it."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Q

from studio.planning import rules
from studio.planning.models import CalendarAddress
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record

NOTED_EVERY = timedelta(hours=1)


@transaction.atomic
def give_address(*, name: str, by: User, at: datetime) -> Change:
    """Make a new address for somebody's calendar."""
    address = CalendarAddress.objects.create(
        nonce=secrets.token_urlsafe(32), name=name, by=by, made_at=at
    )
    return record(
        room="planning",
        action="calendar",
        said=f"Made a calendar address for {name}.",
        by=by,
        at=at,
        subject="calendar_address",
        subject_id=address.pk,
        undo={"was": "new"},
    )


@transaction.atomic
def withdraw_address(*, address: CalendarAddress, by: User, at: datetime) -> Change:
    """Let an address open nothing any more. Raises ``Refusal`` for one withdrawn already."""
    mine = CalendarAddress.objects.select_for_update().get(pk=address.pk)
    refuse(rules.why_not_withdraw(withdrawn=mine.withdrawn_at is not None, name=mine.name))
    mine.withdrawn_at = at
    mine.save(update_fields=["withdrawn_at"])
    return record(
        room="planning",
        action="calendar",
        said=f"Withdrew the calendar address of {mine.name}.",
        by=by,
        at=at,
        subject="calendar_address",
        subject_id=mine.pk,
        undo={"was": "open"},
    )


def note_read(*, address: CalendarAddress, at: datetime) -> None:
    """Remember about when an address was last read, so that a forgotten one can be seen."""
    long_ago = Q(read_at__isnull=True) | Q(read_at__lt=at - NOTED_EVERY)
    CalendarAddress.objects.filter(long_ago, pk=address.pk).update(read_at=at)
