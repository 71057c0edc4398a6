"""The chart of cones."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from studio.firings import selectors
from studio.web.htmx import HtmxRequest
from studio.web.selectors import temperature_unit


@require_GET
def cones(request: HtmxRequest) -> HttpResponse:
    """Every cone with its temperatures, as the published chart has them."""
    context = {"charts": selectors.cone_charts(), "unit": temperature_unit()}
    return render(request, "firings/cones.html", context)
