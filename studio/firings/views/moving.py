"""Say just where a piece of a drawn load stands now: a tap on a level, or a part of it."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.firings import selectors, services
from studio.firings.forms import WhereForm
from studio.firings.models import Firing, Spot
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.said import say_done


def _spot(firing_id: int, spot_id: int) -> Spot | None:
    get_object_or_404(Firing, pk=firing_id)
    parts = ("sheet__firing__kiln", "sheet__firing__schedule", "form", "clay_lot", "coats", "place")
    spots = Spot.objects.select_related(*parts).filter(sheet__firing_id=firing_id, pk=spot_id)
    return spots.first()


@require_http_methods(["GET", "POST"])
@acts_once
def where(request: HtmxRequest, firing_id: int, spot_id: int, level: int) -> HttpResponse:
    """One level, to tap where a piece stands now."""
    spot = _spot(firing_id, spot_id)
    if spot is None:  # the load was drawn again since
        return redirect("firings:drawn", firing_id)
    page = selectors.where_page(spot, level)
    if page is None:
        return redirect("firings:place", firing_id, spot.pk)
    form = WhereForm(request.POST or None, picture=page["picture"])
    if request.method == "POST" and form.is_valid():
        asked = {"seen": form.cleaned_data["seen"], "level": level}
        where_ = {"point": form.point, "part": form.cleaned_data["part"]}
        try:
            change = services.put_at(
                spot=spot, **asked, **where_, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("firings:drawn", firing_id)
    context = {"firing": spot.sheet.firing, "spot": spot, "form": form, **page}
    return render(request, "firings/where.html", context, status=422 if form.errors else 200)


@require_GET
def level_picture(request: HtmxRequest, firing_id: int, spot_id: int, level: int) -> HttpResponse:
    """A level of a drawn load as a picture to tap on."""
    spot = _spot(firing_id, spot_id)
    page = selectors.where_page(spot, level) if spot else None
    if page is None:
        raise Http404
    drawing = {"level": page["picture"], "uid": "level"}
    return render(request, "drawing/load_level.svg", drawing, content_type="image/svg+xml")
