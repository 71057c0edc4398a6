"""Hold parcels and what is in them while a service changes them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from studio.parcels import rules
from studio.parcels.models import Parcel, ParcelPiece
from studio.wares import services as wares
from studio.wares.models import Reservation
from studio.web.refusal import refuse


def hold(parcel: Parcel) -> Parcel:
    """A parcel as it is now, held, with its person and month."""
    held = Parcel.objects.select_for_update(of=("self",)).select_related("supporter", "shipment")
    return held.get(id=parcel.id)


def lock_contents(parcels: Iterable[Parcel]) -> None:
    """Lock the pieces that lie in these parcels."""
    rows = ParcelPiece.objects.filter(parcel__in=[parcel.id for parcel in parcels])
    wares.lock_pieces(rows.values_list("piece_id", flat=True))


def hold_all(parcels: Sequence[Parcel], *, to: str) -> tuple[list[Parcel], int]:
    """Hold those that are not at a state yet, always in the same order; how many are there.

    Raises Refusal for none, and when all of them are there.
    """
    refuse(None if parcels else "Choose at least one parcel.")
    held = [hold(parcel) for parcel in sorted(parcels, key=lambda parcel: parcel.id)]
    lock_contents(held)
    todo = [one for one in held if not rules.is_done(state=one.state, to=to)]
    if not todo:
        refuse(
            f"The parcel of {held[0].supporter.name} is {held[0].state} already."
            if len(held) == 1
            else f"All {len(held)} parcels are {to} already."
        )
    return todo, len(held) - len(todo)


def not_there(parcel: Parcel) -> str | None:
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


def were(done: int, word: str) -> str:
    """How many of those that were asked for stood there already, to be put behind a sentence."""
    if not done:
        return ""
    return f"; {done} {'was' if done == 1 else 'were'} {word} already"


def parcels_of(parcels: Sequence[Parcel]) -> str:
    """One parcel by its person, several by their number, and the month."""
    month = rules.month_name(parcels[0].shipment.month)
    if len(parcels) == 1:
        return f"the parcel of {parcels[0].supporter.name}, {month}"
    return f"{len(parcels)} parcels of {month}"
