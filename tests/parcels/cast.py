"""The supporters that the tests of parcels share. All invented."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from django.contrib.auth.models import User

from studio.parcels import selectors, services
from studio.parcels.models import BoxType, Parcel, Payment, Shipment, Supporter, Tier
from studio.parcels.rules import read_month
from studio.wares.models import Form, Line
from tests.sales import cast as wares_cast

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


def asked(by: User) -> Shipment:
    """Three parcels posted on 10 December: a confirmation counts from 21 days before on.

    10 December less 21 days is 19 November: Ada's day counts, Bo's does not, Cy has none.
    """
    supporter("Ada", by, address_confirmed_date=date(2026, 11, 19))
    supporter("Bo", by, address_confirmed_date=date(2026, 11, 18))
    supporter("Cy", by)
    return three_picked(by, wares_cast.line())


def mug() -> Line:
    """A mug of 88 x 95 mm, 130 over the handle, 360 g: a common size."""
    line = wares_cast.line()
    Form.objects.filter(id=line.form_id).update(
        width_mm=88, handle_mm=42, height_mm=95, weight_g=360, price_pence=3200
    )
    return line


def mugs_for_three(by: User, line: Line) -> Shipment:
    """December with a mug each for Ada, Bo and Cy."""
    for name in ("Ada", "Bo", "Cy"):
        supporter(name, by)
    return three_picked(by, line)


def three_picked(by: User, line: Line) -> Shipment:
    """December with three parcels picked of three pots of a line."""
    wares_cast.pots(line, 3, by)
    made = shipment(by, parcel_count=3)
    services.pick_parcels(shipment=made, by=by, at=NOW)
    return made


def box(by: User, name: str = "mug box", **values: int | str | None) -> BoxType:
    """A box that a mug fits into."""
    own = {"length_mm": 250, "width_mm": 200, "height_mm": 200, "weight_g": 420, "wall_mm": 4}
    services.set_box(box=None, values={"name": name, **own, **values}, by=by, at=NOW)
    return BoxType.objects.get(name=name)


def parcel_of(shipment: Shipment, name: str) -> Parcel:
    """Somebody's parcel in turn."""
    return shipment.parcels.turns().get(supporter__name=name)


def row_of(shipment: Shipment, name: str) -> selectors.BenchRow:
    """Somebody's row on the bench."""
    rows = selectors.bench_rows(shipment, today_date=NOW.date())
    return next(one for one in rows if one.parcel.supporter.name == name)


def state_of(parcel: Parcel) -> selectors.AddressState:
    """How far a parcel's address is settled now."""
    held = Parcel.objects.select_related("supporter", "shipment").get(id=parcel.id)
    printed = selectors.addresses.printed_at(held.shipment)
    return selectors.address_state(
        held, settings=selectors.post_settings(), printed_at=printed.get(held.id)
    )


def posted(shipment: Shipment, by: User) -> list[Parcel]:
    """All of a month, packed and posted."""
    parcels = list(shipment.parcels.all())
    services.mark_packed(parcels=parcels, by=by, at=NOW)
    services.mark_posted(parcels=parcels, by=by, at=NOW)
    return list(shipment.parcels.all())
