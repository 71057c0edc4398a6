"""What did the demo studio sell at its last restock, and what does it promise for the next?"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib.auth.models import User

import studio.sales.services as sales
from studio.home.demo.catalogue import find_line
from studio.home.demo.fixture import Clock
from studio.sales.models import SaleDay
from studio.wares.models import Piece, Stage

DAYS_BEFORE = 14
"""How long before a past sale it was set up."""


def hold_sale(row: dict[str, Any], *, clock: Clock, by: User) -> SaleDay:
    """Set a sale day with its wants; at a past one, list what there was and sell a share."""
    if row["day"] > 0:
        # Restocks ahead fall on the day of the week this studio always opens its shop.
        row = row | {"day": clock.on_weekday(row["day"], row["weekday"])}
    sale_day = _set_up(row, clock=clock, by=by)
    if row["day"] > 0:
        return sale_day
    at = clock.at(row["day"] - 2, 15)
    prices_pence: dict[int, int] = {}
    for want in sale_day.wants.select_related("line__form"):
        free = Piece.objects.of_line(want.line).on_hand().filter(
            stage=Stage.GRADED, grade=Piece.Grade.FIRST, reservation__isnull=True
        )  # fmt: skip
        for piece in free.order_by("number")[: want.count]:
            prices_pence[piece.pk] = want.line.form.price_pence
    sales.list_for_sale(sale_day=sale_day, prices_pence=prices_pence, by=by, at=at)
    listed = list(Piece.objects.filter(listing__sale_day=sale_day).order_by("number"))
    share = row["sold_share"]
    sold = [
        piece
        for n, piece in enumerate(listed)
        # Spread over the table, not the first so many: every line keeps a few.
        if n * share // 100 != (n + 1) * share // 100
    ]
    sales.sell(sale_day=sale_day, pieces=sold, by=by, at=clock.at(row["day"] + 1, 20))
    return sale_day


def clear_table(row: dict[str, Any], *, clock: Clock, by: User) -> None:
    """After a sale take back what it left."""
    sale_day = SaleDay.objects.get(name=row["name"])
    left = list(Piece.objects.filter(listing__sale_day=sale_day, parting=""))
    sales.take_back(sale_day=sale_day, pieces=left, by=by, at=clock.at(cleared_on(row), 10))


def cleared_on(row: dict[str, Any]) -> int:
    """Answer the day after a sale closes, in days from today."""
    return int(row["day"] + row["open_days"] + 1)


def _set_up(row: dict[str, Any], *, clock: Clock, by: User) -> SaleDay:
    set_up = min(row["day"] - DAYS_BEFORE, 0)
    members_at = clock.at(row["day"], row["members_hour"])
    change = sales.make_sale_day(
        name=row["name"],
        members_at=members_at,
        public_at=members_at + timedelta(hours=row["public_hours_later"]),
        closes_at=members_at + timedelta(days=row["open_days"]),
        buffer_days=row["buffer_days"],
        importance=row["importance"],
        by=by,
        at=clock.at(set_up),
    )
    assert change.subject_id is not None
    sale_day = SaleDay.objects.get(id=change.subject_id)
    for *names, count in row["wants"]:
        sales.set_want(
            sale_day=sale_day, line=find_line(*names), count=count, by=by, at=clock.at(set_up)
        )
    return sale_day
