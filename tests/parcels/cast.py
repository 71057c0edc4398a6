"""The supporters that the tests of parcels share. All invented."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.contrib.auth.models import User

from studio.parcels import services
from studio.parcels.models import Payment, Shipment, Supporter, Tier
from studio.parcels.rules import read_month

NOW = datetime(2026, 11, 20, 10, 0, tzinfo=UTC)
NOVEMBER = read_month("2026-11")
DECEMBER = read_month("2026-12")
LEEDS = {
    "country_code": "GB",
    "street_address": "4 Kiln Row",
    "city": "Leeds",
    "postal_code": "LS1 4DY",
}


def tier(name: str = "Saucer", weight: int = 1) -> Tier:
    """A tier, made once."""
    found, _ = Tier.objects.get_or_create(
        name=name, defaults={"monthly_pence": 500 * weight, "weight": weight}
    )
    return found


def supporter(
    name: str,
    by: User,
    *,
    paid: tuple[str, ...] = ("2026-09", "2026-10", "2026-11"),
    please_no: tuple[Any, ...] = (),
    **values: Any,
) -> Supporter:
    """A supporter who paid these months; who is made first joined first, from January 2024 on."""
    joined = read_month("2024-01") + Supporter.objects.count()
    given = {"name": name, "tier": tier(), "joined_month": joined, **LEEDS, **values}
    change = services.add_supporter(values=given, please_no=please_no, by=by, at=NOW)
    found = Supporter.objects.get(id=change.subject_id)
    Payment.objects.bulk_create(Payment(supporter=found, month=read_month(month)) for month in paid)
    return found


def shipment(by: User, *, month: str = "2026-12", parcel_count: int = 2) -> Shipment:
    """A month's parcels, posted on the 10th."""
    number = read_month(month)
    post = datetime(number // 12, number % 12 + 1, 10, tzinfo=UTC).date()
    change = services.set_shipment(
        month=number, post_date=post, parcel_count=parcel_count, by=by, at=NOW
    )
    return Shipment.objects.get(id=change.subject_id)


def lock(shipment: Shipment, by: User) -> None:
    """Lock every address of a month as it stands."""
    ids = list(shipment.parcels.values_list("id", flat=True))
    services.lock_addresses(shipment=shipment, ticked=ids, by=by, at=NOW)
