"""Promise a piece to somebody, and release it again."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.wares import rules, selectors
from studio.wares.models import Piece, Reservation
from studio.wares.services.locking import lock_pieces
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record


@transaction.atomic
def reserve(*, piece: Piece, kind: str, note: str = "", by: User, at: datetime) -> Change:
    """Promise a graded piece: for a claim, a parcel, as a spare, or held back. Raises Refusal."""
    read = Piece.objects.select_for_update(of=("self",)).select_related("form").get(id=piece.id)
    name = selectors.piece_name(read)
    refuse(
        rules.can_note(note)
        or rules.can_promise_as(kind)
        or rules.can_reserve(
            name=name,
            stage=read.stage,
            gone=read.parting,
            promise=selectors.promise_of(read),
        )
    )
    try:
        with transaction.atomic():
            reservation = Reservation.objects.create(piece=read, kind=kind, note=note, by=by, at=at)
    except IntegrityError:
        raise Refusal(
            rules.can_reserve(
                name=name, stage=read.stage, gone="", promise=selectors.promise_of(read) or "now"
            )
            or ""
        ) from None
    return record(
        room="wares",
        action="reserve",
        said=f"Promised {name} ({selectors.promise_words(reservation)})",
        by=by,
        at=at,
        subject="piece",
        subject_id=read.id,
        undo={"reserved": reservation.id},
    )


@transaction.atomic
def release(*, piece: Piece, owner: str = "", by: User, at: datetime) -> Change:
    """Take a promise back. Raises Refusal when there is none, or another room looks after it.

    ``owner`` is the kind of promise that the calling room itself looks after.
    """
    lock_pieces([piece.id])
    reservation = selectors.reservation_of(piece)
    name = selectors.piece_name(piece)
    refuse(
        rules.can_release(name=name, kind=reservation.kind if reservation else None, owner=owner)
    )
    assert reservation is not None
    kept = selectors.promise_kept(reservation)
    words = selectors.promise_words(reservation)
    reservation.delete()
    return record(
        room="wares",
        action="release",
        said=f"Released {name} (was promised: {words})",
        by=by,
        at=at,
        subject="piece",
        subject_id=piece.id,
        undo={"promises": [kept]},
    )
