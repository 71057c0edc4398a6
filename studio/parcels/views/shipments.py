"""Parcels: the months, and one month from pick to post."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.forms import Field, ModelChoiceField
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.parcels import rules, selectors, services
from studio.parcels.forms import ShipmentForm, SkipForm
from studio.parcels.models import Shipment, ShipmentWant
from studio.parcels.views.bench_pages import bench_context, refuse_past
from studio.parcels.views.posted import done, saved
from studio.wares.forms.wanting import WantForm
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.roles import helpers_may, is_helper


@helpers_may
@require_GET
def parcels(request: HtmxRequest) -> HttpResponse:
    """Every month with parcels; a helper sees those on the bench."""
    today, found = timezone.localdate(), selectors.shipments()
    context: dict[str, Any] = {}
    if is_helper(request.user):
        found = found.filter(id__in=selectors.current_shipments(today).values("id"))
    else:
        context = {
            "overdue": selectors.overdue(today_date=today),
            "broken": selectors.broken_by_box(),
            "settings": selectors.post_settings(),
        }
    context["rows"] = [(shipment, rules.month_name(shipment.month)) for shipment in found]
    return render(request, "parcels/parcels.html", context)


@require_http_methods(["GET", "POST"])
@acts_once
def set_shipment(request: HtmxRequest, shipment_id: int | None = None) -> HttpResponse:
    """Set a month's parcels, or change them."""
    held = get_object_or_404(Shipment, id=shipment_id) if shipment_id is not None else None
    form = ShipmentForm(request.POST or None, shipment=held)

    def page() -> HttpResponse:
        name = rules.month_name(held.month) if held else ""
        context = {"form": form, "shipment": held, "month_name": name}
        status = 422 if form.errors else 200
        return render(request, "parcels/shipment_form.html", context, status=status)

    if request.method == "GET":
        return page()
    return saved(
        request,
        form,
        lambda who: services.set_shipment(**form.cleaned_data, **who),
        to=lambda change: ("parcels:shipment", change.subject_id),
        again=page,
    )


@helpers_may
@require_GET
def shipment(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """One month: wants, turns, parcels, skips and papers; for a helper, the bench alone."""
    held = get_object_or_404(Shipment, id=shipment_id)
    if is_helper(request.user):
        refuse_past(request.user, held)
        return render(request, "parcels/bench.html", bench_context(held))
    return render(request, "parcels/shipment.html", _shipment(held))


@require_POST
@acts_once
def want(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Want so many of a line for a month."""
    held = get_object_or_404(Shipment, id=shipment_id)
    form = WantForm(request.POST)
    return saved(
        request,
        form,
        lambda who: services.set_want(shipment=held, **form.cleaned_data, **who),
        to=("parcels:shipment", held.id),
        again=lambda: _refused_on_page(request, held, want_form=form),
    )


@require_POST
@acts_once
def drop_want(request: HtmxRequest, want_id: int) -> HttpResponse:
    """Want a line no longer."""
    found = get_object_or_404(ShipmentWant, id=want_id)
    return done(
        request,
        lambda who: services.drop_want(want=found, **who),
        to=("parcels:shipment", found.shipment_id),
    )


@require_POST
@acts_once
def set_aside(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Want for a month what its coming turns need."""
    held = get_object_or_404(Shipment, id=shipment_id)
    return done(
        request,
        lambda who: services.set_aside(shipment=held, **who),
        to=("parcels:shipment", held.id),
    )


@require_POST
@acts_once
def pick(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Fill the month's parcels in fair turn."""
    held = get_object_or_404(Shipment, id=shipment_id)
    return done(
        request,
        lambda who: services.pick_parcels(shipment=held, **who),
        to=("parcels:shipment", held.id),
    )


@require_POST
@acts_once
def skip(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Pass over a turn, with the reason."""
    held = get_object_or_404(Shipment, id=shipment_id)
    form = SkipForm(request.POST)
    return saved(
        request,
        form,
        lambda who: services.skip(shipment=held, **form.cleaned_data, **who),
        to=("parcels:shipment", held.id),
        again=lambda: _refused_on_page(request, held, skip_form=form),
    )


def _refused_on_page(request: HtmxRequest, held: Shipment, **forms: Any) -> HttpResponse:
    return render(request, "parcels/shipment.html", _shipment(held, **forms), status=422)


def _shipment(
    held: Shipment, *, want_form: WantForm | None = None, skip_form: SkipForm | None = None
) -> dict[str, Any]:
    now = timezone.now()
    read = selectors.Reading(held)
    cannot_set_aside = selectors.cannot_set_aside(held, reading=read)
    aside = [] if cannot_set_aside else selectors.to_set_aside(held, reading=read)
    wanting, skipping = want_form or WantForm(), skip_form or SkipForm()
    if read.turns_picked < held.parcel_count:  # the turns are read: no need to ask for all again
        _offer(wanting.fields["line"], read.lines.values())
        _offer(skipping.fields["supporter"], (one.supporter for one in read.standings))
    return bench_context(held) | {
        "cannot_set_aside": cannot_set_aside,
        "to_set_aside": aside,
        "wants": selectors.want_rows(held, reading=read),
        "cannot_want": selectors.cannot_want(shipment=held, count=1, now=now),
        "want_form": wanting,
        "picked": read.turns_picked,
        "free": read.pots,
        "left": max(0, held.parcel_count - read.turns_picked),
        "cannot_pick": selectors.cannot_pick(held, reading=read),
        "skips": read.skips,
        "skip_form": skipping,
        "spares": selectors.spares(),
        "settings": selectors.post_settings(),
    }


def _offer(field: Field, rows: Iterable[Any]) -> None:
    """Offer rows that are read already; what is chosen is checked against the database still."""
    assert isinstance(field, ModelChoiceField)
    field.choices = [("", field.empty_label), *((o.pk, field.label_from_instance(o)) for o in rows)]
