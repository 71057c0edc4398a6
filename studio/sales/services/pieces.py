"""List pieces at a sale day, claim and sell them, take them back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.sales import rules, selectors
from studio.sales.models import Listing, SaleDay
from studio.sales.services.record import write_down
from studio.wares import services as wares
from studio.wares.models import Piece, Reservation
from studio.wares.selectors import promise_kept
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse


@transaction.atomic
def list_for_sale(
    *, sale_day: SaleDay, prices_pence: Mapping[int, int], by: User, at: datetime
) -> Change:
    """Offer pieces at a sale day: piece id to price [pence]. Raises Refusal for the first wrong."""
    refuse(
        selectors.cannot_offer(sale_day=sale_day, now=at)
        or (None if prices_pence else "Choose at least one piece to list.")
    )
    wares.lock_pieces(prices_pence)
    pieces = selectors.pieces_now(prices_pence)
    refuse(None if len(pieces) == len(prices_pence) else "A chosen piece is not known here.")
    for piece in pieces:
        refuse(selectors.cannot_list(piece))
        refuse(rules.can_price(name=str(piece), price_pence=prices_pence[piece.id]))
    change = write_down(
        action="list",
        said=f"Listed {_pieces(pieces)} for {sale_day.name}",
        by=by,
        at=at,
        sale_day=sale_day,
        undo={},
    )
    wares.list_pieces(pieces=pieces, change=change, at=at)
    Listing.objects.filter(piece__in=pieces).delete()  # of a sale they were taken back from
    Listing.objects.bulk_create(
        Listing(piece=piece, sale_day=sale_day, price_pence=prices_pence[piece.id], listed_at=at)
        for piece in pieces
    )
    return change


@transaction.atomic
def take_back(*, sale_day: SaleDay, pieces: Sequence[Piece], by: User, at: datetime) -> Change:
    """Take listed pieces of a sale day off the list again. Raises Refusal."""
    listings = _listings(sale_day, pieces)
    for listing in listings:
        refuse(selectors.cannot_take_back(listing.piece))
    some = [listing.piece for listing in listings]
    change = write_down(
        action="take_back",
        said=f"Took {_pieces(some)} off the list of {sale_day.name}",
        by=by,
        at=at,
        sale_day=sale_day,
        undo={"listings": [_kept(listing) for listing in listings]},
    )
    wares.take_off_list(pieces=some, change=change, at=at)
    Listing.objects.filter(id__in=[listing.id for listing in listings]).delete()
    return change


@transaction.atomic
def sell(
    *,
    sale_day: SaleDay,
    pieces: Sequence[Piece],
    to_claimants: bool = False,
    by: User,
    at: datetime,
) -> Change:
    """Mark listed pieces of a sale day as sold; a claim on them is fulfilled. Raises Refusal.

    Pieces that somebody claimed are sold only ``to_claimants``: the name stays with the piece.
    """
    listings = _listings(sale_day, pieces)
    for listing in listings:
        refuse(selectors.cannot_sell(listing.piece))
    claims = selectors.claims_of(listings)
    refuse(
        rules.can_sell_claimed(
            claims=[(str(piece), name) for piece, name in claims], to_claimants=to_claimants
        )
    )
    some = [listing.piece for listing in listings]
    names = {piece.id: name for piece, name in claims}
    change = write_down(
        action="sell",
        said=f"Sold {_pieces(some)} at {sale_day.name}",
        by=by,
        at=at,
        sale_day=sale_day,
        undo={},
    )
    for name in sorted({names.get(piece.id, "") for piece in some}):
        wares.part_pieces(
            pieces=[piece for piece in some if names.get(piece.id, "") == name],
            parting="sold",
            cause=name,
            keeps_promise="claim",
            change=change,
            at=at,
        )
    return change


@transaction.atomic
def claim(
    *, sale_day: SaleDay, pieces: Sequence[Piece], for_whom: str, by: User, at: datetime
) -> Change:
    """Hold listed pieces for somebody by name. Raises Refusal."""
    some = [listing.piece for listing in _listings(sale_day, pieces)]
    for piece in some:
        refuse(selectors.cannot_claim(piece=piece, for_whom=for_whom))
    name = " ".join(for_whom.split())
    try:
        with transaction.atomic():
            made = [
                Reservation.objects.create(
                    piece=piece, kind=Reservation.Kind.CLAIM, note=name, by=by, at=at
                )
                for piece in some
            ]
    except IntegrityError:
        raise Refusal("Somebody else claimed one of these just now. Nothing was changed.") from None
    return write_down(
        action="claim",
        said=f"{name} claims {_pieces(some)} at {sale_day.name}",
        by=by,
        at=at,
        sale_day=sale_day,
        undo={"reservations": [row.id for row in made]},
    )


@transaction.atomic
def release(*, sale_day: SaleDay, pieces: Sequence[Piece], by: User, at: datetime) -> Change:
    """Give up the claims on listed pieces of a sale day. Raises Refusal."""
    some = [listing.piece for listing in _listings(sale_day, pieces)]
    refuse(selectors.cannot_release_any(sale_day))
    kept = []
    for piece in some:
        held = Reservation.objects.select_for_update().filter(piece=piece).first()
        refuse(rules.can_release(name=str(piece), promise_kind=held.kind if held else ""))
        assert held is not None
        kept.append(promise_kept(held))
        held.delete()
    return write_down(
        action="release",
        said=f"Released the claim on {_pieces(some)} at {sale_day.name}",
        by=by,
        at=at,
        sale_day=sale_day,
        undo={"claims": kept},
    )


def _listings(sale_day: SaleDay, pieces: Sequence[Piece]) -> list[Listing]:
    """The listings of these pieces at this sale day, held, and read as they are now."""
    ids = {piece.id for piece in pieces}
    refuse(None if ids else "Choose at least one piece.")
    wares.lock_pieces(ids)
    listings = selectors.listings_of(sale_day=sale_day, ids=ids)
    missing = ids - {listing.piece_id for listing in listings}
    if missing:
        one = Piece.objects.filter(id__in=missing).first()
        raise Refusal(f"{one or 'A piece'} is not listed for {sale_day.name} now.")
    return listings


def _kept(listing: Listing) -> dict[str, Any]:
    return {
        "piece_id": listing.piece_id,
        "price_pence": listing.price_pence,
        "listed_at": listing.listed_at.isoformat(),
    }


def _pieces(pieces: Sequence[Piece]) -> str:
    if len(pieces) <= 6:
        return ", ".join(str(piece) for piece in pieces)
    return f"{len(pieces)} pieces, {pieces[0]} to {pieces[-1]}"
