"""What stands in the studio, what of it is free, and what is promised to a date already?

Every pot is counted once, in one of four places:

1. on hand and free: it may serve any date (``free_groups``);
2. in a kiln that is loaded, firing or cooling: it comes with that firing (``in_kilns``);
3. promised to one date: listed for its sale or put in its parcels; it lessens what that date still
   asks for (``sales.selectors.needs``, ``parcels.selectors.needs``) and serves no other;
4. held back, claimed, a second, or gone: it serves no date.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from studio.firings.models import Firing, Place
from studio.parcels.models import ParcelPiece, Shipment
from studio.sales.models import Listing, SaleDay
from studio.wares.models import Form, Line, Piece, Stage

LineKind = tuple[int, int, int, int]
"""Form, clay lot, coats, schedule: what makes a line."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """Free pieces of one kind at one stage; ``ready_date`` is when a thrown one is dry."""

    stage: str
    form_id: int
    clay_lot_id: int
    coats_id: int | None
    schedule_id: int | None
    ready_date: date
    count: int

    @property
    def ware_key(self) -> str:
        """The planner's key of form and clay lot."""
        return ware_key(self.form_id, self.clay_lot_id)

    @property
    def line_kind(self) -> LineKind | None:
        """What line these are of; none before they are glazed."""
        if self.coats_id is None or self.schedule_id is None:
            return None
        return self.form_id, self.clay_lot_id, self.coats_id, self.schedule_id


def ware_key(form_id: int, clay_lot_id: int) -> str:
    """The planner's key of a form in a clay lot."""
    return f"{form_id}-{clay_lot_id}"


def line_kind(line: Line) -> LineKind:
    """The four things that make a line."""
    return line.form_id, line.clay_lot_id, line.coats_id, line.schedule_id


def start_of(day: date) -> datetime:
    """The first moment of a day where the studio is."""
    return timezone.make_aware(datetime.combine(day, time.min))


def sales_from(today_date: date) -> QuerySet[SaleDay]:
    """Sale days whose members' hours begin today or later."""
    return SaleDay.objects.filter(members_at__gte=start_of(today_date)).order_by("members_at")


def shipments_from(today_date: date) -> QuerySet[Shipment]:
    """Shipments that are posted today or later."""
    return Shipment.objects.filter(post_date__gte=today_date).order_by("post_date")


def free_groups(*, today_date: date) -> list[Group]:
    """Pieces that stand outside a kiln and may serve any date, counted by kind and stage."""
    drying = dict(Form.objects.values_list("id", "drying_days"))
    rows = (
        _free_pieces(today_date)
        .values_list(
            "stage", "form_id", "clay_lot_id", "coats_id", "schedule_id", "made_date",
            "board__dry_date",
        )
        .annotate(count=Count("id"))
        .order_by("stage", "form_id", "clay_lot_id", "coats_id", "schedule_id", "made_date")
    )  # fmt: skip
    counted: Counter[tuple[str, int, int, int | None, int | None, date]] = Counter()
    for stage, form, clay_lot, coats, schedule, made_date, dry_date, count in rows:
        ready = today_date
        if stage == Stage.THROWN:
            ready = dry_date or made_date + timedelta(days=drying[form])
        counted[stage, form, clay_lot, coats, schedule, max(ready, today_date)] += count
    return [
        Group(
            stage=stage,
            form_id=form,
            clay_lot_id=clay_lot,
            coats_id=coats,
            schedule_id=schedule,
            ready_date=ready,
            count=count,
        )
        for (stage, form, clay_lot, coats, schedule, ready), count in counted.items()
    ]


def _free_pieces(today_date: date) -> QuerySet[Piece]:
    """Neither gone, nor in a kiln, nor promised, nor a second."""
    sale_is_over = Q(sale_day__closes_at__lt=start_of(today_date)) | Q(
        sale_day__closes_at__isnull=True, sale_day__public_at__lt=start_of(today_date)
    )
    still_listed = Listing.objects.filter(piece=OuterRef("pk")).exclude(sale_is_over)
    in_a_kiln = Place.objects.filter(piece=OuterRef("pk"), outcome="")
    in_a_parcel = ParcelPiece.objects.filter(piece=OuterRef("pk"))
    return (
        Piece.objects.filter(parting="", reservation__isnull=True)
        .exclude(grade=Piece.Grade.SECOND)
        .exclude(Exists(in_a_kiln))
        .exclude(Exists(in_a_parcel))
        .exclude(Exists(still_listed))
    )


def in_kilns() -> dict[int, list[tuple[LineKind | None, str, int]]]:
    """By firing: (line kind or none, ware key, count) of the unpromised pieces that stand in it."""
    rows = (
        Place.objects.filter(
            outcome="",
            firing__state__in=[
                Firing.State.LOADED,
                Firing.State.FIRING,
                Firing.State.COOLING,
            ],
            piece__parting="",
            piece__reservation__isnull=True,
        )
        .values_list(
            "firing_id", "piece__form_id", "piece__clay_lot_id", "piece__coats_id",
            "piece__schedule_id",
        )
        .annotate(count=Count("id"))
        .order_by("firing_id", "piece__form_id", "piece__clay_lot_id", "piece__coats_id")
    )  # fmt: skip
    found: dict[int, list[tuple[LineKind | None, str, int]]] = {}
    for firing, form, clay_lot, coats, schedule, count in rows:
        kind = None if coats is None else (form, clay_lot, coats, schedule)
        found.setdefault(firing, []).append((kind, ware_key(form, clay_lot), count))
    return found
