"""The studio's schedules: a list, one with its curve, add and change."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.craft.programme import OPEN_C
from studio.firings import rules, selectors, services
from studio.firings.forms import ScheduleForm, seen_token
from studio.firings.models import Schedule
from studio.web.acting import acted
from studio.web.fields import row_number
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.models import Change
from studio.web.selectors import temperature_unit


@require_GET
def schedules(request: HtmxRequest) -> HttpResponse:
    """Every schedule."""
    found = Schedule.objects.prefetch_related("segments", "runs__kiln")
    return render(request, "firings/schedules.html", {"schedules": found})


@require_GET
def schedule(request: HtmxRequest, schedule_id: int) -> HttpResponse:
    """One schedule: its curve and its rows, and what it takes in each kiln."""
    found = get_object_or_404(Schedule.objects.prefetch_related("segments"), pk=schedule_id)
    context = {
        "schedule": found,
        "curve": selectors.curve_of(found),
        "steps": selectors.steps_of(found),
        "cone_words": rules.cone_words(found.cone, unit=temperature_unit()),
        "in_kilns": selectors.in_kilns(found),
        "open_c": OPEN_C,
        "facts": rules.facts(kind=found.kind, atmosphere=found.atmosphere),
        "unattended": rules.no_unattended_start(
            kind=found.kind, fuel="", atmosphere=found.atmosphere
        ),
    }
    return render(request, "firings/schedule.html", context)


def _like(request: HtmxRequest) -> Schedule | None:
    """The schedule whose rows a new one begins with, when the address names one."""
    asked = row_number(request.GET.get("like", ""))
    return Schedule.objects.filter(pk=asked).first() if asked is not None else None


def _form(request: HtmxRequest, schedule: Schedule | None, *, is_copy: bool) -> ScheduleForm:
    """The form as it was sent, or with three more rows when those were asked for."""
    if "more" in request.POST:
        return ScheduleForm(schedule=schedule, typed=request.POST, is_copy=is_copy)
    return ScheduleForm(request.POST or None, schedule=schedule, is_copy=is_copy)


def _save(request: HtmxRequest, schedule: Schedule | None, form: ScheduleForm) -> Change:
    return services.save_schedule(
        schedule=schedule,
        values=form.values,
        steps=form.cleaned_data["steps"],
        seen=request.POST.get("seen"),
        by=request.user,
        at=timezone.now(),
    )


@require_http_methods(["GET", "POST"])
@acts_once
def edit_schedule(request: HtmxRequest, schedule_id: int | None = None) -> HttpResponse:
    """Add a schedule or change one."""
    found = get_object_or_404(Schedule, pk=schedule_id) if schedule_id else None
    like = None if found else _like(request)
    form = _form(request, found or like, is_copy=like is not None)
    change = acted(request, form, lambda: _save(request, found, form))
    if change is not None:
        return redirect("firings:schedule", change.subject_id)
    context = {
        "schedule": found,
        "like": like,
        "form": form,
        "unit": temperature_unit(),
        "seen": seen_token(request, found),
    }
    return render(
        request, "firings/schedule_form.html", context, status=422 if form.errors else 200
    )
