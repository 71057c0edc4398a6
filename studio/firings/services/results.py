"""Keep what was seen of an opened firing: photographs and words, of all of it or of one ware."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from studio.firings import rules
from studio.firings.models import Firing, Place, Result
from studio.wares.models import Photo
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record


@dataclass(frozen=True, kw_only=True, slots=True)
class Kept:
    """A picture file that is on the disk already."""

    name: str
    width_px: int
    height_px: int


@transaction.atomic
def add_results(
    *,
    firing: Firing,
    photos: Sequence[Kept] = (),
    words: str = "",
    place: Place | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Add photographs and words to an opened firing, of one place or of all. Raises Refusal."""
    now = Firing.objects.select_for_update().get(pk=firing.pk)
    refuse(
        rules.can_show(
            state=now.state,
            photos=len(photos),
            words=words,
            in_load=place is None or place.firing_id == now.pk,
        )
    )
    rows = []
    for kept in photos:
        photo, _ = Photo.objects.get_or_create(
            name=kept.name,
            defaults={"width_px": kept.width_px, "height_px": kept.height_px, "kept_at": at},
        )
        rows.append(Result(firing=now, place=place, photo=photo, words=words, by=by, at=at))
    if not rows:
        rows = [Result(firing=now, place=place, words=words, by=by, at=at)]
    made = [Result.objects.create(**_fields(row)) for row in rows]
    what = f"{len(photos)} photographs" if len(photos) != 1 else "1 photograph"
    return record(
        room="firings",
        action="results",
        said=f"Added {what if photos else 'a note'} to {firing}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"results": [row.pk for row in made]},
    )


def _fields(row: Result) -> dict[str, object]:
    return {name: getattr(row, name) for name in ("firing", "place", "photo", "words", "by", "at")}
