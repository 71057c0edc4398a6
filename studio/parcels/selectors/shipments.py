"""What is in each month's parcels, what could go in, and what does the planner owe them?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from studio.parcels import rules
from studio.parcels.models import Shipment, ShipmentWant
from studio.parcels.selectors.pots import pots_for
from studio.parcels.selectors.reading import Reading, picked_of, wants_of
from studio.wares.kinds import kind_of
from studio.wares.selectors.needs import Need, NeededLine


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


def cannot_pick(shipment: Shipment, *, reading: Reading | None = None) -> str | None:
    """Why no parcels can be picked for this month now; None when some can."""
    read = reading or Reading(shipment)
    open_ = read.turns_picked < shipment.parcel_count
    return rules.can_pick(
        month=shipment.month,
        has=read.turns_picked,
        parcel_count=shipment.parcel_count,
        eligible=read.eligible if open_ else 0,
        pots=len(pots_for(shipment, reading=read)) if open_ else 0,
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
        picked = picked_of(shipment)
        lines = tuple(
            line
            for want in wants_of(shipment)
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


def want_rows(shipment: Shipment, *, reading: Reading | None = None) -> list[WantRow]:
    """Each want of a month beside what is picked and what is free."""
    read = reading or Reading(shipment)
    free = Counter(kind_of(piece) for piece in read.pots if piece.grade == "first")
    return [
        WantRow(want=want, picked=read.picked[want.line_id], free=free[kind_of(want.line)])
        for want in read.wants
    ]
