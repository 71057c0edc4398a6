"""Light a kiln, switch it off, open it: a page with its caution before each."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.firings import rules, selectors, services
from studio.firings.forms import OpenForm, WhenForm
from studio.firings.models import Firing
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.said import say_caution
from studio.web.selectors import temperature_unit


def _firing(firing_id: int) -> Firing:
    return get_object_or_404(
        Firing.objects.select_related("kiln__circuit", "kiln__fit", "schedule"), pk=firing_id
    )


def _page(request: HtmxRequest, name: str, context: dict[str, Any]) -> HttpResponse:
    status = 422 if context["form"].errors else 200
    return render(request, f"firings/{name}.html", context, status=status)


@require_http_methods(["GET", "POST"])
@acts_once
def light(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Say aloud what is about to be fired, then record that it was lit."""
    firing, now = _firing(firing_id), timezone.now()
    form = WhenForm(request.POST or None)
    change = acted(
        request,
        form,
        lambda: services.light(
            firing=firing, lit_at=form.cleaned_data["at"] or now, by=request.user, at=now
        ),
    )
    if change is not None:
        if late := selectors.late_for(_firing(firing_id), today_date=timezone.localdate(now)):
            say_caution(request, f"{late} Move it, or its days run into this one.")
        return redirect("firings:firing", firing.pk)
    context = {
        "firing": firing,
        "form": form,
        "cone_words": rules.cone_words(firing.schedule.cone, unit=temperature_unit()),
        "curve": selectors.curve_of(firing.schedule),
        "steps": selectors.steps_of(firing.schedule),
        "watch": selectors.watch_of(firing, lit_at=now),
        "hours": selectors.hours_of(kiln=firing.kiln, schedule=firing.schedule),
        "fill": selectors.firing_fill(firing),
        "why_not": selectors.why_not_light(firing, lit_at=now, at=now),
        "caution": rules.LIGHTING,
        "warnings": [*selectors.warnings_of(firing), *selectors.fresh_changes(firing.kiln)],
    }
    return _page(request, "light", context)


@require_http_methods(["GET", "POST"])
@acts_once
def switch_off(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Record that a kiln was switched off."""
    firing, now = _firing(firing_id), timezone.now()
    form = WhenForm(request.POST or None)
    change = acted(
        request,
        form,
        lambda: services.switch_off(
            firing=firing, off_at=form.cleaned_data["at"] or now, by=request.user, at=now
        ),
    )
    if change is not None:
        return redirect("firings:firing", firing.pk)
    why_not = rules.can_switch_off(state=firing.state, lit_at=firing.lit_at, off_at=now, at=now)
    context = {
        "firing": firing,
        "form": form,
        "expected": selectors.expected(firing),
        "why_not": why_not,
        "caution": rules.COOLING,
    }
    return _page(request, "off", context)


@require_http_methods(["GET", "POST"])
@acts_once
def open_kiln(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Record what came out of a kiln: one press when all is well, else board by board."""
    firing, now = _firing(firing_id), timezone.now()
    form = _open_form(request, firing)
    change = acted(request, form, lambda: _open(form, firing, request, now))
    if change is not None:
        if form.why_failed is not None:
            say_caution(request, rules.PLAN_AGAIN)
        return redirect("firings:firing", firing.pk)
    context = {
        "firing": firing,
        "form": form,
        "expected": selectors.expected(firing),
        "is_early": bool(selectors.too_early(firing, opened_at=now)),
        "hot_c": rules.HOT_TO_OPEN_C,
        "caution": rules.OPENING,
        "why_not": rules.can_open(
            state=firing.state, lit_at=firing.lit_at, off_at=firing.off_at, opened_at=now, at=now
        ),
    }
    return _page(request, "open", context)


def _open_form(request: HtmxRequest, firing: Firing) -> OpenForm:
    price = selectors.fuel_price(firing.kiln)
    return OpenForm(
        request.POST or None,
        boards=selectors.boards_in(firing),
        cone=firing.schedule.cone,
        short=selectors.ended_short(firing),
        places=selectors.places_of(firing),
        fuel=firing.kiln.fuel,
        unit=price.get_unit_display() if price else "",
    )


def _open(form: OpenForm, firing: Firing, request: HtmxRequest, now: Any) -> Any:
    typed = form.cleaned_data
    return services.open_kiln(
        firing=firing,
        opened_at=typed["opened_at"] or now,
        opened_c=typed["opened_c"],
        is_cool=typed["is_cool"],
        peak_c=typed["peak_c"],
        energy=form.energy,
        lost=form.lost,
        seen=form.seen,
        failed_why=form.why_failed,
        witness=form.witness,
        note=typed["note"],
        by=request.user,
        at=now,
    )
