"""What does a plan reckon with: hands, days off, losses and trials?"""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from studio.planning import selectors, services
from studio.planning.forms import DayOffForm, HandsForm, RuleForm
from studio.planning.models import DayOff
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.said import say_done


@require_http_methods(["GET", "POST"])
@acts_once
def hands(request: HtmxRequest) -> HttpResponse:
    """How many minutes each weekday gives."""
    form = HandsForm(request.POST or None, initial=HandsForm.of_the_week())
    change = acted(
        request,
        form,
        lambda: services.set_hands(week=form.week(), by=request.user, at=timezone.now()),
    )
    if change is not None:
        return redirect("planning:hands")
    status = 422 if form.errors else 200
    return render(request, "planning/hands.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
@acts_once
def days_off(request: HtmxRequest) -> HttpResponse:
    """The days on which nobody works."""
    form = DayOffForm(request.POST or None)
    hits: list[selectors.Hit] = []
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        hits = selectors.day_hits(typed["day"])
        try:
            if not hits or not form.asks_first():
                say_done(
                    request,
                    services.take_day_off(
                        day=typed["day"], why=typed["why"], by=request.user, at=timezone.now()
                    ),
                )
                return redirect("planning:days_off")
            services.may_take_day_off(day=typed["day"], at=timezone.now())
        except Refusal as refusal:
            form.add_error("day", str(refusal))
            hits = []
    context = {
        "form": form,
        "hits": hits,
        "days": selectors.hits_ahead(today_date=timezone.localdate()),
    }
    status = 422 if form.errors or hits else 200
    return render(request, "planning/days_off.html", context, status=status)


@require_POST
@acts_once
def work_after_all(request: HtmxRequest, day_off_id: int) -> HttpResponse:
    """Take a day off out of the list."""
    day_off = get_object_or_404(DayOff, id=day_off_id)
    change = services.work_day_after_all(day_off=day_off, by=request.user, at=timezone.now())
    say_done(request, change)
    return redirect("planning:days_off")


@require_http_methods(["GET", "POST"])
@acts_once
def rule(request: HtmxRequest) -> HttpResponse:
    """The yields and trial sizes that plans reckon with."""
    form = RuleForm(request.POST or None, initial=RuleForm.of_the_rule())
    if request.method == "POST" and form.is_valid():
        try:
            changes = services.set_reckoning(
                **form.cleaned_data, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            for change in changes:
                say_done(request, change)
            if not changes:
                say_done(request, "Nothing was changed.")
            return redirect("planning:rules")
    status = 422 if form.errors else 200
    context = {"form": form, "rows": selectors.yield_rows(selectors.plan_rule())}
    return render(request, "planning/rules.html", context, status=status)
