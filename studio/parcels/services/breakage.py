"""Say that a parcel arrived broken, and send another in its place.

Laws:

1. A parcel in place of a broken one uses no turn: the share of nobody changes.
2. The pot that goes again may be of the line that broke; any other line the person had may not.
3. What was sent stays sent: the broken pot's parting is not changed, the parcel says what became
   of it.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils import timezone

from studio.parcels import rules, selectors
from studio.parcels.models import Parcel, ParcelPiece, Shipment
from studio.parcels.services.hold import hold
from studio.parcels.services.record import too_late, write_down
from studio.wares import selectors as wares_selectors
from studio.wares import services as wares
from studio.wares.kinds import kind_of
from studio.wares.models import Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse


@transaction.atomic
def report_broken(*, parcel: Parcel, note: str = "", by: User, at: datetime) -> Change:
    """Say that a posted or arrived parcel was broken on its way. Raises Refusal."""
    held = hold(parcel)
    name, plain = held.supporter.name, " ".join(note.split())
    refuse(rules.can_break(name=name, state=held.state, note=plain))
    was = held.state
    held.state, held.broken_note = Parcel.State.BROKEN, plain
    held.broken_date = timezone.localdate(at)
    held.save(update_fields=["state", "broken_note", "broken_date"])
    box = f", in {held.box}" if held.box else ""
    return write_down(
        action="break",
        said=f"The parcel of {name} arrived broken{box}{f': {plain}' if plain else ''}",
        by=by,
        at=at,
        subject="parcel",
        subject_id=held.id,
        undo={"was": was},
    )


@transaction.atomic
def replace_broken(*, parcel: Parcel, piece: Piece, by: User, at: datetime) -> Change:
    """Put a spare, or a free pot, into a parcel of its own in place of a broken one.

    Raises Refusal when the parcel is not broken, is replaced already, or the pot may not go there.
    """
    held = hold(parcel)
    name = held.supporter.name
    again = Parcel.objects.filter(replaces=held).first()
    refuse(rules.can_replace(name=name, state=held.state, again=str(again) if again else ""))
    wares.lock_pieces([piece.id])
    offer = next((o for o in selectors.spare_offers(held) if o.piece.id == piece.id), None)
    if offer is None:
        raise Refusal(f"{piece} is neither a spare nor free any more. Choose another.")
    refuse(offer.cannot)
    spare = Reservation.objects.filter(piece=piece, kind=Reservation.Kind.SPARE).first()
    kept = wares_selectors.promise_kept(spare) if spare else None
    if spare is not None:
        spare.delete()
    try:
        with transaction.atomic():
            made = Parcel.objects.create(
                shipment=held.shipment,
                supporter=held.supporter,
                replaces=held,
                why=f"in place of {held}, which arrived broken",
                note=held.note,
            )
            Reservation.objects.create(
                piece=piece, kind=Reservation.Kind.PARCEL, note=f"parcel {made}", by=by, at=at
            )
            ParcelPiece.objects.create(
                parcel=made,
                piece=piece,
                supporter_id=held.supporter_id,
                line=selectors.lines_by_kind()[kind_of(piece)],
                in_place_of_broken=True,
            )
    except IntegrityError:
        raise Refusal(f"Somebody else took {piece} at this moment. Nothing was changed.") from None
    return write_down(
        action="replace",
        said=f"{piece} goes to {name} in place of what broke; it uses no turn",
        by=by,
        at=at,
        subject="parcel",
        subject_id=made.id,
        undo={"piece": piece.id, "spare": kept},
    )


@transaction.atomic
def keep_spare(*, shipment: Shipment, piece: Piece, by: User, at: datetime) -> Change:
    """Keep a free pot back as a spare for a month's breakages. Raises Refusal."""
    note = f"spare of {rules.month_name(shipment.month)}"
    return wares.reserve(piece=piece, kind=Reservation.Kind.SPARE, note=note, by=by, at=at)


def mend(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    """Undo that a parcel was said to be broken, while nothing goes out in its place."""
    held = Parcel.objects.select_for_update().filter(id=change.subject_id or 0).first()
    if held is None or held.state != Parcel.State.BROKEN:
        raise Refusal(too_late("the parcel is not broken any more."))
    if Parcel.objects.filter(replaces=held).exists():
        raise Refusal(too_late("another parcel goes out in its place."))
    held.state, held.broken_date, held.broken_note = was["was"], None, ""
    held.save(update_fields=["state", "broken_date", "broken_note"])


def take_replacement_back(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    """Undo a replacement that was not packed yet; a spare is a spare again."""
    held = Parcel.objects.select_for_update().filter(id=change.subject_id or 0).first()
    if held is None or held.state != Parcel.State.PICKED:
        raise Refusal(too_late(f"that parcel is {held.state if held else 'gone'}."))
    if list(held.lines.values_list("piece_id", flat=True)) != [was["piece"]]:
        raise Refusal(too_late("another pot is in it now."))
    Reservation.objects.filter(piece_id=was["piece"], kind=Reservation.Kind.PARCEL).delete()
    held.lines.all().delete()
    held.delete()
    kept = was["spare"]
    if kept is not None:
        Reservation.objects.create(
            piece_id=was["piece"],
            kind=Reservation.Kind.SPARE,
            note=kept["note"],
            by_id=kept["by_id"],
            at=datetime.fromisoformat(kept["at"]),
        )
