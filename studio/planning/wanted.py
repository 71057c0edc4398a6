"""Which dates ask for what from today on, and how much of it is promised to them already?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from studio.planning import stock
from studio.wares.models import Line


@dataclass(frozen=True, kw_only=True, slots=True)
class Ask:
    """A date's want of one line: ``count`` in all, ``have`` of them promised to it already."""

    line: Line
    count: int
    have: int

    @property
    def open(self) -> int:
        """What is still to be made or chosen for it."""
        return max(0, self.count - self.have)


@dataclass(frozen=True, kw_only=True, slots=True)
class Dated:
    """A sale day or a month's parcels, with what it asks for."""

    key: str
    name: str
    due_date: date
    buffer_days: int
    importance: int
    asks: tuple[Ask, ...]

    @property
    def open(self) -> int:
        """Pieces still to be made or chosen for this date."""
        return sum(ask.open for ask in self.asks)


def dates_from(*, today_date: date) -> list[Dated]:
    """Every sale day and shipment from today on that asks for something, soonest first.

    A sale is due on the day its members' hours begin, where the studio is; parcels on the day they
    are posted.
    """
    have = stock.promised(today_date=today_date)

    def asks(key: str, wants: Iterable[tuple[Line, int]]) -> tuple[Ask, ...]:
        return tuple(
            Ask(line=line, count=count, have=min(count, have[key, stock.line_kind(line)]))
            for line, count in wants
        )

    related = ("line__form", "line__clay_lot", "line__coats", "line__schedule")
    found = []
    for sale in stock.sales_from(today_date):
        key = f"sale-{sale.pk}"
        wants = [(w.line, w.count) for w in sale.wants.select_related(*related)]
        found.append(
            Dated(
                key=key,
                name=sale.name,
                due_date=timezone.localtime(sale.members_at).date(),
                buffer_days=sale.buffer_days,
                importance=sale.importance,
                asks=asks(key, wants),
            )
        )
    for shipment in stock.shipments_from(today_date):
        key = f"shipment-{shipment.pk}"
        wants = [(w.line, w.count) for w in shipment.wants.select_related(*related)]
        month = date(shipment.month // 12, shipment.month % 12 + 1, 1)
        found.append(
            Dated(
                key=key,
                name=f"Parcels {month:%b %Y}",
                due_date=shipment.post_date,
                buffer_days=shipment.buffer_days,
                importance=shipment.importance,
                asks=asks(key, wants),
            )
        )
    return sorted((d for d in found if d.asks), key=lambda d: (d.due_date, d.key))
