"""How is a change undone, whichever room made it, and how is the studio's own row kept?"""

from __future__ import annotations

import datetime
import logging
from typing import Protocol

from django.contrib.auth.models import User
from django.core.cache import cache
from django.db import DatabaseError, transaction

import studio.firings.services as firings
import studio.parcels.services as parcels
import studio.planning.services as planning
import studio.sales.services as sales
import studio.wares.services as wares
from studio.home.rules import CHANGED_AGAIN, refusal_to_undo
from studio.web.models import Change, Studio
from studio.web.refusal import refuse
from studio.web.services import record

logger = logging.getLogger(__name__)
A_DAY_S = 24 * 60 * 60


def tidy(*, today_date: datetime.date) -> None:
    """Once a day let go of what was kept long enough; a busy database is asked another day.

    Nothing else comes by in a studio that prints no more and takes no file in, and what was
    promised to be forgotten would stay.
    """
    if cache.add(f"tidied-{today_date}", 1, A_DAY_S):
        try:
            parcels.forget_old(today_date=today_date)
        except DatabaseError:
            logger.warning("What was kept long enough could not be forgotten today")


class Undo(Protocol):
    """What every room offers: put one of its changes back, or refuse with a sentence."""

    def __call__(self, *, change: Change, by: User, at: datetime.datetime) -> Change: ...


@transaction.atomic
def undo(*, change: Change, by: User, at: datetime.datetime) -> Change:
    """Undo a change through the room that made it. Raises Refusal and changes nothing."""
    # The row is read again under the lock, so that two phones cannot undo it twice.
    change = Change.objects.select_for_update(of=("self",)).get(id=change.id)
    done_already = Change.objects.filter(undoes=change).exists()
    refuse(refusal_to_undo(change=change, done_already=done_already))
    return UNDO[change.room](change=change, by=by, at=at)


@transaction.atomic
def keep_studio(*, studio: Studio, by: User, at: datetime.datetime) -> Change:
    """Save the studio's one row; what it was is kept for an undo."""
    before = Studio.objects.select_for_update().filter(id=1).first() or Studio(id=1)
    was = _said_of_itself(before)
    studio.id = 1
    studio.save()
    return record(
        room="home",
        action="settings",
        said="Changed the studio's settings",
        by=by,
        at=at,
        undo={"was": was, "became": _said_of_itself(studio)},
    )


def _undo_settings(*, change: Change, by: User, at: datetime.datetime) -> Change:
    """Put the studio's row back. Raises Refusal when it was changed again since."""
    now = Studio.objects.select_for_update().get(id=1)
    undo = change.undo or {}
    refuse(CHANGED_AGAIN if _said_of_itself(now) != undo["became"] else "")
    for name, value in undo["was"].items():
        setattr(now, name, value)
    now.save()
    undoing = record(
        room="home", action="undo", said="Put the studio's settings back", by=by, at=at
    )
    undoing.undoes = change
    undoing.save(update_fields=["undoes"])
    return undoing


def _said_of_itself(studio: Studio) -> dict[str, str]:
    return {
        field.name: getattr(studio, field.name)
        for field in Studio._meta.fields
        if not field.primary_key
    }


UNDO: dict[str, Undo] = {
    "home": _undo_settings,
    "wares": wares.undo,
    "firings": firings.undo,
    "sales": sales.undo,
    "parcels": parcels.undo,
    "planning": planning.undo,
}
