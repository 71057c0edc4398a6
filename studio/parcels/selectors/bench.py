"""What stands on the packing bench, what is on its way too long, and which boxes break?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Prefetch, QuerySet

from studio.craft.customs import BadDeclaration, Declaration
from studio.craft.losses import say_record
from studio.craft.picks import bar
from studio.parcels import rules
from studio.parcels.models import Parcel, ParcelPiece, Shipment
from studio.parcels.selectors.addresses import AddressState, address_state, printed_at
from studio.parcels.selectors.post import (
    ParcelFacts,
    body_kinds,
    box_types,
    declaration,
    facts,
    needs_customs,
    post_settings,
    unprintable,
)
from studio.parcels.selectors.pots import Offer, pot_of, wisher
from studio.parcels.selectors.reading import LINE_PARTS, glazes_of_coats, lines_by_kind
from studio.wares.kinds import kind_of
from studio.wares.models import Piece, Reservation

PIECE_PARTS = (
    "piece__form__use",
    "piece__board",
    "piece__photo",
    "piece__clay_lot",
    "piece__coats",
    "piece__schedule",
    "piece__glaze_firing",
    "line__coats",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class BenchRow:
    """One parcel on the bench, with what may be done to it. ``customs`` is None at home."""

    parcel: Parcel
    pieces: tuple[ParcelPiece, ...]
    facts: ParcelFacts
    address: AddressState
    customs: Declaration | None
    customs_problem: str
    no_letters: str
    cannot_pack: str | None
    cannot_post: str | None
    cannot_arrive: str | None
    is_overdue: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Broken:
    """How often parcels in one box arrived broken, said with what is not known."""

    box: str
    broken: int
    of: int

    @property
    def said(self) -> str:
        """The record in words: '1 of 40 lost (3 %): up to about 11 % may be'."""
        return say_record(lost=self.broken, of=self.of).replace(" lost", " broken")


def bench_parcels(shipment: Shipment) -> QuerySet[Parcel]:
    """The parcels of a month with all that papers and pages read of them."""
    return shipment.parcels.select_related(
        "supporter__tier", "shipment", "replaces", "replaced_by"
    ).prefetch_related(Prefetch("lines", ParcelPiece.objects.select_related(*PIECE_PARTS)))


def bench_rows(
    shipment: Shipment, *, today_date: date, parcel: Parcel | None = None
) -> list[BenchRow]:
    """The parcels of a month, by supporter's number; or that one alone."""
    found = bench_parcels(shipment)
    parcels = list(found if parcel is None else found.filter(id=parcel.id))
    if not parcels:
        return []
    settings, types, printed = post_settings(), box_types(), printed_at(shipment)
    bodies = body_kinds()
    rows = []
    for parcel in parcels:
        pieces = tuple(parcel.lines.all())
        name, known = parcel.supporter.name, facts(
            parcel, pieces=pieces, types=types, settings=settings
        )  # fmt: skip
        declared, problem = None, ""
        if needs_customs(parcel, settings=settings):
            try:
                declared = declaration(
                    parcel,
                    pieces=pieces,
                    weight_g=known.weight_g,
                    settings=settings,
                    bodies=bodies,
                )
            except BadDeclaration as missing:
                problem = missing.sentence
        person = parcel.supporter
        state = address_state(parcel, settings=settings, printed_at=printed.get(parcel.id))
        rows.append(
            BenchRow(
                parcel=parcel,
                pieces=pieces,
                facts=known,
                address=state,
                customs=declared,
                customs_problem=problem,
                no_letters=unprintable(
                    [person.name, person.street_address, person.city, person.city_area, parcel.note]
                ),
                cannot_pack=rules.can_pack(
                    name=name, state=parcel.state, pieces=len(pieces), box=parcel.box
                ),
                cannot_post=rules.can_post(
                    name=name,
                    state=parcel.state,
                    moved=state.changed,
                    print_again=state.print_again,
                ),
                cannot_arrive=rules.can_arrive(name=name, state=parcel.state),
                is_overdue=_is_overdue(parcel, today_date, settings.overdue_days),
            )
        )
    return rows


def overdue(*, today_date: date) -> QuerySet[Parcel]:
    """The parcels posted so long ago that they should have arrived, the oldest first."""
    day = today_date - timedelta(days=post_settings().overdue_days)
    waiting = Parcel.objects.filter(state=Parcel.State.POSTED, posted_date__lte=day)
    return waiting.select_related("supporter", "shipment").order_by("posted_date", "id")


def broken_by_box() -> list[Broken]:
    """How often each box arrived broken, of all parcels whose end is known, by name."""
    ended = Parcel.objects.filter(state__in=["arrived", "broken"]).order_by()
    of: Counter[str] = Counter()
    broken: Counter[str] = Counter()
    for box, state in ended.values_list("box", "state"):
        of[box] += 1
        broken[box] += state == Parcel.State.BROKEN
    return [Broken(box=box or "no box named", broken=broken[box], of=of[box]) for box in sorted(of)]


def spares() -> QuerySet[Piece]:
    """The pieces kept back as spares, by number."""
    kept = Piece.objects.on_hand().filter(reservation__kind=Reservation.Kind.SPARE)
    return kept.select_related(*LINE_PARTS, "board", "photo", "reservation").order_by("number")


def spare_offers(parcel: Parcel) -> list[Offer]:
    """What may go out in place of a broken parcel: spares first, then free pots, each judged.

    A line that broke may go again; any other that this person had may not.
    """
    free = (
        Piece.objects.free()
        .filter(stage="graded", parcel_piece__isnull=True)
        .select_related(*LINE_PARTS, "board", "photo")
        .order_by("number")
    )
    lines = lines_by_kind()
    person, glazes = wisher(parcel.supporter, but=parcel), glazes_of_coats()
    found = []
    for piece in [*spares(), *free]:
        line = lines.get(kind_of(piece))
        if line is None:
            continue
        cannot = rules.bar_sentence(
            piece=str(piece),
            name=parcel.supporter.name,
            bar=bar(wisher=person, pot=pot_of(piece, line, glazes=glazes)),
        )
        found.append(Offer(piece=piece, line_name=str(line), cannot=cannot))
    return sorted(found, key=lambda offer: offer.cannot is not None)


def _is_overdue(parcel: Parcel, today_date: date, overdue_days: int) -> bool:
    posted = parcel.posted_date
    waits = parcel.state == Parcel.State.POSTED and posted is not None
    return waits and posted is not None and posted + timedelta(days=overdue_days) <= today_date
