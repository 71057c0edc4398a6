"""Which address will the papers print, who confirmed it, and who looked at it?"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.core import signing
from django.db.models import Max, Q, QuerySet

from studio.parcels import address, rules
from studio.parcels.models import AddressLook, Parcel, PostSettings, Shipment, Supporter
from studio.parcels.selectors.people import is_erased
from studio.parcels.selectors.post import post_settings

SALT = "studio.parcels.own-address"
HELPER_DAYS = 7
"""How long after the last parcel was posted a helper still sees a month; our own choice."""

PRINTED = (AddressLook.Page.SLIPS, AddressLook.Page.LABELS)


@dataclass(frozen=True, kw_only=True, slots=True)
class AddressState:
    """How far one parcel's address is settled.

    ``changed`` after it was locked; ``print_again`` when it was taken anew after papers were made.
    """

    confirmed_date: date | None
    confirmed: bool
    locked: bool
    ticked_off: bool
    changed: bool
    print_again: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Link:
    """Whose address a signed link opens, and for which month's parcels it was made."""

    supporter: Supporter
    shipment: Shipment | None


def addresses_of(supporter: Supporter) -> dict[str, str]:
    """The address of a supporter as it is kept with a parcel when it is locked."""
    fields = {name: getattr(supporter, name) for name in address.FIELDS}
    return {"country_code": supporter.country_code, **fields}


def locked_lines(parcel: Parcel) -> tuple[str, ...]:
    """The printed lines of a parcel's locked address; before it is locked, those of today."""
    if parcel.locked_at is None:
        name, kept = parcel.supporter.name, addresses_of(parcel.supporter)
    else:
        name, kept = parcel.locked_name, dict(parcel.locked_address)
    code = kept.get("country_code") or parcel.supporter.country_code
    return address.address_lines(name=name, country_code=code, fields=kept)


def address_state(
    parcel: Parcel, *, settings: PostSettings, printed_at: datetime | None
) -> AddressState:
    """How far a parcel's address is settled. ``printed_at`` is when its papers were last made."""
    person = parcel.supporter
    locked = parcel.locked_at is not None
    changed = (
        locked
        and bool(parcel.locked_address)
        and (parcel.locked_name != person.name or parcel.locked_address != addresses_of(person))
    )
    return AddressState(
        confirmed_date=person.address_confirmed_date,
        confirmed=rules.is_confirmed(
            confirmed_date=person.address_confirmed_date,
            post_date=parcel.shipment.post_date,
            within_days=settings.confirmed_days,
        ),
        locked=locked,
        ticked_off=parcel.ticked_off,
        changed=changed,
        print_again=bool(
            parcel.state in ("picked", "packed")
            and parcel.locked_at is not None
            and printed_at is not None
            and printed_at < parcel.locked_at
        ),
    )


def address_mark(supporter: Supporter) -> str:
    """A short mark of a name and address as they stand, by which a later change is seen."""
    words = json.dumps([supporter.name, addresses_of(supporter)], sort_keys=True)
    return hashlib.sha256(words.encode()).hexdigest()[:16]


def address_states(parcels: Iterable[Parcel]) -> dict[int, AddressState]:
    """How far the addresses of these parcels are settled, by parcel id."""
    held = list(
        Parcel.objects.filter(id__in=[parcel.id for parcel in parcels]).select_related(
            "supporter", "shipment"
        )
    )
    settings = post_settings()
    printed = _last_printed(Q(parcel__in=held))
    return {
        parcel.id: address_state(parcel, settings=settings, printed_at=printed.get(parcel.id))
        for parcel in held
    }


def moved(parcels: Sequence[Parcel]) -> list[Parcel]:
    """Those packed here whose address changed after it was locked: they are asked about."""
    states = address_states(parcels)
    return [one for one in parcels if one.state == Parcel.State.PACKED and states[one.id].changed]


def printed_at(shipment: Shipment) -> dict[int, datetime]:
    """When slips or labels of each parcel were last made, by parcel id."""
    return _last_printed(Q(parcel__shipment=shipment))


def _last_printed(which: Q) -> dict[int, datetime]:
    rows = AddressLook.objects.filter(which, page__in=PRINTED).order_by()
    return dict(rows.values_list("parcel_id").annotate(last=Max("at")))


