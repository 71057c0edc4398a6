"""What was seen of a firing, the test book, and what one kWh costs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.drawing.photos import MAX_BYTES, BadPhoto, keep_photo
from studio.firings import rules, selectors, services
from studio.firings.filters import BookFilter
from studio.firings.forms.results import FuelPriceForm, ResultForm, TariffForm
from studio.firings.models import Firing, FuelPrice
from studio.firings.services import Kept
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before
from studio.web.refusal import Refusal
from studio.web.said import say_done


def results_of(firing: Firing) -> dict[str, Any]:
    """What the page of an opened firing shows of its results."""
    meter = ""
    if firing.meter_before_wh is not None and firing.meter_after_wh is not None:
        meter = f"meter {firing.meter_before_wh / 1000:g} to {firing.meter_after_wh / 1000:g}"
    return {
        "results": selectors.results(firing),
        "on_trial": selectors.on_trial(firing),
        "shown": selectors.results_of_load(firing),
        "to_grade": selectors.to_grade(firing),
        "seen_faults": selectors.faults_of(firing),
        "meter_words": meter,
        "fuel_unit": dict(FuelPrice.Unit.choices).get(firing.fuel_unit, ""),
    }


@require_http_methods(["GET", "POST"])
def add(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Add photographs and words to what came out of a firing."""
    if first := answered_before(request):
        return first
    firing = get_object_or_404(Firing.objects.select_related("kiln", "schedule"), pk=firing_id)
    form = ResultForm(
        request.POST or None, request.FILES or None, kin=selectors.kin_of(firing),
        initial={"of": request.GET.get("of", "")},
    )  # fmt: skip
    refusal = rules.can_show(state=firing.state, photos=1, words="", in_load=True)
    if request.method == "POST" and not refusal and form.is_valid():
        try:
            kept = _kept(form.cleaned_data["photos"])
            return acting_once(request, lambda: _add(request, firing, form, kept))
        except (BadPhoto, Refusal) as bad:
            form.add_error("photos" if isinstance(bad, BadPhoto) else None, str(bad))
    context = {"firing": firing, "form": form, "refusal": refusal}
    return render(request, "firings/result_add.html", context, status=422 if form.errors else 200)


def _kept(files: list[Any]) -> list[Kept]:
    """The pictures on the disk, before the database is asked for its one pen."""
    if len(files) > rules.MOST_PHOTOS:
        raise Refusal(rules.can_show(state="opened", photos=len(files), words="", in_load=True))
    kept = []
    for file in files:
        try:
            photo = keep_photo(data=file.read(MAX_BYTES + 1), folder=Path(settings.MEDIA_ROOT))
        except BadPhoto as bad:
            raise BadPhoto(f"{file.name}: {bad}") from bad
        kept.append(Kept(name=photo.name, width_px=photo.width_px, height_px=photo.height_px))
    return kept


def _add(request: HtmxRequest, firing: Firing, form: ResultForm, kept: list[Kept]) -> str:
    change = services.add_results(
        firing=firing,
        photos=kept,
        words=form.cleaned_data["words"].strip(),
        place=form.place,
        by=request.user,
        at=timezone.now(),
    )
    say_done(request, change)
    return redirect("firings:firing", firing.pk).url


@require_GET
def book(request: HtmxRequest) -> HttpResponse:
    """The test book: results as tiles, found by clay, glaze, schedule and kiln."""
    asked = BookFilter(request.GET or None, queryset=selectors.book())
    page = Paginator(asked.shown, 24).get_page(request.GET.get("page"))
    query = request.GET.copy()
    query.pop("page", None)
    context = {
        "form": asked.form, "page": page, "tiles": selectors.tiles(page),
        "is_asked": any(query.values()), "query": query.urlencode(),
    }  # fmt: skip
    return render(request, "firings/book.html", context)


@require_http_methods(["GET", "POST"])
@acts_once
def tariff(request: HtmxRequest) -> HttpResponse:
    """Say what one kWh costs."""
    now = selectors.tariff()
    form = TariffForm(
        request.POST or None, initial={"price": now.price_hundredths / 100 if now else None}
    )
    change = acted(
        request,
        form,
        lambda: services.set_tariff(
            price_hundredths=form.price_hundredths, by=request.user, at=timezone.now()
        ),
    )
    if change is not None:
        return redirect("firings:kilns")
    context = {"form": form, "prices": FuelPrice.objects.order_by("fuel")}
    return render(request, "firings/tariff.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@acts_once
def fuel_price(request: HtmxRequest, fuel: str) -> HttpResponse:
    """Say in which unit gas or wood is bought and what one costs."""
    if fuel not in ("gas", "wood"):
        raise Http404("gas and wood have a price by the unit")
    now = FuelPrice.objects.filter(fuel=fuel).first()
    first = {"unit": now.unit, "price": now.price_hundredths / 100} if now else None
    form = FuelPriceForm(request.POST or None, initial=first)
    if request.method == "POST" and form.is_valid():
        try:
            change = services.set_fuel_price(
                fuel=fuel, unit=form.cleaned_data["unit"],
                price_hundredths=form.price_hundredths, by=request.user, at=timezone.now(),
            )  # fmt: skip
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("firings:tariff")
    context = {"form": form, "fuel": fuel}
    return render(request, "firings/fuel_price.html", context, status=422 if form.errors else 200)
