"""Put a board into a load and take it out: one press each, back on the firing's page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from studio.firings import services
from studio.firings.forms import LoadForm
from studio.firings.models import Firing
from studio.wares.models import Board
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.said import say_done


@require_POST
@acts_once
def load(request: HtmxRequest, firing_id: int, board_id: int) -> HttpResponse:
    """Put a board, or so many of it, into a load."""
    firing = get_object_or_404(Firing, pk=firing_id)
    board = get_object_or_404(Board, pk=board_id)
    form = LoadForm(request.POST)
    if not form.is_valid():
        raise Refusal(f"Board {board}: {form.sentence}")
    change = services.load(
        firing=firing,
        board=board,
        count=form.cleaned_data["count"],
        seen=form.cleaned_data["seen"] or None,
        by=request.user,
        at=timezone.now(),
    )
    say_done(request, change)
    return redirect("firings:firing", firing.pk)


@require_POST
@acts_once
def take_out(request: HtmxRequest, firing_id: int, board_id: int) -> HttpResponse:
    """Take a board out of a load."""
    firing = get_object_or_404(Firing, pk=firing_id)
    board = get_object_or_404(Board, pk=board_id)
    change = services.take_out(firing=firing, board=board, by=request.user, at=timezone.now())
    say_done(request, change)
    return redirect("firings:firing", firing.pk)