def unconfirmed(shipment: Shipment) -> list[Parcel]:
    """The parcels here still whose address is neither locked nor confirmed lately."""
    settings = post_settings()
    waiting = shipment.parcels.here().filter(locked_at=None).select_related("supporter", "shipment")
    return [
        parcel
        for parcel in waiting
        if not address_state(parcel, settings=settings, printed_at=None).confirmed
    ]


def cannot_lock(shipment: Shipment, *, ticked: frozenset[int] = frozenset()) -> str | None:
    """Why the addresses of a month cannot be locked now; None when they can."""
    here = shipment.parcels.here()
    return rules.can_lock(
        month=shipment.month,
        parcels=here.count(),
        unlocked=here.filter(locked_at=None).count(),
        unconfirmed=[p.supporter.name for p in unconfirmed(shipment) if p.id not in ticked],
    )


def cannot_print_addresses(shipment: Shipment, *, parcel: Parcel | None = None) -> str | None:
    """Why papers with addresses cannot be printed; None when they can."""
    parcels = shipment.parcels.here().filter(locked_at=None)
    if parcel is not None:
        parcels = parcels.filter(id=parcel.id)
    names = list(parcels.values_list("supporter__name", flat=True))
    asked = [parcel] if parcel is not None else list(shipment.parcels.select_related("supporter"))
    if names:
        return rules.can_print_address(month=shipment.month, unlocked=names)
    return cannot_print_any(shipment, asked)


def is_address_kept(parcel: Parcel) -> bool:
    """Whether the address that a parcel's papers print is still kept, locked or to be locked."""
    if is_erased(parcel.supporter):
        return False
    return parcel.locked_at is None or bool(parcel.locked_address)


def cannot_print_any(shipment: Shipment, parcels: Sequence[Parcel]) -> str | None:
    """Why none of these can be printed: no address of theirs is kept. None when one is."""
    forgotten = ""
    if parcels and not any(map(is_address_kept, parcels)):
        forgotten = rules.names([parcel.supporter.name for parcel in parcels])
    return rules.can_print_address(month=shipment.month, unlocked=(), forgotten=forgotten)


def forget_before(*, today_date: date, settings: PostSettings) -> QuerySet[Parcel]:
    """The parcels whose printed address is no longer needed to trace them."""
    day = today_date - timedelta(days=settings.keep_days)
    return Parcel.objects.filter(posted_date__lt=day).exclude(locked_address={})


def read_link(token: str, *, now: datetime) -> Link | None:
    """Whose address a link opens; None when it is not ours, too old, or its person erased."""
    days = post_settings().link_days
    try:
        values = signing.loads(token, salt=SALT, max_age=timedelta(days=days))
        supporter_id, shipment_id = (int(value) for value in values)
    except (signing.BadSignature, TypeError, ValueError):
        return None
    person = Supporter.objects.filter(id=supporter_id).first()
    if person is None or is_erased(person):
        return None
    return Link(supporter=person, shipment=Shipment.objects.filter(id=shipment_id).first())


def is_late(link: Link) -> bool:
    """Whether the parcel that a link was made for has its address locked already."""
    if link.shipment is None:
        return False
    mine = link.shipment.parcels.filter(supporter=link.supporter)
    return mine.exclude(locked_at=None).exists()


def current_shipments(today_date: date) -> QuerySet[Shipment]:
    """The months on the packing bench: with a parcel here, or one posted in the last days."""
    lately = today_date - timedelta(days=HELPER_DAYS)
    return Shipment.objects.filter(
        Q(parcels__state__in=["picked", "packed"]) | Q(parcels__posted_date__gte=lately)
    ).distinct()


def is_current(shipment: Shipment, *, today_date: date) -> bool:
    """Whether a month is on the packing bench now."""
    return current_shipments(today_date).filter(id=shipment.id).exists()


def looks(*, supporter: Supporter | None = None) -> QuerySet[AddressLook]:
    """Who looked at addresses, the latest first."""
    found = AddressLook.objects.select_related("by", "supporter", "parcel__shipment")
    return found if supporter is None else found.filter(supporter=supporter)
