"""What is in each month's parcels, what could go in, and what does the planner owe them?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from studio.craft.picks import Pot, Wisher, bar
from studio.parcels import rules
from studio.parcels.models import Parcel, ParcelPiece, Shipment, ShipmentWant, Supporter
from studio.parcels.selectors.turns import eligible_count
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Line, Piece, Stage
from studio.wares.selectors import promise_words
from studio.wares.selectors.needs import Need, NeededLine

LINE_PARTS = ("form", "clay_lot", "coats", "schedule")


@dataclass(frozen=True, kw_only=True, slots=True)
class WantRow:
    """One want of a month with what stands towards it."""

    want: ShipmentWant
    picked: int
    free: int

    @property
    def short(self) -> int:
        """How many of the want are neither in a parcel of the month nor free to be put in."""
        return max(0, self.want.count - self.picked - self.free)


@dataclass(frozen=True, kw_only=True, slots=True)
class ParcelRow:
    """One parcel on the month's page, with what may be done to it."""

    parcel: Parcel
    pieces: tuple[ParcelPiece, ...]
    cannot_pack: str | None
    cannot_post: str | None
    cannot_skip: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Offer:
    """A free pot beside the parcel it may or may not go into."""

    piece: Piece
    line_name: str
    cannot: str | None


def shipments() -> QuerySet[Shipment]:
    """Every month with its counts, the latest first."""
    return Shipment.objects.annotate(
        picked=Count("parcels", filter=Q(parcels__replaces__isnull=True))
    ).order_by("-month")


def cannot_want(*, shipment: Shipment, count: int, now: datetime) -> str | None:
    """Why so many cannot be wanted for this month; None when they can."""
    return rules.can_want(
        month=shipment.month,
        post_date=shipment.post_date,
        count=count,
        today_date=timezone.localdate(now),
    )


def cannot_pick(shipment: Shipment) -> str | None:
    """Why no parcels can be picked for this month now; None when some can."""
    return rules.can_pick(
        month=shipment.month,
        has=shipment.parcels.turns().count(),
        parcel_count=shipment.parcel_count,
        eligible=eligible_count(shipment.month),
        pots=len(pots_for(shipment)),
    )


def cannot_print(shipment: Shipment) -> str | None:
    """Why there are no slips of this month to print; None when there are."""
    counts = shipment.parcels.annotate(n=Count("lines")).values_list("supporter__name", "n")
    empty = next((name for name, count in counts if not count), "")
    return rules.can_print(month=shipment.month, parcels=len(counts), empty=empty)


def needs(from_date: date) -> list[Need]:
    """The months posted on ``from_date`` or later that still want something, soonest first.

    Done already, and taken off each want, is every first of the line that lies in a parcel of that
    very month, whether picked, packed or posted. Not taken off: seconds, free graded pieces and
    ware on the way (the planner counts those as stock). A planner must not count pieces in parcels
    as stock again: they carry a reservation. A month whose wants are all done is left out.
    """
    found = []
    for shipment in Shipment.objects.filter(post_date__gte=from_date).order_by("post_date", "id"):
        picked = _picked(shipment)
        lines = tuple(
            line
            for want in _wants(shipment)
            if (
                line := NeededLine(line=want.line, wanted=want.count, done=picked[want.line_id])
            ).count
        )
        if lines:
            found.append(
                Need(
                    key=f"shipment-{shipment.id}",
                    name=f"Parcels of {rules.month_name(shipment.month)}",
                    due_date=shipment.post_date,
                    ready_by_date=shipment.post_date - timedelta(days=shipment.buffer_days),
                    buffer_days=shipment.buffer_days,
                    importance=shipment.importance,
                    lines=lines,
                )
            )
    return found


def want_rows(shipment: Shipment) -> list[WantRow]:
    """Each want of a month beside what is picked and what is free."""
    picked = _picked(shipment)
    firsts = free_pots().filter(grade="first").values_list(*Kind._fields)
    free = Counter(Kind(*row) for row in firsts)
    return [
        WantRow(want=want, picked=picked[want.line_id], free=free[kind_of(want.line)])
        for want in _wants(shipment)
    ]


def free_pots() -> QuerySet[Piece]:
    """The graded pieces on hand that nobody was promised, by number. Listed ones are not here."""
    return (
        Piece.objects.free()
        .filter(stage=Stage.GRADED, parcel_piece__isnull=True)
        .select_related(*LINE_PARTS, "board", "photo")
        .order_by("number")
    )


def pots_for(shipment: Shipment) -> list[Pot]:
    """The free pots as the pick sees them: wanted ones as far as the month's wants go."""
    open_wants = {
        kind_of(want.line): want.count - picked
        for want, picked in ((w, _picked(shipment)[w.line_id]) for w in _wants(shipment))
    }
    lines = lines_by_kind()
    found = []
    for piece in free_pots():
        kind = kind_of(piece)
        line = lines.get(kind)
        if line is None:
            continue
        wanted = not open_wants or (piece.grade == "first" and open_wants.get(kind, 0) > 0)
        if wanted and open_wants:
            open_wants[kind] -= 1
        found.append(pot_of(piece, line, wanted=wanted))
    return found


