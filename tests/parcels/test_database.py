"""Does the database itself refuse what must never be? Each row is written past the services."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.parcels.models import (
    AddressLook,
    BodyKind,
    BoxType,
    FormerTier,
    FormUse,
    Parcel,
    ParcelPiece,
    Pause,
    Payment,
    PostSettings,
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
    return found or Tier.objects.create(name=name, **{"monthly_pence": 500, **values})


def person(number: int = 1, **values: Any) -> Supporter:
    """A supporter written straight into its table."""
    own = {"name": "Ada", "tier": tier(), "joined_month": DECEMBER, "country_code": "GB"}
    return Supporter.objects.create(number=number, **{**own, **values})


def paid(month: int = DECEMBER, times: int = 1) -> None:
    ada = person()
    for _ in range(times):
        Payment.objects.create(supporter=ada, month=month)


def pauses(*spans: tuple[int, int | None]) -> None:
    ada = person()
    for first, last in spans:
        Pause.objects.create(supporter=ada, from_month=first, to_month=last)


def former(times: int) -> None:
    ada = person()
    for _ in range(times):
        FormerTier.objects.create(supporter=ada, to_month=DECEMBER, tier=ada.tier)


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


def spare_of_itself(by: User) -> None:
    box = parcel()
    Parcel.objects.filter(id=box.id).update(replaces=box)


def two_spares(by: User) -> None:
    broken = parcel()
    for _ in range(2):
        Parcel.objects.create(shipment=broken.shipment, supporter=broken.supporter, replaces=broken)


def same_tracking(by: User) -> None:
    one = parcel(tracking="RR473124829GB")
    Parcel.objects.create(shipment=one.shipment, supporter=person(2), tracking="RR473124829GB")


def declared(value_pence: int) -> Write:
    def write(by: User) -> None:
        box = parcel()
        (piece,) = cast.pots(cast.line(), 1, by)
        put_in(box, piece)
        ParcelPiece.objects.update(value_pence=value_pence)

    return write


def box_type(name: str = "mug box", **values: Any) -> BoxType:
    own = {"length_mm": 250, "width_mm": 200, "height_mm": 200, "weight_g": 300}
    return BoxType.objects.create(name=name, **(own | values))


def two_boxes(by: User) -> None:
    box_type()
    box_type("MUG box")


def two_kinds(by: User) -> None:
    BodyKind.objects.create(body="Harbour", kind="stoneware")
    BodyKind.objects.create(body="harbour", kind="porcelain")


def two_uses(by: User) -> None:
    for _ in range(2):
        FormUse.objects.create(form=cast.line().form, purpose="for drinks")


def look(page: str, name: str = "Ada") -> Write:
    def write(by: User) -> None:
        AddressLook.objects.create(
            by=by, supporter=person(), number=1, name=name, page=page, at="2026-11-20T10:00Z"
        )

    return write


MUST_FAIL: dict[str, Write] = {
    "turn_rule_is_one": lambda by: TurnRule.objects.create(id=2),
    "Tier.name": twice(lambda: Tier.objects.create(name="Saucer", monthly_pence=1)),
    "tier_named": lambda by: tier(""),
    "tier_weighs": lambda by: tier(weight=0),
    "Supporter.number": twice(lambda: person(1)),
    "supporter_named": lambda by: person(name=""),
    "supporter_has_country": lambda by: person(country_code=""),
    "supporter_email_once": emails,
    "supporter_gift_names_giver": lambda by: person(is_gift=True),
    "month_paid_once": lambda by: paid(times=2),
    "paid_month_possible": lambda by: paid(1970 * 12 - 1),
    "payment_state_known": lambda by: Payment.objects.create(
        supporter=person(), month=DECEMBER, state="promised"
    ),
    "supporter_months_possible early": lambda by: person(joined_month=1970 * 12 - 1),
    "supporter_months_possible late": lambda by: person(joined_month=2100 * 12),
    "supporter_months_possible left": lambda by: person(left_month=2100 * 12),
    "paid_before_2100": lambda by: paid(2100 * 12),
    "pause_before_2100 begins": lambda by: pauses((2100 * 12, None)),
    "pause_before_2100 ends": lambda by: pauses((DECEMBER, 2100 * 12)),
    "former_tier_month_possible": lambda by: FormerTier.objects.create(
        supporter=person(), to_month=2100 * 12, tier=tier()
    ),
    "shipment_month_possible early": lambda by: shipment(1970 * 12 - 1),
    "shipment_month_possible late": lambda by: shipment(2100 * 12),
    "shipment_numbers_possible parcels": lambda by: shipment(parcel_count=501),
    "shipment_numbers_possible buffer": lambda by: shipment(buffer_days=61),
    "shipment_numbers_possible importance": lambda by: shipment(importance=10),
    "shipment_want_at_most": lambda by: want(5001),
    "supporter_leaves_after_joining": lambda by: person(left_month=DECEMBER - 1),
    "pause_begins_once": lambda by: pauses((DECEMBER, DECEMBER), (DECEMBER, DECEMBER + 1)),
    "pause_open_once": lambda by: pauses((DECEMBER, None), (DECEMBER + 1, None)),
    "pause_ends_after_it_begins": lambda by: pauses((DECEMBER, DECEMBER - 1)),
    "pause_possible": lambda by: pauses((1970 * 12 - 1, None)),
    "tier_ends_once": lambda by: former(2),
    "Shipment.month": twice(shipment),
    "shipment_posts_something": lambda by: shipment(parcel_count=0),
    "shipment_importance_from_one": lambda by: shipment(importance=0),
    "shipment_line_once": lambda by: want(times=2),
    "shipment_want_counts": lambda by: want(0),
    "parcel_once_a_month": two_parcels,
    "parcel_posted_with_a_date none": lambda by: parcel(state="posted"),
    "parcel_posted_with_a_date early": lambda by: parcel(state="packed", posted_date=DAY),
    "parcel_state_known": lambda by: parcel(state="lost"),
    "parcel_arrived_with_a_date none": lambda by: parcel(state="arrived", posted_date=DAY),
    "parcel_arrived_with_a_date early": lambda by: parcel(
        state="posted", posted_date=DAY, arrived_date=DAY
    ),
    "parcel_broken_with_a_date none": lambda by: parcel(state="broken", posted_date=DAY),
    "parcel_broken_with_a_date early": lambda by: parcel(
        state="posted", posted_date=DAY, broken_date=DAY
    ),
    "parcel_item_kind_known": lambda by: parcel(item_kind="bribe"),
    "parcel_weighs_something": lambda by: parcel(weighed_g=0),
    "parcel_not_its_own_spare": spare_of_itself,
    "Parcel.replaces": two_spares,
    "tracking_once": same_tracking,
    "declared_value_real": declared(0),
    "post_settings_is_one": lambda by: PostSettings.objects.create(id=2),
    "post_limits_real": lambda by: PostSettings.objects.create(id=1, limit_g=0),
    "post_rate_has_its_day": lambda by: PostSettings.objects.create(id=1, sdr_rate="1.07"),
    "post_limit_has_its_source": lambda by: PostSettings.objects.create(id=1, limit_source=""),
    "post_days_from_one confirmed": lambda by: PostSettings.objects.create(id=1, confirmed_days=0),
    "post_days_from_one link": lambda by: PostSettings.objects.create(id=1, link_days=0),
    "post_days_from_one overdue": lambda by: PostSettings.objects.create(id=1, overdue_days=0),
    "post_days_from_one keep": lambda by: PostSettings.objects.create(id=1, keep_days=0),
    "post_item_kind_known": lambda by: PostSettings.objects.create(id=1, item_kind="bribe"),
    "post_item_kind_known empty": lambda by: PostSettings.objects.create(id=1, item_kind=""),
    "box_name_once": two_boxes,
    "box_named": lambda by: box_type(""),
    "box_sizes_real": lambda by: box_type(width_mm=0),
    "box_takes_something": lambda by: box_type(takes=0),
    "body_kind_once": two_kinds,
    "body_kind_known": lambda by: BodyKind.objects.create(body="Harbour", kind="mud"),
    "FormUse.form": two_uses,
    "form_use_said": lambda by: FormUse.objects.create(form=cast.line().form, purpose=""),
    "look_page_known": look("wall"),
    "look_says_whose": look("slips", name=""),
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
    Pause.objects.create(supporter=box.supporter, from_month=1970 * 12, to_month=1970 * 12)
    Pause.objects.create(supporter=box.supporter, from_month=DECEMBER)
    FormerTier.objects.create(supporter=box.supporter, to_month=DECEMBER - 1, tier=tier())
    for name in ("Mug", "Bowl"):
        (piece,) = cast.pots(cast.line(name), 1, potter)
        ParcelPiece.objects.create(
            parcel=box, piece=piece, supporter=box.supporter, line=cast.line(name)
        )
    (again,) = cast.pots(cast.line(), 1, potter)
    spare = Parcel.objects.create(shipment=box.shipment, supporter=box.supporter, replaces=box)
    ParcelPiece.objects.create(
        parcel=spare,
        piece=again,
        supporter=box.supporter,
        line=cast.line(),
        in_place_of_broken=True,
        value_pence=1,
    )
    Parcel.objects.filter(id=box.id).update(
        state="broken", broken_date=DAY, arrived_date=DAY, weighed_g=900
    )
    least = {"confirmed_days": 1, "link_days": 1, "overdue_days": 1, "keep_days": 1}
    PostSettings.objects.create(
        id=1, sdr_rate="1.07", sdr_source="IMF", sdr_date=DAY, item_kind="gift", **least
    )
    box_type(takes=1)
    BodyKind.objects.create(body="Harbour", kind="porcelain")
    FormUse.objects.create(form=cast.line().form, purpose="for drinks", is_ornament=True)
    AddressLook.objects.create(
        by=potter, number=1, name="Ada", parcel=box, page="labels", at="2026-11-20T10:00Z"
    )
    ShipmentWant.objects.create(shipment=box.shipment, line=cast.line(), count=1)
    Skip.objects.create(shipment=box.shipment, supporter=box.supporter, reason="away")
