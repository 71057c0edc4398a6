"""What stands ready for each sale day, what is still short, and what does the planner owe it?"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, QuerySet
from django.utils import timezone

from studio.sales import rules
from studio.sales.models import Listing, SaleDay, Want
from studio.wares.models import Line, Piece, Stage

LINE_PARTS = ("form", "clay_lot", "coats", "schedule")
BEFORE_COATS = (Stage.THROWN, Stage.BISQUED)


@dataclass(frozen=True, kw_only=True, slots=True)
class NeededLine:
    """So many more of a line: ``count`` = ``wanted`` - ``done``, 0 or more."""

    line: Line
    wanted: int
    done: int

    @property
    def count(self) -> int:
        return max(0, self.wanted - self.done)


@dataclass(frozen=True, kw_only=True, slots=True)
class Need:
    """What a sale day still asks of the studio, as the planner reads it."""

    key: str
    name: str
    due_date: date
    ready_by_date: date
    buffer_days: int
    importance: int
    lines: tuple[NeededLine, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class WantRow:
    """One want of a sale day with all that stands towards it."""

    want: Want
    stages: dict[str, int]
    free_firsts: int
    listed: int
    sold: int

    @property
    def done(self) -> int:
        return self.listed + self.sold

    @property
    def short(self) -> int:
        """How many of the want are neither listed for this sale nor sold at it."""
        return max(0, self.want.count - self.done)

    @property
    def could_list(self) -> int:
        """How many of those could be listed now: free graded firsts of the line."""
        return min(self.short, self.free_firsts)

    @property
    def on_the_way(self) -> int:
        """How many of the line are glazed or fired."""
        return self.stages[Stage.GLAZED] + self.stages[Stage.FIRED]


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedPiece:
    """A piece offered at a sale day, with what may be done to it."""

    listing: Listing
    piece: Piece
    claim: str
    promise: str | None
    cannot_sell: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class OfferGroup:
    """Free graded pieces of one line and grade that could be listed together at one price."""

    key: str
    line: Line | None
    name: str
    grade: str
    price_pence: int
    wanted: int
    pieces: tuple[Piece, ...]


def sale_date(sale_day: SaleDay) -> date:
    """The day of the members' hour in the studio's time zone: the date everything runs towards."""
    return timezone.localdate(sale_day.members_at)


def starts_of_today(now: datetime) -> datetime:
    """Midnight at the beginning of the studio's today."""
    return timezone.localtime(now).replace(hour=0, minute=0, second=0, microsecond=0)


def upcoming(now: datetime) -> QuerySet[SaleDay]:
    """Sale days of today and later, the next first."""
    return SaleDay.objects.filter(members_at__gte=starts_of_today(now)).order_by("members_at")


def past(now: datetime) -> QuerySet[SaleDay]:
    """Sale days before today, the last first."""
    return SaleDay.objects.filter(members_at__lt=starts_of_today(now)).order_by("-members_at")


def cannot_want(*, sale_day: SaleDay, count: int, now: datetime) -> str | None:
    """Why so many cannot be wanted for this sale day; None when they can."""
    return rules.can_want(
        sale=sale_day.name,
        sale_date=sale_date(sale_day),
        count=count,
        today_date=timezone.localdate(now),
    )


def cannot_offer(*, sale_day: SaleDay, now: datetime) -> str | None:
    """Why nothing can be listed for this sale day any more; None while it can."""
    closes_at = sale_day.closes_at and timezone.localtime(sale_day.closes_at)
    return rules.can_offer_at(sale=sale_day.name, closes_at=closes_at, now=now)


def ready_by_date(sale_day: SaleDay) -> date:
    """The day by which everything should be listed."""
    return sale_date(sale_day) - timedelta(days=sale_day.buffer_days)


