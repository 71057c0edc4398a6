"""Which parcels went out, which go out this month, and which are promised for the next?"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.contrib.auth.models import User

import studio.parcels.services as parcels
from studio.home.demo.catalogue import find_line
from studio.home.demo.fixture import Clock
from studio.home.demo.post import lock, move_house, send
from studio.parcels.models import Shipment

DAYS_BEFORE = 5
"""How long before the post date a month's pots are picked."""


def post_day_of(row: dict[str, Any], clock: Clock) -> int:
    """Answer when a month is posted, in days from today: a past one on a day of its own month."""
    if "post_day" in row:
        return int(row["post_day"])
    month = clock.month(row["months_ago"])
    posted = date(month // 12, month % 12 + 1, row["day_of_month"])
    return (posted - clock.today_date).days


def send_month(row: dict[str, Any], *, clock: Clock, by: User) -> Shipment:
    """Set a month; pick its parcels when it is near, pack and post them when it is past."""
    post_day = post_day_of(row, clock)
    set_up = clock.at(min(post_day - 20, -1))
    change = parcels.set_shipment(
        month=clock.month(row["months_ago"]),
        post_date=clock.day(post_day),
        parcel_count=row["parcels"],
        by=by,
        at=set_up,
    )
    assert change.subject_id is not None
    shipment = Shipment.objects.get(id=change.subject_id)
    for *names, count in row["wants"]:
        parcels.set_want(shipment=shipment, line=find_line(*names), count=count, by=by, at=set_up)
    if post_day > DAYS_BEFORE:
        return shipment
    picked_at = clock.at(min(post_day - DAYS_BEFORE, 0), 7)
    parcels.pick_parcels(shipment=shipment, by=by, at=picked_at)
    if post_day < 0:
        send(shipment, clock=clock, post_day=post_day, by=by)
    else:
        lock(shipment, clock=clock, day=0, by=by)
        move_house(shipment, clock=clock)
    return shipment
