"""Which dates ask for what from today on, and how much of it do they have already?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

import studio.parcels.selectors as parcels
import studio.sales.selectors as sales
from studio.parcels.models import ShipmentWant
from studio.planning.selectors import stock
from studio.sales.models import Want
from studio.wares.models import Line


class Ask(Protocol):
    """A date's want of one line: ``count`` more, beside the ``done`` that are listed or packed."""

    @property
    def line(self) -> Line: ...
    @property
    def wanted(self) -> int: ...
    @property
    def done(self) -> int: ...
    @property
    def count(self) -> int: ...


class Need(Protocol):
    """What the sales and the parcels room each say a date needs."""

    @property
    def key(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def due_date(self) -> date: ...
    @property
    def buffer_days(self) -> int: ...
    @property
    def importance(self) -> int: ...
    @property
    def lines(self) -> Sequence[Ask]: ...


@dataclass(frozen=True, kw_only=True, slots=True)
class Dated:
    """A sale day or a month's parcels, with what it still asks for."""

    key: str
    name: str
    due_date: date
    buffer_days: int
    importance: int
    asks: tuple[Ask, ...]


def dates_from(*, today_date: date) -> list[Dated]:
    """Every sale day and shipment from today on that still asks for something, soonest first.

    A sale is due on the day its members' hours begin, where the studio is; parcels on the day they
    are posted.
    """
    found = [_dated(need) for need in sales.needs(today_date)]
    found += [_dated(need) for need in parcels.needs(today_date)]
    return sorted(found, key=lambda dated: (dated.due_date, dated.key))


def _dated(need: Need) -> Dated:
    return Dated(
        key=need.key,
        name=need.name,
        due_date=need.due_date,
        buffer_days=need.buffer_days,
        importance=need.importance,
        asks=tuple(need.lines),
    )


def is_anything_promised(*, today_date: date) -> bool:
    """Does any date from today on ask for anything, be it ready or not?"""
    return (
        Want.objects.filter(sale_day__in=stock.sales_from(today_date)).exists()
        or ShipmentWant.objects.filter(shipment__in=stock.shipments_from(today_date)).exists()
    )
