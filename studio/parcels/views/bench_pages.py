"""What does the packing bench show: a month's parcels, and one of them?

A month that is no longer on the bench is closed to a helper, and what a helper does not need of a
page is not put on it.
"""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import AnonymousUser, User
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from studio.craft.post import read_tracking
from studio.parcels import address, rules, selectors
from studio.parcels.forms import (
    BrokenForm,
    DeclaredForm,
    LabelsForm,
    NoteForm,
    TrackingForm,
    WeighForm,
)
from studio.parcels.models import Parcel, Shipment
from studio.web.htmx import HtmxRequest
from studio.web.roles import is_helper


def refuse_past(user: User | AnonymousUser, held: Shipment) -> None:
    """Close a month to a helper once it is off the bench. Raises PermissionDenied."""
    if is_helper(user) and not selectors.is_current(held, today_date=timezone.localdate()):
        raise PermissionDenied("This month is off the bench.")


def held_parcel(request: HtmxRequest, parcel_id: int) -> Parcel:
    """The parcel of an address, if this sign-in may see it."""
    found = Parcel.objects.select_related("supporter__tier", "shipment", "replaces", "replaced_by")
    held = get_object_or_404(found, id=parcel_id)
    refuse_past(request.user, held.shipment)
    return held


def bench_context(held: Shipment) -> dict[str, Any]:
    """What the bench of a month shows."""
    rows = selectors.bench_rows(held, today_date=timezone.localdate())
    cannot_print = selectors.cannot_print(held)
    return {
        "shipment": held,
        "month_name": rules.month_name(held.month),
        "rows": rows,
        "boxes": selectors.box_types(),
        "waiting": [row for row in rows if not row.address.locked and row.parcel.state in HERE],
        "cannot_print": cannot_print,
        "cannot_print_addresses": cannot_print or selectors.cannot_print_addresses(held),
        "customs_count": sum(row.customs is not None or bool(row.customs_problem) for row in rows),
        "labels_form": LabelsForm(),
    }


HERE = rules.STATES[:2]


def declared_form(held: Parcel, data: Any = None) -> DeclaredForm:
    """What a parcel declares to customs, as a form."""
    rows = held.lines.select_related("piece__form")
    usual = selectors.post_settings().item_kind
    return DeclaredForm(data, rows=rows, usual=usual, kind=held.item_kind)


def parcel_page(request: HtmxRequest, held: Parcel, **forms: Any) -> HttpResponse:
    """One parcel's page, with a form that was refused in place of a fresh one."""
    helps = is_helper(request.user)
    context = (
        {"show_address": "address" in request.GET}
        | _packing(held)
        | ({} if helps else _keeping(request, held))
        | forms
    )
    status = 422 if any(form.errors for form in forms.values()) else 200
    template = "parcels/parcel_bench.html" if helps else "parcels/parcel.html"
    return render(request, template, context, status=status)


def _packing(held: Parcel) -> dict[str, Any]:
    """What everybody who packs sees of a parcel."""
    today = timezone.localdate()
    (row,) = selectors.bench_rows(held.shipment, today_date=today, parcel=held)
    number = held.tracking
    return {
        "parcel": held,
        "row": row,
        "person": held.supporter,
        "country": address.country_name(held.supporter.country_code),
        "month_name": rules.month_name(held.shipment.month),
        "lines": row.pieces,
        "address": selectors.locked_lines(held),
        "boxes": selectors.box_types(),
        "post": selectors.post_settings(),
        "tracking": read_tracking(number) if number else None,
        "weigh_form": WeighForm(initial={"box": row.facts.box, "weighed_g": held.weighed_g}),
        "tracking_form": TrackingForm(initial={"number": number}),
        "cannot_print": selectors.cannot_print_addresses(held.shipment, parcel=held),
    }


def _keeping(request: HtmxRequest, held: Parcel) -> dict[str, Any]:
    """What the potter sees beside it: swaps, the note, customs and breakage."""
    asked = request.GET.get("swap", "")
    lines = list(held.lines.select_related("piece__form", "piece__photo", "line__coats"))
    swapping = next((line for line in lines if str(line.id) == asked), None)
    choosing = swapping is not None or not lines or "add" in request.GET
    state = held.state
    return {
        "swapping": swapping,
        "choosing": choosing and state == Parcel.State.PICKED,
        "groups": selectors.offer_groups(parcel=held, instead_of=swapping) if choosing else (),
        "form": NoteForm(initial={"note": held.note}),
        "new_address": address.address_lines(
            name=held.supporter.name,
            country_code=held.supporter.country_code,
            fields=selectors.addresses_of(held.supporter),
        ),
        "please_no": held.supporter.please_no.all(),
        "declared_form": declared_form(held),
        "broken_form": BrokenForm(),
        "cannot_break": rules.can_break(name=held.supporter.name, state=state, note=""),
        "spares": selectors.spare_offers(held)
        if state == Parcel.State.BROKEN and not hasattr(held, "replaced_by")
        else [],
    }
