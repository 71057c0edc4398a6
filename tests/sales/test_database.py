"""Does the database itself refuse what must never be? Each row is written past the services."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.sales.models import Listing, SaleDay, Want
from tests.guard import kept_by_the_database
from tests.sales import cast
from tests.sales.test_sale_days import NOW

HOUR = timedelta(hours=1)
Write = Callable[[User], Any]


def day(name: str = "June restock", **values: Any) -> SaleDay:
    """A sale day written straight into its table."""
    own = {"members_at": NOW, "public_at": NOW + HOUR}
    return SaleDay.objects.create(name=name, **{**own, **values})


def want(count: int = 1, sale: SaleDay | None = None) -> None:
    Want.objects.create(sale_day=sale or day(), line=cast.line(), count=count)


def wanted_twice(by: User) -> None:
    sale = day()
    want(sale=sale)
    want(sale=sale)


def listed_twice(by: User) -> None:
    (piece,) = cast.pots(cast.line(), 1, by, stage="listed")
    for name in ("June", "July"):
        Listing.objects.create(piece=piece, sale_day=day(name), price_pence=1, listed_at=NOW)


def listed(price_pence: int, by: User) -> None:
    (piece,) = cast.pots(cast.line(), 1, by, stage="listed")
    Listing.objects.create(piece=piece, sale_day=day(), price_pence=price_pence, listed_at=NOW)


def same_name(by: User) -> None:
    day()
    day()


MUST_FAIL: dict[str, Write] = {
    "sale_day_name_once": same_name,
    "sale_members_first": lambda by: day(public_at=NOW - HOUR),
    "sale_closes_after_it_opens same": lambda by: day(closes_at=NOW + HOUR),
    "sale_closes_after_it_opens before": lambda by: day(closes_at=NOW),
    "sale_importance_from_one": lambda by: day(importance=0),
    "sale_day_named": lambda by: day(""),
    "sale_numbers_possible importance": lambda by: day(importance=10),
    "sale_numbers_possible buffer": lambda by: day(buffer_days=61),
    "want_at_most": lambda by: want(5001),
    "listing_priced nothing": lambda by: listed(0, by),
    "listing_priced slip": lambda by: listed(10_000_001, by),
    "want_line_once": wanted_twice,
    "want_at_least_one": lambda by: want(0),
    "Listing.piece": listed_twice,
}


@pytest.mark.django_db
@pytest.mark.parametrize("name", list(MUST_FAIL))
def test_the_database_refuses(potter: User, name: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        MUST_FAIL[name](potter)


def test_every_constraint_of_the_room_is_tried() -> None:
    tried = {name.split(" ")[0] for name in MUST_FAIL}
    assert kept_by_the_database("sales") == tried


@pytest.mark.django_db
def test_what_must_be_possible_is(potter: User) -> None:
    """Otherwise a check that refuses everything would pass the tests above."""
    sale = day(public_at=NOW, closes_at=NOW + HOUR)
    day("open end")
    want(sale=sale)
    (piece,) = cast.pots(cast.line(), 1, potter, stage="listed")
    Listing.objects.create(piece=piece, sale_day=sale, price_pence=1, listed_at=NOW)
