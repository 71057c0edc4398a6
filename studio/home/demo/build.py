"""In which order is the demo studio's past told, so that nothing is sold before it was made?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial

from django.contrib.auth.models import User
from django.db import transaction

from studio.home.demo.catalogue import PASSWORD, build_kilns, build_studio, build_wares
from studio.home.demo.fixture import Clock, read
from studio.home.demo.loads import furnish
from studio.home.demo.logs import look_after
from studio.home.demo.people import build_supporters
from studio.home.demo.pictures import draw_pieces
from studio.home.demo.post import build_post
from studio.home.demo.results import new_bucket, set_hours, set_prices, show_results
from studio.home.demo.sales import clear_table, cleared_on, hold_sale
from studio.home.demo.shipments import DAYS_BEFORE, post_day_of, send_month
from studio.home.demo.story import Teller
from studio.web.models import Change

BEFORE_EVERYTHING = -10_000


@transaction.atomic
def build(*, today_date: date) -> User:
    """Fill an empty database with the demo studio as it stands today; answer its potter."""
    clock = Clock(today_date=today_date)
    by = build_studio(clock=clock)
    build_kilns()
    furnish(clock=clock, by=by)
    build_wares(clock=clock)
    build_post(clock=clock, by=by, password=PASSWORD)
    set_prices(clock=clock, by=by)
    set_hours(clock=clock, by=by)
    teller = Teller(clock=clock, by=by)
    told = BEFORE_EVERYTHING
    for day, tell in _promises(clock, by):
        until = min(day, 0)
        teller.tell(after=told, until=until)
        told = max(told, until)
        last = Change.objects.order_by("-id").values_list("id", flat=True).first() or 0
        tell()
        Change.objects.filter(id__gt=last).update(at=clock.at(until, 19))
    teller.tell(after=told, until=0)
    draw_pieces(clock=clock)
    new_bucket(clock=clock, by=by)
    show_results(clock=clock, by=by)
    return by


def _promises(clock: Clock, by: User) -> list[tuple[int, Callable[[], object]]]:
    """Answer what was done about people and dates, each with the day on which it was done."""
    data, care = read("promises.json"), read("care.json")["care"]
    happenings: list[tuple[int, Callable[[], object]]] = [
        *((row["day"], partial(look_after, row, clock=clock, by=by)) for row in care),
        (-100, partial(build_supporters, clock=clock, by=by)),
        *((row["day"] - 2, partial(hold_sale, row, clock=clock, by=by)) for row in data["sales"]),
        *(
            (cleared_on(row), partial(clear_table, row, clock=clock, by=by))
            for row in data["sales"]
            if row.get("taken_back")
        ),
        *(
            (post_day_of(row, clock) - DAYS_BEFORE, partial(send_month, row, clock=clock, by=by))
            for row in data["shipments"]
        ),
    ]
    return sorted(happenings, key=lambda happening: happening[0])
