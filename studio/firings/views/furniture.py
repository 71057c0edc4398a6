"""A kiln's shelves, posts, clearances and thermocouple on one page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.firings import selectors, services
from studio.firings.forms import FurnitureForm
from studio.firings.models import Kiln
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once


@require_http_methods(["GET", "POST"])
@acts_once
def edit(request: HtmxRequest, kiln_id: int) -> HttpResponse:
    """Write down what a kiln is furnished with."""
    kiln = get_object_or_404(Kiln, pk=kiln_id)
    form = FurnitureForm(request.POST or None, initial=FurnitureForm.first_values(kiln))
    change = acted(
        request,
        form,
        lambda: services.save_furniture(
            kiln=kiln,
            furniture=form.furniture,
            seen=request.POST.get("seen") or None,
            by=request.user,
            at=timezone.now(),
        ),
    )
    if change is not None:
        return redirect("firings:kiln", kiln.pk)
    seen = request.POST.get("seen") or selectors.furniture_of(kiln).token
    is_told = kiln.shelves.exists() or kiln.posts.exists()
    context = {"kiln": kiln, "form": form, "seen": seen, "is_told": is_told}
    return render(request, "firings/furniture.html", context, status=422 if form.errors else 200)