def needs(from_date: date) -> list[Need]:
    """The sale days dated ``from_date`` or later that still want something, soonest first.

    The date of a sale is the local day of its members' hour. Done already, and taken off each
    want, is every first of the line that is listed for that very sale and on hand, or was sold
    at it. Not taken off: seconds, pieces listed for another sale, free graded pieces and ware on
    the way (the planner counts those as stock), and pieces that were listed and then broke.
    A planner must not count listed pieces as stock again. ``ready_by_date`` is the date less the
    buffer days. A sale whose wants are all done is left out.
    """
    begins = timezone.make_aware(datetime.combine(from_date, datetime.min.time()))
    days = SaleDay.objects.filter(members_at__gte=begins).order_by("members_at", "id")
    wants = _wants_by_day(days)
    done = _done_by_day(days)
    found = []
    for day in days:
        lines = [
            NeededLine(line=want.line, wanted=want.count, done=done[day.id][_kind(want.line)])
            for want in wants[day.id]
        ]
        open_lines = tuple(line for line in lines if line.count)
        if open_lines:
            when = sale_date(day)
            found.append(
                Need(
                    key=f"sale-{day.id}",
                    name=day.name,
                    due_date=when,
                    ready_by_date=ready_by_date(day),
                    buffer_days=day.buffer_days,
                    importance=day.importance,
                    lines=open_lines,
                )
            )
    return found


def want_rows(sale_day: SaleDay) -> list[WantRow]:
    """Each want of a sale day beside what stands towards it at every stage.

    Ware before its coats belongs to no line yet: a thrown or bisqued count is of the form and
    clay lot, and the same pots may stand in several rows.
    """
    wants = list(sale_day.wants.select_related(*(f"line__{part}" for part in LINE_PARTS)))
    before, after, free = _stock()
    sold = _firsts(sale_day, parting="sold")
    listed = _firsts(sale_day, parting="")
    rows = []
    for want in wants:
        kind = _kind(want.line)
        stages = {
            stage: (before[kind[:2], stage] if stage in BEFORE_COATS else after[kind, stage])
            for stage in Stage.values
        }
        rows.append(
            WantRow(
                want=want,
                stages=stages,
                free_firsts=free[kind],
                listed=listed[kind],
                sold=sold[kind],
            )
        )
    return rows


def listed_pieces(sale_day: SaleDay) -> list[ListedPiece]:
    """The pieces that stand listed for this sale day, by number."""
    listings = _listings(sale_day).filter(piece__parting="")
    return [_listed(listing) for listing in listings]


def sold_listings(sale_day: SaleDay) -> list[Listing]:
    """What was sold at this sale day, by number."""
    return list(_listings(sale_day).filter(piece__parting="sold"))


def takings_pence(listings: Iterable[Listing]) -> int:
    """The prices of what was sold, summed [pence]."""
    return sum(listing.price_pence for listing in listings)


def offer_groups(sale_day: SaleDay) -> list[OfferGroup]:
    """The graded pieces that nobody was promised, by line and grade; wanted lines first."""
    wanted = Counter({row.want.line_id: row.short for row in want_rows(sale_day)})
    lines = {_kind(line): line for line in Line.objects.select_related(*LINE_PARTS)}
    together: dict[tuple[tuple[int, ...], str], list[Piece]] = defaultdict(list)
    for piece in free_graded():
        together[_kind(piece), piece.grade].append(piece)
    groups = []
    for (kind, grade), pieces in together.items():
        line = lines.get(kind)
        groups.append(
            OfferGroup(
                key="-".join([*map(str, kind), grade]),
                line=line,
                name=str(line) if line else _name(pieces[0]),
                grade=grade,
                price_pence=pieces[0].form.price_pence,
                wanted=wanted[line.id] if line and grade == "first" else 0,
                pieces=tuple(pieces),
            )
        )
    return sorted(groups, key=lambda g: (g.grade != "first", not g.wanted, g.name))


def free_graded() -> QuerySet[Piece]:
    """The graded pieces on hand that are promised to nobody, by number."""
    return (
        Piece.objects.free()
        .filter(stage=Stage.GRADED)
        .select_related(*LINE_PARTS, "photo", "board")
        .order_by("number")
    )


