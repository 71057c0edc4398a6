"""A kiln's shelves, posts, clearances and thermocouple on one page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.firings import selectors, services
from studio.firings.forms import FurnitureForm
from studio.firings.models import Kiln
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.said import say_done


@require_http_methods(["GET", "POST"])
@acts_once
def edit(request: HtmxRequest, kiln_id: int) -> HttpResponse:
    """Write down what a kiln is furnished with."""
    kiln = get_object_or_404(Kiln, pk=kiln_id)
    form = FurnitureForm(request.POST or None, initial=FurnitureForm.first_values(kiln))
    if request.method == "POST" and form.is_valid():
        try:
            change = services.save_furniture(
                kiln=kiln,
                furniture=form.furniture,
                seen=request.POST.get("seen") or None,
                by=request.user,
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("firings:kiln", kiln.pk)
    seen = request.POST.get("seen") or selectors.furniture_of(kiln).token
    is_told = kiln.shelves.exists() or kiln.posts.exists()
    context = {"kiln": kiln, "form": form, "seen": seen, "is_told": is_told}
    return render(request, "firings/furniture.html", context, status=422 if form.errors else 200)
