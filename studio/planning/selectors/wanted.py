"""Which dates ask for what from now on, and how much of it do they have already?

A sale whose members' hour has come asks for nothing more: what is not listed by then is too late
for it. Parcels may be packed until the end of the day they are posted.
"""

from __future__ import annotations

from datetime import date, datetime

import studio.parcels.selectors as parcels
import studio.sales.selectors as sales
from studio.parcels.models import ShipmentWant
from studio.sales.models import Want
from studio.wares.selectors.needs import Need


def dates_from(*, today_date: date, now: datetime | None = None) -> list[Need]:
    """Every sale day and shipment from now on that still asks for something, soonest first.

    Without ``now`` the whole of today is still ahead. A sale is due on the day its members' hours
    begin, where the studio is; parcels on the day they are posted.
    """
    found = [*sales.needs(today_date, now=now), *parcels.needs(today_date)]
    return sorted(found, key=lambda need: (need.due_date, need.key))


def is_anything_promised(*, today_date: date, now: datetime | None = None) -> bool:
    """Does any date from now on ask for anything, be it ready or not?"""
    return (
        Want.objects.filter(sale_day__in=sales.not_begun(today_date, now=now)).exists()
        or ShipmentWant.objects.filter(shipment__post_date__gte=today_date).exists()
    )
