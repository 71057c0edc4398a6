"""The hours of firings: when each is lit, and when it is night in this studio."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.firings import rules, selectors, services
from studio.firings.forms import NightForm, StartForm
from studio.firings.models import Firing
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once


@require_http_methods(["GET", "POST"])
@acts_once
def start_time(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Choose the hour at which a planned firing is lit."""
    found = get_object_or_404(Firing.objects.select_related("kiln", "schedule"), pk=firing_id)
    form = StartForm(request.POST or None, initial={"start_time": found.start_time})
    change = acted(
        request,
        form,
        lambda: services.set_start_time(
            firing=found, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
    )
    if change is not None:
        return redirect("firings:firing", found.pk)
    context = {
        "firing": found,
        "form": form,
        "watch": selectors.watch_of(found),
        "why_not": rules.can_set_start(state=found.state, kiln=found.kiln.name),
    }
    return render(request, "firings/start_time.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@acts_once
def night(request: HtmxRequest) -> HttpResponse:
    """Say when kilns are usually lit and when it is night."""
    rule = selectors.night_rule()
    first = {name: getattr(rule, name) for name in NightForm.base_fields}
    form = NightForm(request.POST or None, initial=first)
    change = acted(
        request,
        form,
        lambda: services.set_night_rule(**form.cleaned_data, by=request.user, at=timezone.now()),
    )
    if change is not None:
        return redirect("firings:kilns")
    context = {"form": form, "local": rules.LOCAL}
    return render(request, "firings/night.html", context, status=422 if form.errors else 200)
