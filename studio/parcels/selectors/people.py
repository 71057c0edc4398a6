"""Who supports the studio, where do their parcels go, and how are they written to a file?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from studio.parcels import address, roll, rules
from studio.parcels.models import ParcelPiece, Payment, Supporter, Tier


@dataclass(frozen=True, kw_only=True, slots=True)
class HadPiece:
    """A pot that somebody was sent or is to be sent, and in which month."""

    month: str
    piece: Any
    line_name: str
    state: str


def supporters() -> QuerySet[Supporter]:
    """Every supporter with tier, count of paid months, pause and leaving as of now, by number."""
    this_month = rules.month_of(timezone.localdate())
    paid = Count("payments", filter=Q(payments__state="paid"))
    return (
        Supporter.objects.select_related("tier")
        .seen_in(this_month)
        .annotate(months=paid)
        .order_by("number")
    )


def tiers() -> QuerySet[Tier]:
    """Every tier with how many are in it."""
    return Tier.objects.annotate(people=Count("supporters"))


def not_paid(month: int) -> list[Supporter]:
    """The active supporters of a month who have not paid it.

    Who had it refunded is left out: that is marked on the page of the one supporter.
    """
    mine = Payment.objects.filter(supporter=OuterRef("pk"), month=month)
    people = Supporter.objects.active_in(month)
    done = mine.filter(state__in=["paid", "refunded"])
    return list(people.filter(~Exists(done)).order_by("number"))


def failed_in(month: int) -> set[int]:
    """The ids of those whose payment of a month never came in."""
    rows = Payment.objects.filter(month=month, state=Payment.State.FAILED)
    return set(rows.values_list("supporter_id", flat=True))


def pauses(supporter: Supporter) -> list[rules.Span]:
    """The pauses of a supporter, the first first."""
    return [(row.from_month, row.to_month) for row in supporter.pauses.order_by("from_month")]


def months_of(supporter: Supporter) -> dict[str, list[int]]:
    """A supporter's months by what became of the payment."""
    found: dict[str, list[int]] = {state: [] for state in Payment.State.values}
    for month, state in supporter.payments.order_by("month").values_list("month", "state"):
        found[state].append(month)
    return found


def household_of(supporter: Supporter) -> list[Supporter]:
    """The others of somebody's household, by number."""
    if not supporter.household:
        return []
    others = Supporter.objects.filter(household__iexact=supporter.household)
    return list(others.exclude(id=supporter.id).order_by("number"))


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
    waiting = supporter.parcels.here().select_related("shipment")
    parcel = waiting.order_by("shipment__month").first()
    return rules.can_erase(
        name=supporter.name,
        erased=is_erased(supporter),
        state=parcel.state if parcel else "",
        month=parcel.shipment.month if parcel else 0,
    )


def as_roll() -> Iterator[str]:
    """All supporters as a file that can be read in again; who was erased is left out."""
    people = supporters().prefetch_related("please_no", "no_glazes", "payments", "pauses")
    found = people.iterator(chunk_size=500)
    return roll.write_roll(_cells(person) for person in found if not is_erased(person))


def _cells(person: Supporter) -> dict[str, str]:
    confirmed = person.address_confirmed_date
    return {
        "number": str(person.number),
        "name": person.name,
        "email": person.email,
        "tier": person.tier.name,
        "joined_month": rules.month_text(person.joined_month),
        "left_month": rules.month_text(person.left_month) if person.left_month else "",
        "paused": rules.write_spans((row.from_month, row.to_month) for row in person.pauses.all()),
        "country": person.country_code,
        **{field: getattr(person, field) for field in address.FIELDS},
        "address_confirmed_date": confirmed.isoformat() if confirmed else "",
        "gift_from": person.gift_from if person.is_gift else "",
        "takes_seconds": _yes_no(person.takes_seconds),
        "packing_note": person.packing_note,
        "please_no": "; ".join(form.name for form in person.please_no.all()),
        "no_glazes": "; ".join(glaze.name for glaze in person.no_glazes.all()),
        "household": person.household,
        **{
            f"{state}_months": rules.write_months(
                row.month for row in person.payments.all() if row.state == state
            )
            for state in Payment.State.values
        },
    }


def _yes_no(value: bool) -> str:
    return "yes" if value else "no"
