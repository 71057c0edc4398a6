"""Which boxes, limits and helpers does the demo studio have, and how did its parcels travel?"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from django.contrib.auth.models import User

import studio.parcels.services as parcels
from studio.craft.post import check_digit
from studio.home.demo.fixture import Clock, read
from studio.parcels import selectors
from studio.parcels.models import Parcel, Shipment
from studio.wares.models import Form
from studio.web.people import add_sign_in

DAYS_ON_THE_WAY = 9
FIRST_SERIAL = 47_110_800


def build_post(*, clock: Clock, by: User, password: str) -> None:
    """Keep the boxes, the limits with their sources, the words of customs, and a helper."""
    data = read("post.json")
    at = clock.at(-101)
    settings = {**data["settings"], "sdr_rate": Decimal(data["settings"]["sdr_rate"])}
    # The rate is the latest thing looked up, so it is kept as of today.
    values = {**settings, "sdr_date": clock.day(data["sdr_day"]), "limit_date": clock.day(-90)}
    parcels.keep_post_settings(values=values, by=by, at=clock.at(0))
    for row in data["boxes"]:
        parcels.set_box(box=None, values=row, by=by, at=at)
    uses: Mapping[str, tuple[str, bool]] = data["uses"]
    forms = {form.name: form.id for form in Form.objects.filter(name__in=uses)}
    parcels.set_customs_words(
        purposes={forms[name]: purpose for name, (purpose, _) in uses.items()},
        ornaments={forms[name]: ornament for name, (_, ornament) in uses.items()},
        bodies=data["bodies"],
        by=by,
        at=at,
    )
    add_sign_in(name=data["helper"], password=password, helper=True, by=by, at=at)


def send(shipment: Shipment, *, clock: Clock, post_day: int, by: User) -> None:
    """Lock, pack, number and post a past month's parcels, and tell how they arrived."""
    rows = list(Parcel.objects.filter(shipment=shipment))
    lock(shipment, clock=clock, day=post_day - 2, by=by)
    parcels.mark_packed(parcels=rows, by=by, at=clock.at(post_day - 1, 15))
    parcels.mark_posted(parcels=rows, by=by, at=clock.at(post_day, 11))
    for row in rows:
        parcels.set_tracking(parcel=row, number=_number(row), by=by, at=clock.at(post_day, 12))
    if post_day + DAYS_ON_THE_WAY <= 0:
        _arrive(rows, clock=clock, day=post_day + DAYS_ON_THE_WAY, by=by)


def lock(shipment: Shipment, *, clock: Clock, day: int, by: User) -> None:
    """Lock a month's addresses, whoever has not confirmed them ticked off by name."""
    ids = list(shipment.parcels.values_list("id", flat=True))
    parcels.lock_addresses(shipment=shipment, ticked=ids, by=by, at=clock.at(day, 16))


def move_house(shipment: Shipment, *, clock: Clock) -> None:
    """Let somebody give another address by their link after theirs was locked."""
    parcel = shipment.parcels.select_related("supporter").order_by("supporter__number").first()
    if parcel is None:
        return
    fields = selectors.addresses_of(parcel.supporter)
    fields["street_address"] = f"{fields['street_address']}, back door"
    parcels.set_own_address(supporter=parcel.supporter, fields=fields, at=clock.at(0, 8))


def _arrive(rows: list[Parcel], *, clock: Clock, day: int, by: User) -> None:
    """All but the last arrive; of the others the first is broken, and another goes out."""
    late = rows[-1:] if clock.today_date.toordinal() - _posted(rows[0]).toordinal() < 45 else []
    there = [row for row in rows if row not in late]
    parcels.mark_arrived(parcels=there, by=by, at=clock.at(day, 10))
    if not late:
        return
    broken = there[0]
    parcels.report_broken(
        parcel=broken, note="Rim chipped, one corner of the box dented", by=by, at=clock.at(day, 17)
    )
    offer = next((one for one in selectors.spare_offers(broken) if one.cannot is None), None)
    if offer is not None:
        parcels.replace_broken(parcel=broken, piece=offer.piece, by=by, at=clock.at(day, 18))
        again = Parcel.objects.get(replaces=broken)
        lock(broken.shipment, clock=clock, day=day, by=by)
        parcels.mark_packed(parcels=[again], by=by, at=clock.at(day, 19))
        parcels.mark_posted(parcels=[again], by=by, at=clock.at(min(day + 1, 0), 6))


def _posted(row: Parcel) -> date:
    row.refresh_from_db()
    assert row.posted_date is not None
    return row.posted_date


def _number(row: Parcel) -> str:
    serial = f"{FIRST_SERIAL + row.id:08}"
    return f"CP {serial}{check_digit(serial)} GB"