def wisher(supporter: Supporter, *, but: Parcel | None = None) -> Wisher:
    """What this person had and would rather not have. ``but`` is a parcel not to count."""
    had = ParcelPiece.objects.filter(supporter=supporter).select_related("line")
    if but is not None:
        had = had.exclude(parcel=but)
    rows = list(had.values_list("line_id", "line__form_id"))
    return Wisher(
        key=str(supporter.id),
        had_lines=frozenset(str(line_id) for line_id, _ in rows),
        had_forms=frozenset(str(form_id) for _, form_id in rows),
        please_no=frozenset(str(form.id) for form in supporter.please_no.all()),
        takes_seconds=supporter.takes_seconds,
    )


def cannot_put_in(
    *, piece: Piece, line: Line, parcel: Parcel, instead_of: ParcelPiece | None = None
) -> str | None:
    """Why this piece cannot go into this parcel; None when it can."""
    person = wisher(parcel.supporter)
    if instead_of is not None:
        person = _without(person, instead_of)
    reservation = getattr(piece, "reservation", None)
    row = getattr(piece, "parcel_piece", None)
    return rules.can_put_in(
        piece=str(piece),
        name=parcel.supporter.name,
        state=parcel.state,
        stage=piece.stage,
        gone=piece.parting,
        parcel=str(row.parcel) if row is not None else "",
        promise=promise_words(reservation),
        bar=bar(wisher=person, pot=pot_of(piece, line)),
    )


def offers(*, parcel: Parcel, instead_of: ParcelPiece | None = None) -> list[Offer]:
    """Every free pot, those that may go into this parcel first, the others with the reason."""
    person = wisher(parcel.supporter)
    if instead_of is not None:
        person = _without(person, instead_of)
    lines = lines_by_kind()
    found = []
    for piece in free_pots():
        line = lines.get(kind_of(piece))
        if line is None:
            continue
        why = rules.can_put_in(
            piece=str(piece),
            name=parcel.supporter.name,
            state=parcel.state,
            stage=piece.stage,
            gone=piece.parting,
            parcel="",
            promise=None,
            bar=bar(wisher=person, pot=pot_of(piece, line)),
        )
        found.append(Offer(piece=piece, line_name=str(line), cannot=why))
    return sorted(found, key=lambda offer: (offer.cannot is not None, offer.piece.number or 0))


def parcel_rows(shipment: Shipment) -> list[ParcelRow]:
    """The parcels of a month, by supporter's number."""
    parcels = shipment.parcels.select_related("supporter__tier").prefetch_related(
        "lines__piece__form", "lines__piece__board", "lines__piece__photo", "lines__line__coats"
    )
    rows = []
    for parcel in parcels:
        pieces = tuple(parcel.lines.all())
        name = parcel.supporter.name
        rows.append(
            ParcelRow(
                parcel=parcel,
                pieces=pieces,
                cannot_pack=rules.can_pack(
                    name=name, state=parcel.state, pieces=len(pieces), box=parcel.box
                ),
                cannot_post=rules.can_post(name=name, state=parcel.state),
                cannot_skip=rules.can_skip(
                    name=name, state=parcel.state, reason="asked", skipped=False
                ),
            )
        )
    return rows


def lines_by_kind() -> dict[Kind, Line]:
    """Every line by what makes it."""
    return {kind_of(line): line for line in Line.objects.select_related(*LINE_PARTS)}


def _without(person: Wisher, leaving: ParcelPiece) -> Wisher:
    """The person as if the piece that leaves the parcel had never been chosen.

    No line goes twice to one person, so the line that leaves was had by nothing else.
    """
    return Wisher(
        key=person.key,
        had_lines=person.had_lines - {str(leaving.line_id)},
        had_forms=person.had_forms,
        please_no=person.please_no,
        takes_seconds=person.takes_seconds,
    )


def pot_of(piece: Piece, line: Line, *, wanted: bool = True) -> Pot:
    """A piece as the pick sees it."""
    return Pot(
        key=str(piece.id),
        line_key=str(line.id),
        form_key=str(piece.form_id),
        is_second=piece.grade == "second",
        wanted=wanted,
    )


def _wants(shipment: Shipment) -> QuerySet[ShipmentWant]:
    return shipment.wants.select_related(*(f"line__{part}" for part in LINE_PARTS))


def _picked(shipment: Shipment) -> Counter[int]:
    """How many firsts of each line lie in the parcels of a month, by line id."""
    rows = ParcelPiece.objects.filter(parcel__shipment=shipment, piece__grade="first")
    return Counter(rows.order_by().values_list("line_id", flat=True))
