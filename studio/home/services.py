"""How is a change undone, whichever room made it, and how is the studio's own row kept?"""

from __future__ import annotations

import datetime
from typing import Protocol

from django.contrib.auth.models import User
from django.db import transaction

import studio.firings.services as firings
import studio.parcels.services as parcels
import studio.planning.services as planning
import studio.sales.services as sales
import studio.wares.services as wares
from studio.home.rules import refusal_to_undo
from studio.web.models import Change, Studio
from studio.web.refusal import Refusal
from studio.web.services import record


class Undo(Protocol):
    """What every room offers: put one of its changes back, or refuse with a sentence."""

    def __call__(self, *, change: Change, by: User, at: datetime.datetime) -> Change: ...


UNDO: dict[str, Undo] = {
    "wares": wares.undo,
    "firings": firings.undo,
    "sales": sales.undo,
    "parcels": parcels.undo,
    "planning": planning.undo,
}


@transaction.atomic
def undo(*, change: Change, by: User, at: datetime.datetime) -> Change:
    """Undo a change through the room that made it. Raises Refusal and changes nothing."""
    # The row is read again under the lock, so that two phones cannot undo it twice.
    change = Change.objects.select_for_update(of=("self",)).get(id=change.id)
    done_already = Change.objects.filter(undoes=change).exists()
    if sentence := refusal_to_undo(change=change, done_already=done_already):
        raise Refusal(sentence)
    return UNDO[change.room](change=change, by=by, at=at)


@transaction.atomic
def keep_studio(*, studio: Studio, by: User) -> Change:
    """Save the studio's one row."""
    studio.id = 1
    studio.save()
    return record(room="home", action="settings", said="Changed the studio's settings.", by=by)
