"""Does the database itself refuse what must never be? Each row is written past the services."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.parcels.models import (
    Parcel,
    ParcelPiece,
    Payment,
    Shipment,
    ShipmentWant,
    Skip,
    Supporter,
    Tier,
    TurnRule,
)
from tests.guard import kept_by_the_database
from tests.parcels.cast import DECEMBER
from tests.sales import cast

DAY = date(2026, 12, 10)
Write = Callable[[User], Any]


def tier(name: str = "Saucer", **values: Any) -> Tier:
    found = Tier.objects.filter(name=name).first()
    return found or Tier.objects.create(name=name, **{"pledge_pence": 500, **values})


def person(number: int = 1, **values: Any) -> Supporter:
    """A supporter written straight into its table."""
    own = {"name": "Ada", "tier": tier(), "joined_month": DECEMBER, "country_code": "GB"}
    return Supporter.objects.create(number=number, **{**own, **values})


def paid(month: int = DECEMBER, times: int = 1) -> None:
    ada = person()
    for _ in range(times):
        Payment.objects.create(supporter=ada, month=month)


def shipment(month: int = DECEMBER, **values: Any) -> Shipment:
    return Shipment.objects.create(month=month, **{"post_date": DAY, **values})


def want(count: int = 1, times: int = 1) -> None:
    held = shipment()
    for _ in range(times):
        ShipmentWant.objects.create(shipment=held, line=cast.line(), count=count)


def parcel(**values: Any) -> Parcel:
    return Parcel.objects.create(shipment=shipment(), supporter=person(), **values)


def two_parcels(by: User) -> None:
    one = parcel()
    Parcel.objects.create(shipment=one.shipment, supporter=one.supporter)


def put_in(box: Parcel, piece: Any) -> None:
    ParcelPiece.objects.create(parcel=box, piece=piece, supporter=box.supporter, line=cast.line())


def line_twice_to_one(by: User) -> None:
    box = parcel()
    for piece in cast.pots(cast.line(), 2, by):
        put_in(box, piece)


def piece_in_two_parcels(by: User) -> None:
    one = parcel()
    (piece,) = cast.pots(cast.line(), 1, by)
    put_in(one, piece)
    put_in(Parcel.objects.create(shipment=one.shipment, supporter=person(2)), piece)


def skip(reason: str = "away", times: int = 1) -> None:
    held, ada = shipment(), person()
    for _ in range(times):
        Skip.objects.create(shipment=held, supporter=ada, reason=reason)


def twice(write: Callable[[], Any]) -> Write:
    def both(by: User) -> None:
        write()
        write()

    return both


def emails(by: User) -> None:
    person(1, email="ada@example.org")
    person(2, email="ADA@example.org")


MUST_FAIL: dict[str, Write] = {
    "turn_rule_is_one": lambda by: TurnRule.objects.create(id=2),
    "Tier.name": twice(lambda: Tier.objects.create(name="Saucer", pledge_pence=1)),
    "tier_weighs": lambda by: tier(weight=0),
    "Supporter.number": twice(lambda: person(1)),
    "supporter_named": lambda by: person(name=""),
    "supporter_has_country": lambda by: person(country_code=""),
    "supporter_email_once": emails,
    "supporter_gift_names_giver": lambda by: person(is_gift=True),
    "month_paid_once": lambda by: paid(times=2),
    "paid_month_possible": lambda by: paid(1970 * 12 - 1),
    "Shipment.month": twice(shipment),
    "shipment_posts_something": lambda by: shipment(parcel_count=0),
    "shipment_importance_from_one": lambda by: shipment(importance=0),
    "shipment_line_once": lambda by: want(times=2),
    "shipment_want_counts": lambda by: want(0),
    "parcel_once_a_month": two_parcels,
    "parcel_posted_with_a_date none": lambda by: parcel(state="posted"),
    "parcel_posted_with_a_date early": lambda by: parcel(state="packed", posted_date=DAY),
    "parcel_state_known": lambda by: parcel(state="lost"),
    "ParcelPiece.piece": piece_in_two_parcels,
    "no_line_twice_to_one": line_twice_to_one,
    "skip_once_a_month": lambda by: skip(times=2),
    "skip_has_a_reason": lambda by: skip(""),
}


@pytest.mark.django_db
@pytest.mark.parametrize("name", list(MUST_FAIL))
def test_the_database_refuses(potter: User, name: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        MUST_FAIL[name](potter)


def test_every_constraint_of_the_room_is_tried() -> None:
    tried = {name.split(" ")[0] for name in MUST_FAIL}
    assert kept_by_the_database("parcels") == tried


@pytest.mark.django_db
def test_what_must_be_possible_is(potter: User) -> None:
    """Otherwise a check that refuses everything would pass the tests above."""
    TurnRule.objects.create(id=1)
    box = parcel(state="posted", posted_date=DAY)
    person(2, is_gift=True, gift_from="Bo")
    person(3)
    Payment.objects.create(supporter=box.supporter, month=1970 * 12)
    for name in ("Mug", "Bowl"):
        (piece,) = cast.pots(cast.line(name), 1, potter)
        ParcelPiece.objects.create(
            parcel=box, piece=piece, supporter=box.supporter, line=cast.line(name)
        )
    ShipmentWant.objects.create(shipment=box.shipment, line=cast.line(), count=1)
    Skip.objects.create(shipment=box.shipment, supporter=box.supporter, reason="away")
