"""Which free pots may go to whom, and which are left for the sales?"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import QuerySet, Sum
from django.utils import timezone

from studio.craft.picks import Pot, Wisher, bar
from studio.parcels import rules
from studio.parcels.models import Parcel, ParcelPiece, Shipment, ShipmentWant, Supporter
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Coat, Line, Piece, Stage
from studio.wares.selectors import promise_words

LINE_PARTS = ("form", "clay_lot", "coats", "schedule")


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


def free_pots() -> QuerySet[Piece]:
    """The graded pieces on hand that nobody was promised, by number. Listed ones are not here."""
    return (
        Piece.objects.free()
        .filter(stage=Stage.GRADED, parcel_piece__isnull=True)
        .select_related(*LINE_PARTS, "board", "photo", "reservation", "parcel_piece")
        .order_by("number")
    )


def pots_for(shipment: Shipment) -> list[Pot]:
    """The free pots as the pick sees them.

    Wanted ones are so as far as the month's wants go; what the sales to come still ask for is
    ``for_sale``, the last ones of each line first, but never what the month itself has set aside.
    """
    open_wants = _open_wants(shipment)
    left_for_sales = for_sales(open_wants)
    lines, glazes = lines_by_kind(), glazes_of_coats()
    pots = list(free_pots())
    firsts = Counter(kind_of(piece) for piece in pots if piece.grade == "first")
    found = []
    for piece in pots:
        kind = kind_of(piece)
        line = lines.get(kind)
        if line is None:
            continue
        is_first = piece.grade == "first"
        wanted = not open_wants or (is_first and open_wants.get(kind, 0) > 0)
        if wanted and open_wants:
            open_wants[kind] -= 1
        for_sale = is_first and firsts[kind] <= left_for_sales[kind]
        firsts[kind] -= is_first
        found.append(pot_of(piece, line, wanted=wanted, for_sale=for_sale, glazes=glazes))
    return found


def for_sales(set_aside: Mapping[Kind, int]) -> Counter[Kind]:
    """How many of the free firsts of each kind are left for the sales to come.

    As many as those sales still ask for, as far as there are more than the month has ``set_aside``.
    """
    asked = asked_by_sales()
    free: Counter[Kind] = Counter()
    for piece in free_pots().filter(grade="first"):
        free[kind_of(piece)] += 1
    return Counter(
        {
            kind: min(asked[kind], max(0, free[kind] - max(0, set_aside.get(kind, 0))))
            for kind in free
        }
    )


def asked_by_sales() -> Counter[Kind]:
    """How many firsts of each kind the sale days to come still ask for.

    Asked through the lines and pieces that both rooms share, because they do not know each other:
    what a sale wants, less the firsts that are listed for it or sold at it.
    """
    to_come = {"wants__sale_day__members_at__gt": timezone.now()}
    wanted: Counter[tuple[int, Kind]] = Counter()
    rows = Line.objects.filter(**to_come).annotate(asked=Sum("wants__count"))
    for day_id, asked, *kind in rows.values_list("wants__sale_day", "asked", *Kind._fields):
        wanted[day_id, Kind(*kind)] += asked
    listed = Piece.objects.filter(
        listing__sale_day__members_at__gt=timezone.now(), grade="first", parting__in=["", "sold"]
    )
    done: Counter[tuple[int, Kind]] = Counter()
    for day_id, *kind in listed.values_list("listing__sale_day", *Kind._fields):
        done[day_id, Kind(*kind)] += 1
    asked_of: Counter[Kind] = Counter()
    for (day_id, kind_), count in wanted.items():
        asked_of[kind_] += max(0, count - done[day_id, kind_])
    return asked_of


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
    rows = list(
        had.values_list("line_id", "line__form_id", "piece__grade", "piece__form__price_pence")
    )
    return Wisher(
        key=str(supporter.id),
        had_lines=frozenset(str(row[0]) for row in rows),
        had_forms=frozenset(str(row[1]) for row in rows),
        please_no=frozenset(str(form.id) for form in supporter.please_no.all()),
        no_glazes=frozenset(str(glaze.id) for glaze in supporter.no_glazes.all()),
        takes_seconds=supporter.takes_seconds,
        had_seconds=sum(row[2] == "second" for row in rows),
        had_pounds=sum(row[3] for row in rows) // (100 * len(rows)) if rows else 0,
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
    closed = frozenset[Kind]() if is_back else _all_for_sale(parcel.shipment)
    for_sale = piece.grade == "first" and kind_of(piece) in closed
    return _why_not(
        piece=piece,
        parcel=parcel,
        person=person,
        pot=pot_of(piece, line, for_sale=for_sale, glazes=glazes_of_coats()),
    )


def offers(*, parcel: Parcel, instead_of: ParcelPiece | None = None) -> list[Offer]:
    """Every free pot by line: those that may go into this parcel first, the others with the reason.

    A pot that is like another of its line is offered as well; each has its own picture.
    """
    person = wisher(parcel.supporter, but=parcel.replaces, instead_of=instead_of)
    lines, glazes = lines_by_kind(), glazes_of_coats()
    kept = _all_for_sale(parcel.shipment)
    found = []
    for piece in free_pots():
        line = lines.get(kind_of(piece))
        if line is None:
            continue
        for_sale = piece.grade == "first" and kind_of(piece) in kept
        pot = pot_of(piece, line, for_sale=for_sale, glazes=glazes)
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


def lines_by_kind() -> dict[Kind, Line]:
    """Every line by what makes it."""
    return {kind_of(line): line for line in Line.objects.select_related(*LINE_PARTS)}


def glazes_of_coats() -> dict[int, frozenset[str]]:
    """The glazes of every coats, as the pick names them."""
    found: dict[int, set[str]] = defaultdict(set)
    for coats_id, glaze_id in Coat.objects.values_list("coats_id", "glaze_id"):
        found[coats_id].add(str(glaze_id))
    return {coats_id: frozenset(glazes) for coats_id, glazes in found.items()}


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


def wants_of(shipment: Shipment) -> QuerySet[ShipmentWant]:
    """The wants of a month with their lines."""
    return shipment.wants.select_related(*(f"line__{part}" for part in LINE_PARTS))


def picked_of(shipment: Shipment) -> Counter[int]:
    """How many firsts of each line lie in the parcels of a month, by line id."""
    rows = ParcelPiece.objects.filter(parcel__shipment=shipment, piece__grade="first")
    return Counter(rows.order_by().values_list("line_id", flat=True))


def _open_wants(shipment: Shipment) -> dict[Kind, int]:
    """What the month has set aside and not picked yet, by kind."""
    picked = picked_of(shipment)
    return {kind_of(want.line): want.count - picked[want.line_id] for want in wants_of(shipment)}


def _all_for_sale(shipment: Shipment) -> frozenset[Kind]:
    """The kinds of which every free first is left for the sales, so that none may be taken."""
    left = for_sales(_open_wants(shipment))
    free = Counter(kind_of(piece) for piece in free_pots().filter(grade="first"))
    return frozenset(kind for kind, count in free.items() if left[kind] >= count)


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
