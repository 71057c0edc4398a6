"""Pick the month's parcels in turn, swap and skip.

Laws:

1. A piece in a parcel carries a reservation of the kind parcel, so that nothing else takes it.
2. Who goes without a pot is skipped with the reason, keeps the place, and the next turn moves up.
3. One parcel a household: who is passed over for it is skipped in the same way.
4. The rules of the pick are those of the hand: ``selectors.cannot_put_in`` is asked for both.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.craft.picks import Picks, pick
from studio.parcels import rules, selectors
from studio.parcels.models import Parcel, ParcelPiece, Shipment, Skip, Supporter
from studio.parcels.services.hold import hold, lock_contents
from studio.parcels.services.record import too_late, write_down
from studio.wares import services as wares
from studio.wares.kinds import kind_of
from studio.wares.models import Line, Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse


@transaction.atomic
def pick_parcels(*, shipment: Shipment, by: User, at: datetime) -> Change:
    """Fill the month's parcels: people in fair turn, a pot for each that they may have.

    Parcels that are there stay. The pots are handed out by ``craft.picks``. Who cannot be given
    one is skipped with the reason, and the next turn moves up. Raises Refusal when nobody is
    eligible, nothing is free, or nobody can be given a pot.
    """
    held = Shipment.objects.select_for_update().get(id=shipment.id)
    wares.lock_pieces(selectors.free_pots().values_list("id", flat=True))
    refuse(selectors.cannot_pick(held))
    left = held.parcel_count - held.parcels.turns().count()
    why, picks, skipped = _choose(held, left=left)
    if not picks.pairs:
        reasons = "; ".join(sorted(set(skipped.values()))) or "everybody has a parcel already"
        raise Refusal(f"Nobody can be given a parcel now: {reasons}.")
    change = write_down(
        action="pick",
        said=f"Picked {_parcels(len(picks.pairs))} of {rules.month_name(held.month)}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=held.id,
        undo={},
    )
    skips = [
        Skip.objects.create(shipment=held, supporter_id=id_, reason=reason)
        for id_, reason in skipped.items()
    ]
    parcels = []
    for key, pot in picks.pairs:
        parcel = Parcel.objects.create(
            shipment=held, supporter_id=int(key), why=why[key][: rules.NOTE_LENGTH]
        )
        _put_in(parcel=parcel, piece=_piece(int(pot)), by=by, at=at)
        parcels.append(parcel.id)
    change.undo = {"parcels": parcels, "skips": [skip.id for skip in skips]}
    change.save(update_fields=["undo"])
    return change


@transaction.atomic
def choose_piece(
    *,
    parcel: Parcel,
    piece: Piece,
    instead_of: ParcelPiece | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Put a piece into a parcel by hand, instead of another or beside what is there.

    Raises Refusal for whatever the pick would not do either.
    """
    held = hold(parcel)
    leaving = held.lines.filter(id=instead_of.id).first() if instead_of else None
    refuse(
        "The piece to be swapped is no longer in this parcel. Nothing was changed."
        if instead_of is not None and leaving is None
        else None
    )
    wares.lock_pieces([piece.id, *([leaving.piece_id] if leaving else [])])
    read = _piece(piece.id)
    line = _line_of(read, by=by, at=at)
    refuse(selectors.cannot_put_in(piece=read, line=line, parcel=held, instead_of=leaving))
    was = leaving.piece_id if leaving else None
    if leaving is not None:
        take_out(leaving)
    _put_in(parcel=held, piece=read, by=by, at=at)
    name = held.supporter.name
    said = f"Put {read} into the parcel of {name}"
    if leaving is not None:
        said += f" instead of {leaving.piece}"
    return write_down(
        action="choose_piece",
        said=said,
        by=by,
        at=at,
        subject="parcel",
        subject_id=held.id,
        undo={"now": read.id, "was": was},
    )


@transaction.atomic
def skip(
    *, shipment: Shipment, supporter: Supporter, reason: str, by: User, at: datetime
) -> Change:
    """Pass over a turn this month. The place is kept; pieces picked for it are free again."""
    held = Shipment.objects.select_for_update().get(id=shipment.id)
    parcel = held.parcels.turns().select_for_update().filter(supporter=supporter).first()
    lock_contents([parcel] if parcel else [])
    refuse(
        rules.can_skip(
            name=supporter.name,
            state=parcel.state if parcel else "",
            reason=reason,
            skipped=held.skips.filter(supporter=supporter).exists(),
        )
    )
    made = Skip.objects.create(shipment=held, supporter=supporter, reason=" ".join(reason.split()))
    kept = _empty(parcel) if parcel else None
    return write_down(
        action="skip",
        said=f"Skipped {supporter.name} in {rules.month_name(held.month)}: {made.reason}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=held.id,
        undo={"skip": made.id, "parcel": kept},
    )


