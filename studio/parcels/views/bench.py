"""The packing bench: mark parcels, weigh them, write their numbers, lock their addresses.

What a helper may open stands here and in ``papers``; everything else of this room is closed to
them by ``web.roles``. A month that is no longer on the bench is closed to them too.
"""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import AnonymousUser, User
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from studio.craft.post import read_tracking
from studio.parcels import address, rules, selectors, services
from studio.parcels.forms import (
    BrokenForm,
    ChoosePieceForm,
    DeclaredForm,
    LabelsForm,
    LockForm,
    NoteForm,
    ParcelsForm,
    TrackingForm,
    WeighForm,
)
from studio.parcels.models import Parcel, Shipment
from studio.wares.models import Piece
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.roles import helpers_may, is_helper
from studio.web.said import say_done


@helpers_may
@require_POST
@acts_once
def mark(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Mark parcels packed, posted or arrived."""
    held = get_object_or_404(Shipment, id=shipment_id)
    refuse_past(request.user, held)
    form = ParcelsForm(request.POST, shipment=held)
    if not form.is_valid():
        raise Refusal(form.sentence())
    chosen = list(Parcel.objects.filter(id__in=form.cleaned_data["parcel"]))
    who: dict[str, Any] = {"by": request.user, "at": timezone.now()}
    match form.cleaned_data["do"]:
        case "pack":
            change = services.mark_packed(parcels=chosen, box=form.cleaned_data["box"], **who)
        case "post":
            change = services.mark_posted(parcels=chosen, **who)
        case _:
            change = services.mark_arrived(parcels=chosen, **who)
    say_done(request, change)
    return redirect("parcels:shipment", held.id)


@helpers_may
@require_GET
def parcel(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """One parcel: what is in it, where it goes, what it weighs and declares, and its note."""
    held = held_parcel(request, parcel_id)
    if "address" in request.GET:
        services.keep_looks(page="parcel", by=request.user, at=timezone.now(), parcels=[held])
    return _page(request, held)


@helpers_may
@require_POST
@acts_once
def weigh(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Keep what a parcel weighs, and its box."""
    held = held_parcel(request, parcel_id)
    form = WeighForm(request.POST)
    if form.is_valid():
        try:
            change = services.weigh(
                parcel=held, **form.cleaned_data, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("parcels:parcel", held.id)
    return _page(request, held, weigh_form=form)


@helpers_may
@require_POST
@acts_once
def tracking(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Keep a parcel's tracking number."""
    held = held_parcel(request, parcel_id)
    form = TrackingForm(request.POST)
    if form.is_valid():
        try:
            change = services.set_tracking(
                parcel=held, **form.cleaned_data, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error("number", str(refusal))
        else:
            say_done(request, change)
            return redirect("parcels:parcel", held.id)
    return _page(request, held, tracking_form=form)


@require_POST
@acts_once
def lock(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Lock the addresses of a month for printing."""
    held = get_object_or_404(Shipment, id=shipment_id)
    form = LockForm(request.POST, ids=list(held.parcels.values_list("id", flat=True)))
    if not form.is_valid():
        raise Refusal(" ".join(str(e) for errors in form.errors.values() for e in errors))
    change = services.lock_addresses(
        shipment=held, ticked=form.cleaned_data["ticked"], by=request.user, at=timezone.now()
    )
    say_done(request, change)
    return redirect("parcels:shipment", held.id)


@require_POST
@acts_once
def take(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Take the address of today in place of the one that was locked."""
    held = held_parcel(request, parcel_id)
    say_done(request, services.take_address(parcel=held, by=request.user, at=timezone.now()))
    return redirect("parcels:parcel", held.id)


@require_POST
@acts_once
def choose(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Put a piece into a parcel, instead of another or beside what is there."""
    held = held_parcel(request, parcel_id)
    form = ChoosePieceForm(request.POST)
    if not form.is_valid():
        raise Refusal(" ".join(str(e) for errors in form.errors.values() for e in errors))
    leaving_id = form.cleaned_data["instead_of"]
    change = services.choose_piece(
        parcel=held,
        piece=get_object_or_404(Piece, id=form.cleaned_data["piece"]),
        instead_of=get_object_or_404(held.lines.all(), id=leaving_id) if leaving_id else None,
        by=request.user,
        at=timezone.now(),
    )
    say_done(request, change)
    return redirect("parcels:parcel", held.id)


@require_POST
@acts_once
def note(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Write the note on a slip."""
    held = held_parcel(request, parcel_id)
    form = NoteForm(request.POST)
    if form.is_valid():
        change = services.set_note(
            parcel=held, note=form.cleaned_data["note"], by=request.user, at=timezone.now()
        )
        say_done(request, change)
        return redirect("parcels:parcel", held.id)
    return _page(request, held, form=form)


@require_POST
@acts_once
def declare(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Say what a parcel declares to customs."""
    held = held_parcel(request, parcel_id)
    form = _declared_form(held, request.POST)
    if form.is_valid():
        try:
            change = services.set_declared(
                parcel=held,
                kind=form.cleaned_data["kind"],
                values_pence=form.values_pence(),
                by=request.user,
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("parcels:parcel", held.id)
    return _page(request, held, declared_form=form)


@require_POST
@acts_once
def broken(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Say that a parcel arrived broken."""
    held = held_parcel(request, parcel_id)
    form = BrokenForm(request.POST)
    if form.is_valid():
        change = services.report_broken(
            parcel=held, note=form.cleaned_data["note"], by=request.user, at=timezone.now()
        )
        say_done(request, change)
        return redirect("parcels:parcel", held.id)
    return _page(request, held, broken_form=form)


@require_POST
@acts_once
def replace(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Send another pot in place of a broken one."""
    held = held_parcel(request, parcel_id)
    form = ChoosePieceForm(request.POST)
    if not form.is_valid():
        raise Refusal(" ".join(str(e) for errors in form.errors.values() for e in errors))
    piece = get_object_or_404(Piece, id=form.cleaned_data["piece"])
    change = services.replace_broken(parcel=held, piece=piece, by=request.user, at=timezone.now())
    say_done(request, change)
    return redirect("parcels:parcel", change.subject_id)


@require_POST
@acts_once
def spare(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Keep a free pot back for what may break."""
    held = get_object_or_404(Shipment, id=shipment_id)
    form = ChoosePieceForm(request.POST)
    if not form.is_valid():
        raise Refusal(" ".join(str(e) for errors in form.errors.values() for e in errors))
    piece = get_object_or_404(Piece, id=form.cleaned_data["piece"])
    say_done(
        request,
        services.keep_spare(shipment=held, piece=piece, by=request.user, at=timezone.now()),
    )
    return redirect("parcels:shipment", held.id)


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


def _declared_form(held: Parcel, data: Any = None) -> DeclaredForm:
    rows = held.lines.select_related("piece__form")
    usual = selectors.post_settings().item_kind
    return DeclaredForm(data, rows=rows, usual=usual, kind=held.item_kind)


def _page(request: HtmxRequest, held: Parcel, **forms: Any) -> HttpResponse:
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
    rows = selectors.bench_rows(held.shipment, today_date=today)
    row = next(row for row in rows if row.parcel.id == held.id)
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
        "declared_form": _declared_form(held),
        "broken_form": BrokenForm(),
        "cannot_break": rules.can_break(name=held.supporter.name, state=state, note=""),
        "spares": selectors.spare_offers(held)
        if state == Parcel.State.BROKEN and not hasattr(held, "replaced_by")
        else [],
    }
