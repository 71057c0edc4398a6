"""Parcels: the months, one month from pick to post, one parcel, and the papers."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.parcels import address, papers, rules, selectors, services
from studio.parcels.forms import (
    ChoosePieceForm,
    NoteForm,
    ParcelsForm,
    ShipmentForm,
    SkipForm,
)
from studio.parcels.models import Parcel, Shipment, ShipmentWant
from studio.wares.forms.wanting import WantForm
from studio.wares.models import Piece
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once, refused
from studio.web.refusal import Refusal
from studio.web.roles import helpers_may
from studio.web.said import say_done


@helpers_may
@require_GET
def parcels(request: HtmxRequest) -> HttpResponse:
    """Every month with parcels."""
    rows = [(shipment, rules.month_name(shipment.month)) for shipment in selectors.shipments()]
    return render(request, "parcels/parcels.html", {"rows": rows})


@require_http_methods(["GET", "POST"])
@acts_once
def set_shipment(request: HtmxRequest, shipment_id: int | None = None) -> HttpResponse:
    """Set a month's parcels, or change them."""
    held = get_object_or_404(Shipment, id=shipment_id) if shipment_id is not None else None
    form = ShipmentForm(request.POST or None, shipment=held)
    if request.method == "POST" and form.is_valid():
        try:
            change = services.set_shipment(**form.cleaned_data, by=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("parcels:shipment", change.subject_id)
    context = {
        "form": form,
        "shipment": held,
        "month_name": rules.month_name(held.month) if held else "",
    }
    status = 422 if form.errors else 200
    return render(request, "parcels/shipment_form.html", context, status=status)


@require_GET
def shipment(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """One month: wants, turns, parcels, skips and papers."""
    held = get_object_or_404(Shipment, id=shipment_id)
    return render(request, "parcels/shipment.html", _shipment(held))


@require_POST
@acts_once
def want(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Want so many of a line for a month."""
    held = get_object_or_404(Shipment, id=shipment_id)
    form = WantForm(request.POST)
    if form.is_valid():
        try:
            change = services.set_want(
                shipment=held, **form.cleaned_data, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("parcels:shipment", held.id)
    context = _shipment(held, want_form=form)
    return render(request, "parcels/shipment.html", context, status=422)


@require_POST
@acts_once
def drop_want(request: HtmxRequest, want_id: int) -> HttpResponse:
    """Want a line no longer."""
    found = get_object_or_404(ShipmentWant, id=want_id)
    shipment_id = found.shipment_id
    say_done(request, services.drop_want(want=found, by=request.user, at=timezone.now()))
    return redirect("parcels:shipment", shipment_id)


@require_POST
@acts_once
def pick(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Fill the month's parcels in fair turn."""
    held = get_object_or_404(Shipment, id=shipment_id)
    say_done(request, services.pick_parcels(shipment=held, by=request.user, at=timezone.now()))
    return redirect("parcels:shipment", held.id)


@require_POST
@acts_once
def skip(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Pass over a turn, with the reason."""
    held = get_object_or_404(Shipment, id=shipment_id)
    form = SkipForm(request.POST)
    if form.is_valid():
        try:
            change = services.skip(
                shipment=held, **form.cleaned_data, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("parcels:shipment", held.id)
    context = _shipment(held, skip_form=form)
    return render(request, "parcels/shipment.html", context, status=422)


@require_POST
@acts_once
def mark(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Mark parcels packed or posted."""
    held = get_object_or_404(Shipment, id=shipment_id)
    form = ParcelsForm(request.POST, shipment=held)
    if not form.is_valid():
        raise Refusal(form.sentence())
    chosen = list(Parcel.objects.filter(id__in=form.cleaned_data["parcel"]))
    who: dict[str, Any] = {"by": request.user, "at": timezone.now()}
    if form.cleaned_data["do"] == "pack":
        change = services.mark_packed(parcels=chosen, box=form.cleaned_data["box"], **who)
    else:
        change = services.mark_posted(parcels=chosen, **who)
    say_done(request, change)
    return redirect("parcels:shipment", held.id)


@require_GET
def parcel(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """One parcel: what is in it, what could be, and its note."""
    return render(request, "parcels/parcel.html", _parcel(request, _held(parcel_id)))


@require_POST
@acts_once
def choose(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Put a piece into a parcel, instead of another or beside what is there."""
    held = _held(parcel_id)
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
    held = _held(parcel_id)
    form = NoteForm(request.POST)
    if form.is_valid():
        change = services.set_note(
            parcel=held, note=form.cleaned_data["note"], by=request.user, at=timezone.now()
        )
        say_done(request, change)
        return redirect("parcels:parcel", held.id)
    context = _parcel(request, held) | {"form": form}
    return render(request, "parcels/parcel.html", context, status=422)


@require_GET
def slips(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """The packing slips of a month as a PDF. Marks nothing."""
    held = get_object_or_404(Shipment, id=shipment_id)
    try:
        return _pdf(papers.slips_paper(held), f"slips-{held}.pdf")
    except Refusal as refusal:
        return refused(request, str(refusal), status=409)


@require_GET
def packers_list(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """The packer's list of a month as a PDF. Marks nothing."""
    held = get_object_or_404(Shipment, id=shipment_id)
    try:
        return _pdf(papers.packers_paper(held), f"packers-list-{held}.pdf")
    except Refusal as refusal:
        return refused(request, str(refusal), status=409)


def _pdf(data: bytes, name: str) -> HttpResponse:
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Cache-Control"] = "no-store"
    return response


def _shipment(
    held: Shipment, *, want_form: WantForm | None = None, skip_form: SkipForm | None = None
) -> dict[str, Any]:
    now = timezone.now()
    rows = selectors.parcel_rows(held)
    return {
        "shipment": held,
        "month_name": rules.month_name(held.month),
        "wants": selectors.want_rows(held),
        "cannot_want": selectors.cannot_want(shipment=held, count=1, now=now),
        "want_form": want_form or WantForm(),
        "rows": rows,
        "left": max(0, held.parcel_count - len(rows)),
        "cannot_pick": selectors.cannot_pick(held),
        "cannot_print": selectors.cannot_print(held),
        "skips": held.skips.select_related("supporter"),
        "skip_form": skip_form or SkipForm(),
        "countries": dict(address.countries()),
    }


def _held(parcel_id: int) -> Parcel:
    return get_object_or_404(
        Parcel.objects.select_related("supporter__tier", "shipment"), id=parcel_id
    )


def _parcel(request: HtmxRequest, held: Parcel) -> dict[str, Any]:
    asked = request.GET.get("swap", "")
    lines = list(held.lines.select_related("piece__form", "piece__photo", "line__coats"))
    swapping = next((line for line in lines if str(line.id) == asked), None)
    choosing = swapping is not None or not lines or "add" in request.GET
    person = held.supporter
    return {
        "parcel": held,
        "person": person,
        "country": address.country_name(person.country_code),
        "month_name": rules.month_name(held.shipment.month),
        "lines": lines,
        "swapping": swapping,
        "choosing": choosing and held.state == Parcel.State.PICKED,
        "offers": selectors.offers(parcel=held, instead_of=swapping) if choosing else [],
        "form": NoteForm(initial={"note": held.note}),
        "please_no": person.please_no.all(),
    }
