"""Draw a load, look at it beside the kiln, and say of a place what became of it."""

from __future__ import annotations

from typing import TypeVar

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.firings import rules, selectors, services
from studio.firings.forms import DrawForm, InsteadForm, MoveForm, PinForm, SeenForm
from studio.firings.models import Firing, Place, Sheet, Spot
from studio.firings.services import ReadySheet
from studio.wares.models import Board
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.said import say_caution, say_done

F = TypeVar("F", bound=SeenForm)


def _firing(firing_id: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln", "schedule"), pk=firing_id)


def _spot(firing_id: int, spot_id: int) -> Spot:
    """A place; when the load was drawn again since, a refusal that says so."""
    parts = ("sheet__firing__kiln", "sheet__firing__schedule", "form", "clay_lot", "coats", "place")
    spot = Spot.objects.select_related(*parts).filter(sheet__firing_id=firing_id, pk=spot_id)
    found = spot.first()
    if found is None:
        get_object_or_404(Firing, pk=firing_id)
        raise Refusal(rules.DRAWN_SINCE)
    return found


def _valid(form: F) -> F:
    if not form.is_valid():
        raise Refusal(form.sentence)
    return form


@require_http_methods(["GET", "POST"])
def drawn(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Show the drawn load of a firing; draw it, or draw it again."""
    if first := answered_before(request):
        return first
    found = _firing(firing_id)
    sheet = selectors.sheet_of_firing(found)
    form = DrawForm(request.POST or None, kind=found.schedule.kind, initial=_first_values(sheet))
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            # Packing takes about a second and holds nothing up meanwhile.
            ready = services.prepare_sheet(
                firing=found,
                runny=typed.get("runny", "low"),
                handles=typed.get("handles", "clear"),
                fill_up=typed["fill_up"],
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            return acting_once(request, lambda: _kept(request, found, ready, typed["seen"]))
    context = {
        "firing": found,
        "form": form,
        "caution": rules.LOADING,
        **selectors.load_page(found, sheet),
    }
    return render(request, "firings/drawn.html", context, status=422 if form.errors else 200)


def _first_values(sheet: Sheet | None) -> dict[str, object]:
    if sheet is None:
        return {"seen": 0}
    return {"seen": sheet.seq, "runny": sheet.runny, "handles": sheet.handles}


def _kept(request: HtmxRequest, firing: Firing, ready: ReadySheet, seen: int) -> str:
    change = services.keep_sheet(
        firing=firing, ready=ready, seen=seen, by=request.user, at=timezone.now()
    )
    say_done(request, change)
    return reverse("firings:drawn", args=[firing.pk])


@require_GET
def level(request: HtmxRequest, firing_id: int, number: int) -> HttpResponse:
    """One level, large enough for a finger, with each of its places to press."""
    found = _firing(firing_id)
    page = selectors.level_page(found, number)
    if page is None:
        return redirect("firings:drawn", firing_id)
    return render(request, "firings/level.html", {"firing": found, **page})


@require_GET
def places(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Go to the place of a number."""
    number = request.GET.get("number", "")
    spot = None
    if number.isdecimal() and len(number) < 6:
        spot = Spot.objects.filter(sheet__firing_id=firing_id, number=int(number)).first()
    if spot is None:
        say_caution(request, rules.no_such_place(number=number))
        return redirect("firings:drawn", firing_id)
    return redirect("firings:place", firing_id, spot.pk)


@require_GET
def place(request: HtmxRequest, firing_id: int, spot_id: int) -> HttpResponse:
    """One place: what stands there, and what may be said of it."""
    get_object_or_404(Firing, pk=firing_id)
    spot = Spot.objects.filter(sheet__firing_id=firing_id, pk=spot_id).first()
    if spot is None:
        return redirect("firings:drawn", firing_id)
    spot = _spot(firing_id, spot_id)
    context = {"firing": spot.sheet.firing, "spot": spot, **selectors.place_page(spot)}
    return render(request, "firings/place.html", context)


@require_POST
@acts_once
def leave_out(request: HtmxRequest, firing_id: int, spot_id: int) -> HttpResponse:
    """What stood there is out of the load."""
    spot, form = _spot(firing_id, spot_id), _valid(SeenForm(request.POST))
    seen = form.cleaned_data["seen"]
    change = services.leave_out(spot=spot, seen=seen, by=request.user, at=timezone.now())
    return _back(request, firing_id, change)


@require_POST
@acts_once
def move(request: HtmxRequest, firing_id: int, spot_id: int) -> HttpResponse:
    """It stands on another level, or elsewhere on this one."""
    spot, form = _spot(firing_id, spot_id), _valid(MoveForm(request.POST))
    change = services.move(spot=spot, **form.cleaned_data, by=request.user, at=timezone.now())
    return _back(request, firing_id, change)


@require_POST
@acts_once
def move_to(request: HtmxRequest, firing_id: int, spot_id: int, to_id: int) -> HttpResponse:
    """It stands on a free place now."""
    spot, to = _spot(firing_id, spot_id), _spot(firing_id, to_id)
    seen = _valid(SeenForm(request.POST)).cleaned_data["seen"]
    change = services.move_to(spot=spot, seen=seen, to=to, by=request.user, at=timezone.now())
    return _back(request, firing_id, change)


@require_POST
@acts_once
def instead(request: HtmxRequest, firing_id: int, spot_id: int) -> HttpResponse:
    """Another piece stands there."""
    spot, typed = _spot(firing_id, spot_id), _valid(InsteadForm(request.POST)).cleaned_data
    change = services.instead(
        spot=spot,
        seen=typed["seen"],
        place=Place.objects.filter(pk=typed["place"] or 0).first(),
        board=Board.objects.filter(pk=typed["board"] or 0).first(),
        board_seen=typed["board_seen"],
        by=request.user,
        at=timezone.now(),
    )
    return _back(request, firing_id, change)


@require_POST
@acts_once
def pin(request: HtmxRequest, firing_id: int, spot_id: int) -> HttpResponse:
    """It keeps its place when the load is drawn again, or not."""
    spot, typed = _spot(firing_id, spot_id), _valid(PinForm(request.POST)).cleaned_data
    change = services.pin(spot=spot, **typed, by=request.user, at=timezone.now())
    return _back(request, firing_id, change)


def _back(request: HtmxRequest, firing_id: int, change: Change) -> HttpResponse:
    say_done(request, change)
    return redirect("firings:drawn", firing_id)
