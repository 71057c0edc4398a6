"""Supporters as a file: in and out."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render, resolve_url
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.parcels import roll, rules, selectors, services
from studio.parcels.forms import RollForm
from studio.parcels.models import Tier
from studio.wares.models import Form
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, answered_before
from studio.web.said import say_done

MOST_CAUSES = 200


@require_http_methods(["GET", "POST"])
def import_roll(request: HtmxRequest) -> HttpResponse:
    """Take a file of supporters in, all of it or nothing."""
    first = answered_before(request)
    if first is not None:
        return first
    form = RollForm(request.POST or None, request.FILES or None)
    causes: tuple[str, ...] = ()
    if request.method == "POST" and form.is_valid():
        try:
            rows = roll.read_roll(
                form.cleaned_data["file"].read(),
                tiers=Tier.objects.values_list("name", flat=True),
                forms=Form.objects.values_list("name", flat=True),
                this_month=rules.month_of(timezone.localdate()),
            )
            ready = services.prepare_import(rows=rows, at=timezone.now())
            return acting_once(request, lambda: _take_in(request, rows, ready))
        except roll.BadRoll as problem:
            causes = problem.causes
    context = {
        "form": form,
        "causes": causes[:MOST_CAUSES],
        "more": max(0, len(causes) - MOST_CAUSES),
        "meanings": roll.MEANINGS,
    }
    wrong = bool(causes) or bool(form.errors)
    return render(request, "parcels/import.html", context, status=422 if wrong else 200)


@require_GET
def export_roll(request: HtmxRequest) -> HttpResponse:
    """All supporters as a CSV file that can be taken in again."""
    response = HttpResponse(selectors.as_roll(), content_type="text/csv; charset=utf-8")
    day = timezone.localdate().isoformat()
    response["Content-Disposition"] = f'attachment; filename="supporters-{day}.csv"'
    response["Cache-Control"] = "no-store"
    return response


def _take_in(request: HtmxRequest, rows: tuple[roll.RollRow, ...], ready: services.Prepared) -> str:
    outcome = services.import_supporters(rows=rows, ready=ready, by=request.user, at=timezone.now())
    say_done(request, outcome.change or outcome.said)
    return resolve_url("parcels:supporters")
