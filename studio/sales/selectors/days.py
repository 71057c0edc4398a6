"""What stands ready for each sale day, what is still short, and what is the planner asked for?"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, QuerySet
from django.utils import timezone

from studio.sales import rules
from studio.sales.models import Listing, SaleDay, Want
from studio.sales.selectors.pieces import LINE_PARTS, free_graded
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Piece, Stage
from studio.wares.selectors.needs import Need, NeededLine

BEFORE_COATS = (Stage.THROWN, Stage.BISQUED)


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


@dataclass(frozen=True, kw_only=True, slots=True)
class Summary:
    """A sale day in sums: how many are wanted, and how many of those are listed or sold."""

    day: SaleDay
    wanted: int
    done: int

    @property
    def short(self) -> int:
        return self.wanted - self.done


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
    members_at = timezone.localtime(sale_day.members_at)
    return rules.can_want(sale=sale_day.name, members_at=members_at, count=count, now=now)


def cannot_offer(*, sale_day: SaleDay, now: datetime) -> str | None:
    """Why nothing can be listed for this sale day any more; None while it can."""
    closes_at = sale_day.closes_at and timezone.localtime(sale_day.closes_at)
    return rules.can_offer_at(sale=sale_day.name, closes_at=closes_at, now=now)


def ready_by_date(sale_day: SaleDay) -> date:
    """The day by which everything should be listed."""
    return sale_date(sale_day) - timedelta(days=sale_day.buffer_days)


def not_begun(from_date: date, *, now: datetime | None = None) -> QuerySet[SaleDay]:
    """The sale days dated ``from_date`` or later, soonest first, that have not begun.

    The date of a sale is the local day of its members' hour. With ``now``, a sale whose members'
    hour has come by then is left out too: what is not listed by then is too late for it.
    """
    begins = timezone.make_aware(datetime.combine(from_date, datetime.min.time()))
    later = SaleDay.objects.filter(members_at__gte=begins).order_by("members_at", "id")
    return later if now is None else later.filter(members_at__gt=now)


def needs(from_date: date, *, now: datetime | None = None) -> list[Need]:
    """The sale days of ``not_begun`` that still want something, soonest first.

    Done already, and taken off each
    want, is every first of the line that is listed for that very sale and on hand, or was sold
    at it. Not taken off: seconds, pieces listed for another sale, free graded pieces and ware on
    the way (the planner counts those as stock), and pieces that were listed and then broke.
    A planner must not count listed pieces as stock again. ``ready_by_date`` is the date less the
    buffer days. A sale whose wants are all done is left out.
    """
    days = list(not_begun(from_date, now=now))
    wants = _wants_by_day(days)
    done = _done_by_day(days)
    found = []
    for day in days:
        lines = [
            NeededLine(line=want.line, wanted=want.count, done=done[day.id][kind_of(want.line)])
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


def summaries(days: Sequence[SaleDay]) -> list[Summary]:
    """These sale days with their sums, in the same order, by one query of wants and one of done."""
    wants = _wants_by_day(days)
    done = _done_by_day(days)
    return [
        Summary(
            day=day,
            wanted=sum(want.count for want in wants[day.id]),
            done=sum(min(want.count, done[day.id][kind_of(want.line)]) for want in wants[day.id]),
        )
        for day in days
    ]


def want_rows(sale_day: SaleDay) -> list[WantRow]:
    """Each want of a sale day beside what stands towards it at every stage.

    Ware before its coats belongs to no line yet: a thrown or bisqued count is of the form and
    clay lot, and the same pots may stand in several rows.
    """
    wants = list(sale_day.wants.select_related(*(f"line__{part}" for part in LINE_PARTS)))
    stock, free = _stock()
    sold = _firsts(sale_day, parting="sold")
    listed = _firsts(sale_day, parting="")
    rows = []
    for want in wants:
        kind = kind_of(want.line)
        bare = kind._replace(coats_id=None, schedule_id=None)
        stages = {
            stage: stock[bare if stage in BEFORE_COATS else kind, stage] for stage in Stage.values
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


def _wants_by_day(days: Sequence[SaleDay]) -> dict[int, list[Want]]:
    found: dict[int, list[Want]] = defaultdict(list)
    wants = Want.objects.filter(sale_day__in=days)
    for want in wants.select_related(*(f"line__{part}" for part in LINE_PARTS)):
        found[want.sale_day_id].append(want)
    return found


def _done_by_day(days: Sequence[SaleDay]) -> dict[int, Counter[Kind]]:
    found: dict[int, Counter[Kind]] = defaultdict(Counter)
    rows = (
        Listing.objects.filter(
            sale_day__in=days, piece__grade="first", piece__parting__in=["", "sold"]
        )
        .values_list("sale_day_id", *(f"piece__{part}" for part in Kind._fields))
        .annotate(n=Count("id"))
        .order_by()
    )
    for day_id, *kind, n in rows:
        found[day_id][Kind(*kind)] = n
    return found


def _firsts(sale_day: SaleDay, *, parting: str) -> Counter[Kind]:
    rows = sale_day.listings.filter(piece__grade="first", piece__parting=parting).values_list(
        *(f"piece__{part}" for part in Kind._fields)
    )
    return Counter(Kind(*row) for row in rows.order_by())


def _stock() -> tuple[Counter[tuple[Kind, str]], Counter[Kind]]:
    """Counts on hand by kind and stage, and free graded firsts by kind."""
    rows = (
        Piece.objects.on_hand()
        .values_list("stage", *Kind._fields)
        .annotate(n=Count("id"))
        .order_by()
    )
    stock: Counter[tuple[Kind, str]] = Counter()
    for stage, *kind, n in rows:
        stock[Kind(*kind), stage] = n
    firsts = free_graded().filter(grade="first").order_by().values_list(*Kind._fields)
    return stock, Counter(Kind(*row) for row in firsts)
