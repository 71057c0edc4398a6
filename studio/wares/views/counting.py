"""Count in what stood in the studio before its records began, one board after another."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.wares import rules, selectors, services
from studio.wares.forms.counting import CountInForm
from studio.wares.models import Board
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.models import Change

STANDS_AS = {
    "bisqued": "through the bisque, no glaze on it",
    "glazed": "glaze on it, waiting for a glaze firing",
    "fired": "out of a glaze firing, not looked at piece by piece",
    "graded": "fired and good to sell; each gets a number",
}


@require_http_methods(["GET", "POST"])
@acts_once
def count_in(request: HtmxRequest, stage: str = "") -> HttpResponse:
    """Ask at which stage the ware stands, then for one board of it, and again for the next."""
    context: dict[str, Any] = {"stages": STANDS_AS, "stage": stage, "done": _counted()}
    if not stage:
        return render(request, "wares/count_in.html", context)
    if stage not in rules.COUNTABLE:
        raise Http404
    form = CountInForm(request.POST or None, stage=stage, initial=_like_the_last())

    def act() -> Change:
        typed = dict(form.cleaned_data)
        label = typed.pop("label")
        who: dict[str, Any] = {"by": request.user, "at": timezone.now()}
        return services.count_in(stage=stage, board_label=label, **typed, **who)

    if acted(request, form, act):
        return redirect("wares:count_in_as", stage)
    context |= {"form": form, "missing": _missing(form), "label": selectors.next_label()}
    return render(request, "wares/count_in.html", context, status=422 if form.errors else 200)


def _like_the_last() -> dict[str, Any]:
    """What the last board that was counted in was: the next one is often like it."""
    last = selectors.counted_last()
    if last is None:
        return {"count": 12, "made_date": timezone.localdate(), "grade": "first"}
    return {
        "form": last.form_id,
        "clay_lot": last.clay_lot_id,
        "coats": last.coats_id,
        "schedule": last.schedule_id,
        "count": 12,
        "made_date": last.made_date,
        "place": last.board.place if last.board else "",
        "grade": "first",
    }


def _counted() -> list[tuple[str, Board | None]]:
    """What was counted in lately, each with its board."""
    changes = selectors.counts_in()
    boards = Board.objects.in_bulk([change.subject_id for change in changes])
    return [(change.said, boards.get(change.subject_id or 0)) for change in changes]


def _missing(form: CountInForm) -> list[tuple[str, str]]:
    """What the catalogue must have before this can be asked: words and the page to add it on."""
    pages = {
        "form": ("Add a form", "wares:forms_add"),
        "clay_lot": ("Add a clay lot", "wares:clay_lots_add"),
        "coats": ("Add coats of glaze", "wares:coats_add"),
        "schedule": ("Add a glaze schedule", "firings:schedule-new"),
    }
    return [
        page
        for name, page in pages.items()
        if name in form.fields and not form.fields[name].queryset.exists()  # type: ignore[attr-defined]
    ]
