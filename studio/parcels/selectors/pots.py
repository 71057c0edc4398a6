"""Which free pots may go to whom, and which are left for the sales?"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from studio.craft.picks import Pot, Wisher, bar
from studio.parcels import rules
from studio.parcels.models import Parcel, ParcelPiece, Shipment, Supporter
from studio.parcels.selectors.reading import Reading, glazes_of_coats, wisher_of
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Line, Piece
from studio.wares.selectors import promise_words


@dataclass(frozen=True, kw_only=True, slots=True)
class Offer:
    """A free pot beside the parcel it may or may not go into."""

    piece: Piece
    line_name: str
    cannot: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class OfferGroup:
    """The free pots of a line: those that may go into a parcel, and those that may not."""

    line_name: str
    may: tuple[Offer, ...]
    may_not: tuple[Offer, ...]


def pots_for(shipment: Shipment, *, reading: Reading | None = None) -> list[Pot]:
    """The free pots as the pick sees them. ``reading`` is of this month, if there is one.

    Wanted ones are so as far as the month's wants go; what the sales to come still ask for is
    ``for_sale``, the last ones of each line first, but never what the month itself has set aside.
    """
    read = reading or Reading(shipment)
    open_wants = _open_wants(read)
    left_for_sales = _for_sales(read, open_wants)
    firsts = _free_firsts(read)
    found = []
    for piece in read.pots:
        kind = kind_of(piece)
        line = read.lines.get(kind)
        if line is None:
            continue
        is_first = piece.grade == "first"
        wanted = not open_wants or (is_first and open_wants.get(kind, 0) > 0)
        if wanted and open_wants:
            open_wants[kind] -= 1
        for_sale = is_first and firsts[kind] <= left_for_sales[kind]
        firsts[kind] -= is_first
        found.append(pot_of(piece, line, wanted=wanted, for_sale=for_sale, glazes=read.glazes))
    return found


def wisher(
    supporter: Supporter, *, but: Parcel | None = None, instead_of: ParcelPiece | None = None
) -> Wisher:
    """What this person had and would rather not have.

    ``but`` is a parcel, ``instead_of`` a piece in one, that does not count.
    """
    had = ParcelPiece.objects.filter(supporter=supporter)
    if but is not None:
        had = had.exclude(parcel=but)
    if instead_of is not None:
        had = had.exclude(id=instead_of.id)
    return wisher_of(
        supporter,
        had=had.values_list("line_id", "line__form_id", "piece__grade", "piece__form__price_pence"),
        forms=(str(form.id) for form in supporter.please_no.all()),
        glazes=(str(glaze.id) for glaze in supporter.no_glazes.all()),
    )


def cannot_put_in(
    *,
    piece: Piece,
    line: Line,
    parcel: Parcel,
    instead_of: ParcelPiece | None = None,
    is_back: bool = False,
) -> str | None:
    """Why this piece cannot go into this parcel; None when it can.

    ``is_back``: it was in it before, so no sale has a claim to it. In place of a broken parcel the
    lines that broke may go again.
    """
    person = wisher(parcel.supporter, but=parcel.replaces, instead_of=instead_of)
    read = Reading(parcel.shipment)
    closed = frozenset[Kind]() if is_back else _all_for_sale(read)
    for_sale = piece.grade == "first" and kind_of(piece) in closed
    return _why_not(
        piece=piece,
        parcel=parcel,
        person=person,
        pot=pot_of(piece, line, for_sale=for_sale, glazes=read.glazes),
    )


def offers(*, parcel: Parcel, instead_of: ParcelPiece | None = None) -> list[Offer]:
    """Every free pot by line: those that may go into this parcel first, the others with the reason.

    A pot that is like another of its line is offered as well; each has its own picture.
    """
    person = wisher(parcel.supporter, but=parcel.replaces, instead_of=instead_of)
    read = Reading(parcel.shipment)
    kept = _all_for_sale(read)
    found = []
    for piece in read.pots:
        line = read.lines.get(kind_of(piece))
        if line is None:
            continue
        for_sale = piece.grade == "first" and kind_of(piece) in kept
        pot = pot_of(piece, line, for_sale=for_sale, glazes=read.glazes)
        why = _why_not(piece=piece, parcel=parcel, person=person, pot=pot)
        found.append(Offer(piece=piece, line_name=str(line), cannot=why))
    closed: dict[str, bool] = defaultdict(lambda: True)
    for offer in found:
        closed[offer.line_name] &= offer.cannot is not None
    return sorted(
        found,
        key=lambda offer: (
            closed[offer.line_name],
            offer.line_name,
            offer.cannot is not None,
            offer.piece.number or 0,
        ),
    )


def offer_groups(
    *, parcel: Parcel, instead_of: ParcelPiece | None = None
) -> tuple[OfferGroup, ...]:
    """The offers by line; lines of which none may go into this parcel stand last."""
    of_line: dict[str, list[Offer]] = defaultdict(list)
    for offer in offers(parcel=parcel, instead_of=instead_of):
        of_line[offer.line_name].append(offer)
    return tuple(
        OfferGroup(
            line_name=name,
            may=tuple(offer for offer in found if offer.cannot is None),
            may_not=tuple(offer for offer in found if offer.cannot is not None),
        )
        for name, found in of_line.items()
    )


def pot_of(
    piece: Piece,
    line: Line,
    *,
    wanted: bool = True,
    for_sale: bool = False,
    glazes: Mapping[int, frozenset[str]] | None = None,
) -> Pot:
    """A piece as the pick sees it. ``glazes`` is ``glazes_of_coats()``, asked when left out."""
    known = glazes_of_coats() if glazes is None else glazes
    return Pot(
        key=str(piece.id),
        line_key=str(line.id),
        form_key=str(piece.form_id),
        glaze_keys=known.get(piece.coats_id or 0, frozenset()),
        is_second=piece.grade == "second",
        wanted=wanted,
        for_sale=for_sale,
        pounds=piece.form.price_pence // 100,
    )


def _open_wants(read: Reading) -> dict[Kind, int]:
    """What the month has set aside and not picked yet, by kind."""
    return {kind_of(want.line): want.count - read.picked[want.line_id] for want in read.wants}


def _free_firsts(read: Reading) -> Counter[Kind]:
    return Counter(kind_of(piece) for piece in read.pots if piece.grade == "first")


def _for_sales(read: Reading, set_aside: Mapping[Kind, int]) -> Counter[Kind]:
    """How many of the free firsts of each kind are left for the sales to come.

    As many as those sales still ask for, as far as there are more than the month has ``set_aside``.
    """
    return Counter(
        {
            kind: min(read.asked[kind], max(0, free - max(0, set_aside.get(kind, 0))))
            for kind, free in _free_firsts(read).items()
        }
    )


def _all_for_sale(read: Reading) -> frozenset[Kind]:
    """The kinds of which every free first is left for the sales, so that none may be taken."""
    left = _for_sales(read, _open_wants(read))
    return frozenset(kind for kind, free in _free_firsts(read).items() if left[kind] >= free)


def _why_not(*, piece: Piece, parcel: Parcel, person: Wisher, pot: Pot) -> str | None:
    row = getattr(piece, "parcel_piece", None)
    return rules.can_put_in(
        piece=str(piece),
        name=parcel.supporter.name,
        state=parcel.state,
        stage=piece.stage,
        gone=piece.parting,
        parcel=str(row.parcel) if row is not None else "",
        promise=promise_words(getattr(piece, "reservation", None)),
        bar=bar(wisher=person, pot=pot),
    )
