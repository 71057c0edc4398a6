"""Who supports the studio, where do their parcels go, and how are they written to a file?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Count, QuerySet

from studio.parcels import address, roll, roll_row, rules
from studio.parcels.models import Parcel, ParcelPiece, Supporter, Tier


@dataclass(frozen=True, kw_only=True, slots=True)
class HadPiece:
    """A pot that somebody was sent or is to be sent, and in which month."""

    month: str
    piece: Any
    line_name: str
    state: str


def supporters() -> QuerySet[Supporter]:
    """Every supporter with tier and count of paid months, by number."""
    return (
        Supporter.objects.select_related("tier")
        .annotate(months=Count("payments"))
        .order_by("number")
    )


def tiers() -> QuerySet[Tier]:
    """Every tier with how many are in it."""
    return Tier.objects.annotate(people=Count("supporters"))


def not_paid(month: int) -> list[Supporter]:
    """The active supporters who had joined by then and are not marked paid for that month."""
    people = Supporter.objects.filter(paused=False, joined_month__lte=month)
    return list(people.exclude(payments__month=month).order_by("number"))


def countries_used() -> list[tuple[str, str]]:
    """The countries that supporters live in: (code, name), by name."""
    codes = Supporter.objects.order_by().values_list("country_code", flat=True).distinct()
    return sorted(((code, address.country_name(code)) for code in codes), key=lambda row: row[1])


def address_lines(supporter: Supporter) -> tuple[str, ...]:
    """The lines of a supporter's address in its country's order, name and country with them."""
    fields = {field: getattr(supporter, field) for field in address.FIELDS}
    return address.address_lines(
        name=supporter.name, country_code=supporter.country_code, fields=fields
    )


def had_pieces(supporter: Supporter) -> list[HadPiece]:
    """What somebody was sent so far, the latest first."""
    rows = ParcelPiece.objects.filter(supporter=supporter).select_related(
        "parcel__shipment", "piece__form", "piece__photo", "line__form", "line__coats",
        "line__clay_lot",
    )  # fmt: skip
    return [
        HadPiece(
            month=rules.month_name(row.parcel.shipment.month),
            piece=row.piece,
            line_name=str(row.line),
            state=row.parcel.get_state_display(),
        )
        for row in rows.order_by("-parcel__shipment__month", "id")
    ]


def erased_name(supporter: Supporter) -> str:
    """What a supporter is called once it was erased who they are."""
    return f"supporter {supporter.number}"


def is_erased(supporter: Supporter) -> bool:
    """Was it erased who this is?"""
    kept = (supporter.email, supporter.street_address, supporter.city, supporter.postal_code)
    return supporter.name == erased_name(supporter) and not any(kept)


def cannot_erase(supporter: Supporter) -> str | None:
    """Why it cannot be erased who a supporter is; None when it can."""
    waiting = supporter.parcels.exclude(state=Parcel.State.POSTED).select_related("shipment")
    parcel = waiting.order_by("shipment__month").first()
    return rules.can_erase(
        name=supporter.name,
        erased=is_erased(supporter),
        state=parcel.state if parcel else "",
        month=parcel.shipment.month if parcel else 0,
    )


def as_roll() -> str:
    """All supporters as a file that can be read in again; who was erased is left out."""
    people = supporters().prefetch_related("please_no", "payments")
    return roll.write_roll(_cells(person) for person in people if not is_erased(person))


def _cells(person: Supporter) -> dict[str, str]:
    confirmed = person.address_confirmed_date
    return {
        "number": str(person.number),
        "name": person.name,
        "email": person.email,
        "tier": person.tier.name,
        "joined_month": rules.month_text(person.joined_month),
        "paused": _yes_no(person.paused),
        "country": person.country_code,
        **{field: getattr(person, field) for field in address.FIELDS},
        "address_confirmed_date": confirmed.isoformat() if confirmed else "",
        "gift_from": person.gift_from if person.is_gift else "",
        "takes_seconds": _yes_no(person.takes_seconds),
        "packing_note": person.packing_note,
        "please_no": "; ".join(form.name for form in person.please_no.all()),
        "paid_months": roll_row.write_months(row.month for row in person.payments.all()),
    }


def _yes_no(value: bool) -> str:
    return "yes" if value else "no"
