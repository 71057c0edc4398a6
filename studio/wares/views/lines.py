"""One line: how it stands and why, its laboratory results, and what a new bucket does to it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.wares import selectors, services
from studio.wares.forms.proofs import BucketForm, LabForm, ProofForm, StartForm
from studio.wares.models import Glaze, Line
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.models import Change
from studio.web.said import say_done


@require_GET
def line(request: HtmxRequest, line_id: int) -> HttpResponse:
    """How a line stands, why, and what a laboratory found in its glaze."""
    shown = _line(line_id)
    start = StartForm({"wanted": "12", "chance": "80"} | request.GET.dict())
    asked = start.cleaned_data if start.is_valid() else {"wanted": 12, "chance": 80}
    context = {
        "line": shown,
        "start_form": start,
        "asked": asked,
        "reckoning": selectors.number_to_start(
            line=shown, wanted=asked["wanted"], chance_percent=asked["chance"]
        ),
        "verdict": selectors.verdict_of(shown),
        "fired": selectors.fired_of(selectors.combination_of(shown)),
        "food": selectors.food_of(shown),
        "glazes": Glaze.objects.filter(coat__coats=shown.coats_id).distinct(),
        "craze_days": selectors.proof_rule().craze_days,
        "words": [
            (value, word) for value, word in services.WORDS.items() if value != shown.standing
        ],
    }
    return render(request, "wares/line.html", context)


@require_POST
@acts_once
def line_standing(request: HtmxRequest, line_id: int, standing: str) -> HttpResponse:
    """Call a line untried, on trial or proven, on the potter's word."""
    shown = _line(line_id)
    say_done(
        request,
        services.set_standing(line=shown, standing=standing, by=request.user, at=timezone.now()),
    )
    return redirect("wares:line", shown.id)


@require_http_methods(["GET", "POST"])
@acts_once
def lab_result(request: HtmxRequest, line_id: int) -> HttpResponse:
    """File what a laboratory measured."""
    shown = _line(line_id)
    form = LabForm(request.POST or None)
    done = _acted(
        request, form,
        lambda: services.file_result(line=shown, **form.cleaned_data, **_who(request)),
        to=("wares:line", shown.id),
    )  # fmt: skip
    return done or _page(request, "wares/lab_result.html", form, {"line": shown})


@require_http_methods(["GET", "POST"])
@acts_once
def bucket(request: HtmxRequest, glaze_id: int) -> HttpResponse:
    """Write down that a new bucket of a glaze is in use."""
    glaze = get_object_or_404(Glaze, pk=glaze_id)
    form = BucketForm(request.POST or None, initial={"mixed_date": timezone.localdate()})
    done = _acted(
        request, form,
        lambda: services.new_bucket(glaze=glaze, **form.cleaned_data, **_who(request)),
        to=("wares:glazes",),
    )  # fmt: skip
    lines = Line.objects.filter(coats__glazes=glaze).distinct()
    context = {
        "glaze": glaze, "lines": lines.select_related("form", "clay_lot", "coats", "schedule")
    }  # fmt: skip
    return done or _page(request, "wares/bucket.html", form, context)


@require_http_methods(["GET", "POST"])
@acts_once
def proof_rule(request: HtmxRequest) -> HttpResponse:
    """Say what proves a line."""
    now = selectors.proof_rule()
    names = ProofForm.base_fields
    form = ProofForm(request.POST or None, initial={name: getattr(now, name) for name in names})
    done = _acted(
        request, form,
        lambda: services.set_proof_rule(**form.values(), **_who(request)),
        to=("wares:lines",),
    )  # fmt: skip
    return done or _page(request, "wares/proof_rule.html", form, {})


def _line(line_id: int) -> Line:
    return get_object_or_404(
        Line.objects.select_related("form", "clay_lot", "coats", "schedule"), pk=line_id
    )


def _who(request: HtmxRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now()}


def _acted(
    request: HtmxRequest, form: forms.Form, act: Callable[[], Change], *, to: tuple[Any, ...]
) -> HttpResponse | None:
    """Do what the form asks for, or put its refusal on the form and answer None."""
    return redirect(*to) if acted(request, form, act) else None


def _page(
    request: HtmxRequest, template: str, form: forms.Form, context: dict[str, Any]
) -> HttpResponse:
    status = 422 if form.errors else 200
    return render(request, template, {"form": form, **context}, status=status)