def _choose(shipment: Shipment, *, left: int) -> tuple[dict[str, str], Picks, dict[int, str]]:
    """Why whose turn it is, the pots of at most ``left`` more parcels, and who is skipped.

    Each time somebody cannot be given a pot they are skipped and all turns are asked anew, so
    that the record says of everybody before the last one served why they were not.
    """
    there = dict.fromkeys(shipment.parcels.values_list("supporter_id", flat=True), "has a parcel")
    by_hand = dict(shipment.skips.values_list("supporter_id", "reason"))
    pots = selectors.pots_for(shipment)
    wanted = min(left, len(pots))
    skipped: dict[int, str] = {}
    while True:
        passed = {**there, **by_hand, **skipped}
        due = selectors.due_turns(shipment=shipment, count=wanted, skips=passed)
        wishers = selectors.wishers(person for person, _ in due.turns)
        picks = pick(wishers=wishers, pots=pots)
        if not picks.without:
            skipped |= {person.id: rules.HOUSEHOLD for person in due.passed}
            return {str(person.id): why for person, why in due.turns}, picks, skipped
        for one in picks.without:
            skipped[int(one.wisher_key)] = rules.why_without(one)


def _put_in(*, parcel: Parcel, piece: Piece, by: User, at: datetime) -> None:
    line = _line_of(piece, by=by, at=at)
    try:
        with transaction.atomic():
            Reservation.objects.create(
                piece=piece, kind=Reservation.Kind.PARCEL, note=f"parcel {parcel}", by=by, at=at
            )
            ParcelPiece.objects.create(
                parcel=parcel,
                piece=piece,
                supporter_id=parcel.supporter_id,
                line=line,
                in_place_of_broken=parcel.replaces_id is not None,
            )
    except IntegrityError:
        raise Refusal(f"Somebody else took {piece} at this moment. Nothing was changed.") from None


def take_out(row: ParcelPiece) -> None:
    """Take a piece out of its parcel, within the caller's transaction; it is free again.

    The promise goes with its parcel as a part of this change: a release of its own could be undone
    alone, and would promise a piece to a parcel that it is not in.
    """
    Reservation.objects.filter(piece_id=row.piece_id, kind=Reservation.Kind.PARCEL).delete()
    row.delete()


def _empty(parcel: Parcel) -> dict[str, Any]:
    """Take a parcel away with what is in it; answer what an undo needs."""
    kept = {
        "supporter_id": parcel.supporter_id,
        "why": parcel.why,
        "note": parcel.note,
        "box": parcel.box,
        "pieces": list(parcel.lines.values_list("piece_id", flat=True)),
    }
    for row in parcel.lines.all():
        take_out(row)
    parcel.delete()
    return kept


def take_away(parcels: Iterable[Parcel]) -> None:
    """Take picked parcels away, within the caller's transaction. Raises Refusal."""
    for parcel in parcels:
        if parcel.state != Parcel.State.PICKED:
            raise Refusal(too_late(f"the parcel of {parcel.supporter.name} is {parcel.state}."))
        _empty(parcel)


def put_again(*, shipment: Shipment, kept: dict[str, Any], by: User, at: datetime) -> None:
    """Make a parcel again as ``_empty`` kept it, if its pieces are free still. Raises Refusal."""
    supporter = Supporter.objects.get(id=kept["supporter_id"])
    if shipment.parcels.turns().filter(supporter=supporter).exists():
        raise Refusal(too_late(f"{supporter.name} has another parcel this month."))
    parcel = Parcel.objects.create(
        shipment=shipment,
        supporter=supporter,
        why=kept["why"],
        note=kept["note"],
        box=kept["box"],
    )
    for id_ in kept["pieces"]:
        swap_in(parcel=parcel, piece_id=id_, by=by, at=at)


def swap_in(*, parcel: Parcel, piece_id: int, by: User, at: datetime) -> None:
    """Put a piece back into a parcel, by the rules of the hand. Raises Refusal."""
    wares.lock_pieces([piece_id])
    piece = _piece(piece_id)
    line = _line_of(piece, by=by, at=at)
    cannot = selectors.cannot_put_in(piece=piece, line=line, parcel=parcel, is_back=True)
    refuse(too_late(cannot) if cannot else None)
    _put_in(parcel=parcel, piece=piece, by=by, at=at)


def _parcels(count: int) -> str:
    return "1 parcel" if count == 1 else f"{count} parcels"


def _piece(id_: int) -> Piece:
    return Piece.objects.select_related("form", "reservation").get(id=id_)


def _line_of(piece: Piece, *, by: User, at: datetime) -> Line:
    line = selectors.lines_by_kind().get(kind_of(piece))
    if line is not None:
        return line
    if piece.coats is None or piece.schedule is None:
        raise Refusal(f"{piece} is {piece.stage}. Only a graded piece can be sent.")
    return wares.ensure_line(
        form=piece.form,
        clay_lot=piece.clay_lot,
        coats=piece.coats,
        schedule=piece.schedule,
        by=by,
        at=at,
    )
