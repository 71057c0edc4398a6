"""Was a load ready and in its kiln when somebody says that the kiln was lit?"""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from studio.firings import rules
from studio.firings.models import Firing, Place
from studio.web.models import Change


def not_there_yet(firing: Firing, *, lit_at: datetime) -> str:
    """Which board cannot have been in a kiln lit then, and why; '' when all can.

    A load may be written down later on the day it was lit, but not on a later day.
    """
    lit = timezone.localtime(lit_at)
    places = list(
        firing.places.filter(outcome="")
        .select_related("board", "piece__bisque_firing")
        .order_by("id")
    )
    if firing.schedule.kind == "bisque":
        for place in places:
            dry = place.board.dry_date
            if dry is not None and dry > lit.date():
                return rules.was_damp(
                    board=place.board.label, dry=f"{dry:%a %d %b}", lit=f"{lit:%a %d %b}"
                )
    else:
        for place in places:
            before = place.piece.bisque_firing
            if before is not None and before.opened_at is not None and before.opened_at > lit_at:
                return rules.was_in_another(
                    board=place.board.label,
                    opened=f"{timezone.localtime(before.opened_at):%H:%M on %a %d %b}",
                    lit=f"{lit:%H:%M on %a %d %b}",
                )
    return _loaded_later(firing, places, lit)


def _loaded_later(firing: Firing, places: list[Place], lit: datetime) -> str:
    by_id = {place.pk: place for place in places}
    loads = Change.objects.filter(
        room="firings", action="load", subject="firing", subject_id=firing.pk, undone_by=None
    )
    for change in loads.order_by("id"):
        at = timezone.localtime(change.at)
        if at.date() <= lit.date():
            continue
        for place_id in (change.undo or {}).get("places", []):
            if place_id in by_id:
                return rules.was_outside(
                    board=by_id[place_id].board.label,
                    loaded=f"{at:%a %d %b}",
                    lit=f"{lit:%a %d %b}",
                )
    return ""
