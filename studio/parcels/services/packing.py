"""Write the note of a parcel, mark it packed, mark it posted.

When a parcel is posted its pieces are parted as sent, and their reservations, fulfilled, go.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.parcels import rules
from studio.parcels.models import Parcel
from studio.parcels.services.hold import hold, lock_contents
from studio.parcels.services.record import write_down
from studio.wares import services as wares
from studio.wares.models import Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import refuse


@transaction.atomic
def set_note(*, parcel: Parcel, note: str, by: User, at: datetime) -> Change:
    """Write the note that is printed on a parcel's slip. Raises Refusal when it is too long."""
    held = hold(parcel)
    refuse(
        f"Say it in {rules.NOTE_LENGTH} characters at most."
        if len(note) > rules.NOTE_LENGTH
        else None
    )
    was = held.note
    held.note = note.strip()
    held.save(update_fields=["note"])
    return write_down(
        action="set_note",
        said=f"Wrote the note for the parcel of {held.supporter.name}",
        by=by,
        at=at,
        subject="parcel",
        subject_id=held.id,
        undo={"was": was, "now": held.note},
    )


@transaction.atomic
def mark_packed(*, parcels: Sequence[Parcel], box: str = "", by: User, at: datetime) -> Change:
    """Mark picked parcels as packed. Raises Refusal for the first that is not so."""
    held = _hold_all(parcels)
    plain_box = " ".join(box.split())
    for one in held:
        refuse(
            rules.can_pack(
                name=one.supporter.name, state=one.state, pieces=one.lines.count(), box=plain_box
            )
            or _not_there(one)
        )
    was = [[one.id, one.box] for one in held]
    for one in held:
        one.state, one.box = Parcel.State.PACKED, plain_box or one.box
        one.save(update_fields=["state", "box"])
    return write_down(
        action="pack",
        said=f"Packed {_people(held)}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=held[0].shipment_id,
        undo={"boxes": was},
    )


@transaction.atomic
def mark_posted(*, parcels: Sequence[Parcel], by: User, at: datetime) -> Change:
    """Mark packed parcels as posted today: their pieces are parted as sent. Raises Refusal."""
    held = _hold_all(parcels)
    for one in held:
        refuse(rules.can_post(name=one.supporter.name, state=one.state) or _not_there(one))
    change = write_down(
        action="post",
        said=f"Posted {_people(held)}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=held[0].shipment_id,
        undo={},
    )
    ids = [line.piece_id for one in held for line in one.lines.all()]
    pieces = list(Piece.objects.select_related("form", "board").filter(id__in=ids).order_by("id"))
    wares.part_pieces(pieces=pieces, parting="sent", keeps_promise="parcel", change=change, at=at)
    today = timezone.localdate(at)
    Parcel.objects.filter(id__in=[one.id for one in held]).update(
        state=Parcel.State.POSTED, posted_date=today
    )
    change.undo = {**(change.undo or {}), "parcels": [one.id for one in held]}
    change.save(update_fields=["undo"])
    return change


def _hold_all(parcels: Sequence[Parcel]) -> list[Parcel]:
    """Hold parcels and what is in them, always in the same order. Raises Refusal for none."""
    refuse(None if parcels else "Choose at least one parcel.")
    held = [hold(parcel) for parcel in sorted(parcels, key=lambda parcel: parcel.id)]
    lock_contents(held)
    return held


def _not_there(parcel: Parcel) -> str | None:
    """Say that a piece of a parcel left the studio, is listed, or lost its promise."""
    rows = parcel.lines.select_related("piece__reservation")
    for row in rows:
        promise = getattr(row.piece, "reservation", None)
        cannot = rules.can_go(
            piece=str(row.piece),
            name=parcel.supporter.name,
            gone=row.piece.parting,
            stage=row.piece.stage,
            promised=promise is not None and promise.kind == Reservation.Kind.PARCEL,
        )
        if cannot:
            return cannot
    return None


def _people(parcels: Sequence[Parcel]) -> str:
    month = rules.month_name(parcels[0].shipment.month)
    if len(parcels) == 1:
        return f"the parcel of {parcels[0].supporter.name}, {month}"
    return f"{len(parcels)} parcels of {month}"
