"""The packing bench: mark parcels, weigh them, write their numbers, lock their addresses.

What a helper may open stands here, in ``posting`` and in ``papers``; everything else of this room
is closed to them by ``web.roles``. A month that is no longer on the bench is closed to them too.
"""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from studio.parcels import selectors, services
from studio.parcels.forms import (
    BrokenForm,
    ChoosePieceForm,
    LockForm,
    NoteForm,
    ParcelsForm,
    TrackingForm,
    WeighForm,
)
from studio.parcels.models import Parcel, Shipment
from studio.parcels.views.bench_pages import (
    declared_form,
    held_parcel,
    parcel_page,
    refuse_past,
)
from studio.parcels.views.posted import checked, done, saved
from studio.parcels.views.posting import address_of
from studio.wares.models import Piece
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.models import Change
from studio.web.roles import helpers_may


@helpers_may
@require_POST
@acts_once
def mark(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Mark parcels packed, posted or arrived."""
    held = get_object_or_404(Shipment, id=shipment_id)
    refuse_past(request.user, held)
    said = checked(ParcelsForm(request.POST, shipment=held))
    chosen = list(Parcel.objects.filter(id__in=said["parcel"]))
    if said["do"] == "post" and selectors.moved(chosen):
        return redirect(address_of(held, chosen))

    def act(who: dict[str, Any]) -> Change:
        match said["do"]:
            case "pack":
                return services.mark_packed(parcels=chosen, box=said["box"], **who)
            case "post":
                return services.mark_posted(parcels=chosen, **who)
            case _:
                return services.mark_arrived(parcels=chosen, **who)

    return done(request, act, to=("parcels:shipment", held.id))


@helpers_may
@require_GET
def parcel(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """One parcel: what is in it, where it goes, what it weighs and declares, and its note."""
    held = held_parcel(request, parcel_id)
    if "address" in request.GET:
        services.keep_looks(page="parcel", by=request.user, at=timezone.now(), parcels=[held])
    return parcel_page(request, held)


@helpers_may
@require_POST
@acts_once
def weigh(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Keep what a parcel weighs, and its box."""
    held = held_parcel(request, parcel_id)
    form = WeighForm(request.POST)
    return saved(
        request,
        form,
        lambda who: services.weigh(parcel=held, **form.cleaned_data, **who),
        to=("parcels:parcel", held.id),
        again=lambda: parcel_page(request, held, weigh_form=form),
    )


@helpers_may
@require_POST
@acts_once
def tracking(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Keep a parcel's tracking number."""
    held = held_parcel(request, parcel_id)
    form = TrackingForm(request.POST)
    return saved(
        request,
        form,
        lambda who: services.set_tracking(parcel=held, **form.cleaned_data, **who),
        to=("parcels:parcel", held.id),
        again=lambda: parcel_page(request, held, tracking_form=form),
        field="number",
    )


@require_POST
@acts_once
def lock(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Lock the addresses of a month for printing."""
    held = get_object_or_404(Shipment, id=shipment_id)
    said = checked(LockForm(request.POST, ids=list(held.parcels.values_list("id", flat=True))))
    return done(
        request,
        lambda who: services.lock_addresses(shipment=held, ticked=said["ticked"], **who),
        to=("parcels:shipment", held.id),
    )


@require_POST
@acts_once
def take(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Take the address of today in place of the one that was locked."""
    held = held_parcel(request, parcel_id)
    return done(
        request,
        lambda who: services.take_address(parcel=held, **who),
        to=("parcels:parcel", held.id),
    )


@require_POST
@acts_once
def choose(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Put a piece into a parcel, instead of another or beside what is there."""
    held = held_parcel(request, parcel_id)
    said = checked(ChoosePieceForm(request.POST))
    piece = get_object_or_404(Piece, id=said["piece"])
    leaving_id = said["instead_of"]
    leaving = get_object_or_404(held.lines.all(), id=leaving_id) if leaving_id else None
    return done(
        request,
        lambda who: services.choose_piece(parcel=held, piece=piece, instead_of=leaving, **who),
        to=("parcels:parcel", held.id),
    )


@require_POST
@acts_once
def note(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Write the note on a slip."""
    held = held_parcel(request, parcel_id)
    form = NoteForm(request.POST)
    return saved(
        request,
        form,
        lambda who: services.set_note(parcel=held, note=form.cleaned_data["note"], **who),
        to=("parcels:parcel", held.id),
        again=lambda: parcel_page(request, held, form=form),
    )


@require_POST
@acts_once
def declare(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Say what a parcel declares to customs."""
    held = held_parcel(request, parcel_id)
    form = declared_form(held, request.POST)
    return saved(
        request,
        form,
        lambda who: services.set_declared(
            parcel=held, kind=form.cleaned_data["kind"], values_pence=form.values_pence(), **who
        ),
        to=("parcels:parcel", held.id),
        again=lambda: parcel_page(request, held, declared_form=form),
    )


@require_POST
@acts_once
def broken(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Say that a parcel arrived broken."""
    held = held_parcel(request, parcel_id)
    form = BrokenForm(request.POST)
    if not form.is_valid():
        return parcel_page(request, held, broken_form=form)
    return done(
        request,
        lambda who: services.report_broken(parcel=held, note=form.cleaned_data["note"], **who),
        to=("parcels:parcel", held.id),
    )


@require_POST
@acts_once
def replace(request: HtmxRequest, parcel_id: int) -> HttpResponse:
    """Send another pot in place of a broken one."""
    held = held_parcel(request, parcel_id)
    piece = get_object_or_404(Piece, id=checked(ChoosePieceForm(request.POST))["piece"])
    return done(
        request,
        lambda who: services.replace_broken(parcel=held, piece=piece, **who),
        to=lambda change: ("parcels:parcel", change.subject_id),
    )


@require_POST
@acts_once
def spare(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Keep a free pot back for what may break."""
    held = get_object_or_404(Shipment, id=shipment_id)
    piece = get_object_or_404(Piece, id=checked(ChoosePieceForm(request.POST))["piece"])
    return done(
        request,
        lambda who: services.keep_spare(shipment=held, piece=piece, **who),
        to=("parcels:shipment", held.id),
    )
