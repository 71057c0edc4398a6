"""Two or three schedules side by side."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from studio.firings import selectors
from studio.firings.models import Kiln, Schedule
from studio.web.htmx import HtmxRequest


@require_GET
def compare(request: HtmxRequest) -> HttpResponse:
    """Compare the schedules that the address names; without enough of them, ask for them."""
    schedules, why_not = selectors.chosen_schedules(request.GET.getlist("schedule"))
    kilns = list(Kiln.objects.select_related("fit"))
    asked = request.GET.get("kiln", "")
    kiln = next((one for one in kilns if str(one.pk) == asked), kilns[0] if kilns else None)
    context = {
        "all": Schedule.objects.all(),
        "chosen": schedules,
        "kilns": kilns,
        "kiln": kiln,
        "why_not": why_not if request.GET.getlist("schedule") else "",
        "found": None if why_not else selectors.compare(schedules, kiln=kiln),
    }
    return render(request, "firings/compare.html", context)
