"""To which of two addresses does a parcel go, when it changed after it was locked?"""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from studio.parcels import rules, selectors, services
from studio.parcels.forms import MovedForm
from studio.parcels.models import Parcel, Shipment
from studio.parcels.views.bench_pages import refuse_past
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.roles import helpers_may
from studio.web.said import say_done, say_refused

LOOK_AGAIN = "An address changed at this moment, so nothing was posted. Look at it again."


@helpers_may
@require_http_methods(["GET", "POST"])
@acts_once
def moved(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Show both addresses of each parcel that moved; a POST says which one it goes to."""
    held = get_object_or_404(Shipment, id=shipment_id)
    refuse_past(request.user, held)
    parcels = asked_for(request, held)
    form = MovedForm(request.POST or None, parcels=selectors.moved(parcels))
    if request.method == "POST" and not form.saw_all():
        # Kept looks go with a refused form, so what is new to them is shown by a page of its own.
        say_refused(request, LOOK_AGAIN)
        return redirect(address_of(held, parcels))
    if request.method == "POST" and form.is_valid():
        who: dict[str, Any] = {"by": request.user, "at": timezone.now()}
        for change in services.post_or_take(parcels=parcels, **form.answers(), **who):
            say_done(request, change)
        return redirect("parcels:shipment", held.id)
    if request.method == "GET":
        services.keep_looks(page="parcel", by=request.user, at=timezone.now(), parcels=form.parcels)
    context = {
        "shipment": held,
        "month_name": rules.month_name(held.month),
        "parcels": parcels,
        "form": form,
        "others": [one.supporter.name for one in parcels if one not in form.parcels],
    }
    return render(request, "parcels/moved.html", context, status=422 if form.errors else 200)


def asked_for(request: HttpRequest, held: Shipment) -> list[Parcel]:
    """The parcels of a month that an address or a form names; those that are none are left out."""
    named = request.POST.getlist("parcel") or request.GET.getlist("parcel")
    ids = [int(one) for one in named if one.isascii() and one.isdigit() and len(one) < 12]
    return list(held.parcels.filter(id__in=ids).select_related("supporter", "shipment"))


def address_of(held: Shipment, parcels: list[Parcel]) -> str:
    """Where these parcels are asked about."""
    asked = urlencode({"parcel": [parcel.id for parcel in parcels]}, doseq=True)
    return f"{reverse('parcels:moved', args=[held.id])}?{asked}"