def cannot_sell(piece: Piece) -> str | None:
    """Why this piece cannot be marked sold now; None when it can."""
    reservation = getattr(piece, "reservation", None)
    return rules.can_sell(
        name=str(piece),
        stage=piece.stage,
        gone=piece.parting,
        promise_kind=reservation.kind if reservation else "",
        promise=promise_words(piece),
    )


def promise_words(piece: Piece) -> str | None:
    """What a piece is promised for, as sales says it; None when it is free."""
    reservation = getattr(piece, "reservation", None)
    if reservation is None:
        return None
    if reservation.kind == "claim":
        return f"claimed by {reservation.note}" if reservation.note else "claimed"
    note = f": {reservation.note}" if reservation.note else ""
    return f"{reservation.get_kind_display().lower()}{note}"


def _listings(sale_day: SaleDay) -> QuerySet[Listing]:
    return sale_day.listings.select_related(
        *(f"piece__{part}" for part in LINE_PARTS), "piece__reservation", "piece__photo"
    ).order_by("piece__number")


def _listed(listing: Listing) -> ListedPiece:
    piece = listing.piece
    reservation = getattr(piece, "reservation", None)
    claim = reservation.note if reservation and reservation.kind == "claim" else ""
    return ListedPiece(
        listing=listing,
        piece=piece,
        claim=claim,
        promise=promise_words(piece),
        cannot_sell=cannot_sell(piece),
    )


def _wants_by_day(days: QuerySet[SaleDay]) -> dict[int, list[Want]]:
    found: dict[int, list[Want]] = defaultdict(list)
    wants = Want.objects.filter(sale_day__in=days)
    for want in wants.select_related(*(f"line__{part}" for part in LINE_PARTS)):
        found[want.sale_day_id].append(want)
    return found


def _done_by_day(days: QuerySet[SaleDay]) -> dict[int, Counter[tuple[int, ...]]]:
    found: dict[int, Counter[tuple[int, ...]]] = defaultdict(Counter)
    rows = (
        Listing.objects.filter(
            sale_day__in=days, piece__grade="first", piece__parting__in=["", "sold"]
        )
        .values_list("sale_day_id", *(f"piece__{part}_id" for part in LINE_PARTS))
        .annotate(n=Count("id"))
        .order_by()
    )
    for day_id, *kind, n in rows:
        found[day_id][tuple(kind)] = n
    return found


def _firsts(sale_day: SaleDay, *, parting: str) -> Counter[tuple[int, ...]]:
    rows = sale_day.listings.filter(piece__grade="first", piece__parting=parting).values_list(
        *(f"piece__{part}_id" for part in LINE_PARTS)
    )
    return Counter(rows.order_by())


def _stock() -> tuple[
    Counter[tuple[tuple[int, ...], str]],
    Counter[tuple[tuple[int, ...], str]],
    Counter[tuple[int, ...]],
]:
    """Counts on hand: before coats by (form, clay lot), after by line, and free graded firsts."""
    before: Counter[tuple[tuple[int, ...], str]] = Counter()
    after: Counter[tuple[tuple[int, ...], str]] = Counter()
    rows = (
        Piece.objects.on_hand()
        .values_list(*(f"{part}_id" for part in LINE_PARTS), "stage")
        .annotate(n=Count("id"))
        .order_by()
    )
    for *kind, stage, n in rows:
        if stage in BEFORE_COATS:
            before[tuple(kind[:2]), stage] += n
        else:
            after[tuple(kind), stage] += n
    free = Counter(
        free_graded()
        .filter(grade="first")
        .order_by()
        .values_list(*(f"{part}_id" for part in LINE_PARTS))
    )
    return before, after, free


def _kind(of: Line | Piece) -> tuple[int, ...]:
    return (of.form_id, of.clay_lot_id, of.coats_id or 0, of.schedule_id or 0)


def _name(piece: Piece) -> str:
    return f"{piece.form} in {piece.coats} on {piece.clay_lot.body}"
