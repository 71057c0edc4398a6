"""Which pieces are offered, claimed and sold, and why may one not be?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from studio.sales import rules
from studio.sales.models import Listing, SaleDay
from studio.wares.models import Piece, Stage
from studio.wares.selectors import promise_words

LINE_PARTS = ("form", "clay_lot", "coats", "schedule")
PROMISES = ("reservation", "parcel_piece__parcel__shipment", "parcel_piece__parcel__supporter")


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedPiece:
    """A piece offered at a sale day, with what may be done to it."""

    listing: Listing
    piece: Piece
    claim: str
    promise: str | None
    cannot_sell: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class ListingGroup:
    """What a sale day offers, or sold, of one line and grade."""

    name: str
    body: str
    grade: str
    rows: tuple[ListedPiece, ...]

    @property
    def pence(self) -> int:
        """The prices of its pieces, summed [pence]."""
        return sum(row.listing.price_pence for row in self.rows)

    @property
    def claimed(self) -> int:
        """How many of its pieces somebody claimed."""
        return sum(bool(row.claim) for row in self.rows)


def listing_groups(*, sale_day: SaleDay, parting: str) -> list[ListingGroup]:
    """What stands listed (parting "") or was sold ("sold") at a sale day, by line and grade."""
    together: dict[tuple[str, str, str], list[ListedPiece]] = defaultdict(list)
    for listing in _listings(sale_day).filter(piece__parting=parting):
        piece = listing.piece
        key = (f"{piece.form} in {piece.coats}", piece.clay_lot.body, piece.grade)
        together[key].append(_listed(listing))
    return [
        ListingGroup(name=name, body=body, grade=grade, rows=tuple(rows))
        for (name, body, grade), rows in sorted(together.items())
    ]


def cannot_release_any(sale_day: SaleDay) -> str | None:
    """Why no claim can be given up at this sale day; None while somebody holds a listed piece."""
    held = _listings(sale_day).filter(piece__parting="", piece__reservation__kind="claim")
    return rules.can_release_any(sale=sale_day.name, claims=held.count())


def listed_pieces(sale_day: SaleDay) -> list[ListedPiece]:
    """The pieces that stand listed for this sale day, by number."""
    listings = _listings(sale_day).filter(piece__parting="")
    return [_listed(listing) for listing in listings]


def sold_listings(sale_day: SaleDay) -> list[Listing]:
    """What was sold at this sale day, by number."""
    return list(_listings(sale_day).filter(piece__parting="sold"))


def claims_of(listings: Iterable[Listing]) -> list[tuple[Piece, str]]:
    """The pieces of these listings that somebody claimed, each with the name."""
    found = []
    for listing in listings:
        reservation = getattr(listing.piece, "reservation", None)
        if reservation is not None and reservation.kind == "claim":
            found.append((listing.piece, reservation.note))
    return found


def takings_pence(listings: Iterable[Listing]) -> int:
    """The prices of what was sold, summed [pence]."""
    return sum(listing.price_pence for listing in listings)


def free_graded() -> QuerySet[Piece]:
    """The graded pieces on hand that are promised to nobody, by number."""
    return (
        Piece.objects.free()
        .filter(stage=Stage.GRADED, parcel_piece__isnull=True)
        .select_related(*LINE_PARTS, "photo", "board")
        .order_by("number")
    )


def cannot_list(piece: Piece) -> str | None:
    """Why this piece cannot be listed though it may be graded: it stands in a parcel."""
    return rules.can_offer(name=str(piece), parcel=parcel_of(piece))


def cannot_sell(piece: Piece) -> str | None:
    """Why this piece cannot be marked sold now; None when it can."""
    reservation = getattr(piece, "reservation", None)
    return rules.can_sell(
        name=str(piece),
        stage=piece.stage,
        gone=piece.parting,
        parcel=parcel_of(piece),
        promise_kind=reservation.kind if reservation else "",
        promise=promise_words(reservation),
    )


def cannot_claim(*, piece: Piece, for_whom: str) -> str | None:
    """Why this piece cannot be held for somebody at a sale; None when it can."""
    return rules.can_claim(
        name=str(piece),
        stage=piece.stage,
        gone=piece.parting,
        parcel=parcel_of(piece),
        promise=promise_words(getattr(piece, "reservation", None)),
        for_whom=for_whom,
    )


def cannot_take_back(piece: Piece) -> str | None:
    """Why this listed piece cannot be taken off the list; None when it can."""
    promise = promise_words(getattr(piece, "reservation", None))
    return rules.can_take_back(name=str(piece), promise=promise)


def parcel_of(piece: Piece) -> str:
    """The number of the parcel a piece stands in, or ''."""
    row = getattr(piece, "parcel_piece", None)
    return str(row.parcel) if row is not None else ""


def pieces_now(ids: Iterable[int]) -> list[Piece]:
    """Pieces by number with all that says whether they may be offered, read anew."""
    found = Piece.objects.select_related("form", "board", *PROMISES).filter(id__in=list(ids))
    return list(found.order_by("number", "id"))


def listings_of(*, sale_day: SaleDay, ids: Iterable[int]) -> list[Listing]:
    """The listings of these pieces at a sale day, by number, with what their pieces promise."""
    return list(_listings(sale_day).filter(piece_id__in=list(ids)))


def _listings(sale_day: SaleDay) -> QuerySet[Listing]:
    return sale_day.listings.select_related(
        *(f"piece__{part}" for part in (*LINE_PARTS, *PROMISES, "photo", "board"))
    ).order_by("piece__number")


def _listed(listing: Listing) -> ListedPiece:
    piece = listing.piece
    reservation = getattr(piece, "reservation", None)
    claim = reservation.note if reservation and reservation.kind == "claim" else ""
    return ListedPiece(
        listing=listing,
        piece=piece,
        claim=claim,
        promise=promise_words(getattr(piece, "reservation", None)),
        cannot_sell=cannot_sell(piece),
    )
