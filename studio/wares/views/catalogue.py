"""The catalogue: forms, clay lots, glazes, coats and lines, all kept alike."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.wares import rules, selectors, services
from studio.wares.forms.catalogue import SHELVES
from studio.wares.models import Glaze, LabResult, Line, Piece
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.models import Change


@require_GET
def catalogue(request: HtmxRequest) -> HttpResponse:
    """Show the shelves of the catalogue with how much is on each."""
    shelves = [(shelf, shelf.model._default_manager.count()) for shelf in SHELVES.values()]
    return render(request, "wares/catalogue.html", {"shelves": shelves})


@require_GET
def entries(request: HtmxRequest, shelf: str) -> HttpResponse:
    """List one shelf."""
    here = SHELVES[shelf]
    context: dict[str, Any] = {"shelf": here, "shelves": SHELVES.values(), "rows": here.rows()}
    if here.model is Line:
        stock = selectors.stock_by_line()
        context["rows"] = [(line, stock[line.id]) for line in here.rows()]
    context["no_lab"] = rules.NO_LAB_RESULT
    if here.model is Glaze:
        context["tested"] = set(LabResult.objects.values_list("coats__glazes", flat=True))
    return render(request, f"wares/{shelf}.html", context)


@require_http_methods(["GET", "POST"])
@acts_once
def entry(request: HtmxRequest, shelf: str, entry_id: int | None = None) -> HttpResponse:
    """Add or change one row of a shelf."""
    here = SHELVES[shelf]
    row = get_object_or_404(here.model, pk=entry_id) if entry_id is not None else None
    form = here.form(request.POST or None, instance=row)

    def act() -> Change:
        return services.keep_entry(
            what=here.what,
            entry_id=entry_id,
            values=form.values(),
            layers=form.layers(),
            by=request.user,
            at=timezone.now(),
        )

    if acted(request, form, act):
        return redirect(f"wares:{shelf}")
    made = Piece.objects.filter(**{here.of_piece: row}).count() if row and here.of_piece else None
    context = {"shelf": here, "row": row, "form": form, "made": made}
    return render(request, "wares/entry.html", context, status=422 if form.errors else 200)
