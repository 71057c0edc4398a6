"""Give a piece its photograph. The file is on the disk before this is called."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from studio.wares import rules, selectors
from studio.wares.models import Photo, Piece
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record


@transaction.atomic
def add_photo(
    *, piece: Piece, name: str, width_px: int, height_px: int, by: User, at: datetime
) -> Change:
    """Show a piece by this kept picture from now on. An earlier picture's file stays.

    Raises Refusal for a piece without a number: ungraded pieces are interchangeable.
    """
    read = Piece.objects.select_for_update(of=("self",)).select_related("form").get(id=piece.id)
    called = selectors.piece_name(read)
    refuse(rules.can_photograph(name=called, number=read.number))
    photo, _ = Photo.objects.get_or_create(
        name=name, defaults={"width_px": width_px, "height_px": height_px, "kept_at": at}
    )
    was = read.photo_id
    read.photo = photo
    read.save(update_fields=["photo"])
    return record(
        room="wares",
        action="photo",
        said=f"Photographed {called}",
        by=by,
        at=at,
        subject="piece",
        subject_id=read.id,
        undo={"photo": photo.id, "piece": read.id, "photo_was": was},
    )
