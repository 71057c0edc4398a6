"""Pieces by everything that tells them apart, and one piece with all that is known of it."""

from __future__ import annotations

import re
from pathlib import Path

from django.conf import settings
from django.core.paginator import Paginator
from django.db.models import F
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.drawing.photos import MAX_BYTES, BadPhoto, KeptPhoto, keep_photo
from studio.wares import rules, selectors, services
from studio.wares.filters import PieceFilter
from studio.wares.forms.steps import FaultForm, PartForm, PhotoForm, PromiseForm
from studio.wares.models import Line, Piece
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.said import say_done

ON_A_PAGE = 40


@require_GET
def pieces(request: HtmxRequest) -> HttpResponse:
    """Show the pieces that fit the filter, or go to the one with the number that was sought.

    What a filter cannot mean is said beside it.
    """
    sought = request.GET.get("find", "").strip()[:12]
    number = re.fullmatch("(?:No[.] ?)?([0-9]{1,9})", sought, re.IGNORECASE)
    if number and (one := selectors.find_piece(int(number[1]))):
        return redirect("wares:piece", one.id)
    asked = request.GET.copy()
    asked.setdefault("here", "here")
    found = PieceFilter(
        asked,
        queryset=Piece.objects.select_related(
            "form", "clay_lot", "coats", "schedule", "board", "photo", "reservation"
        ).order_by(F("number").desc(nulls_last=True), "-id"),
    )
    page = Paginator(found.qs, ON_A_PAGE).get_page(request.GET.get("page"))
    rest = request.GET.copy()
    rest.pop("page", None)
    rest.pop("find", None)
    used = [name for name, value in rest.items() if value and (name, value) != ("here", "here")]
    context = {"filter": found, "page": page, "rest": rest.urlencode(), "used": used}
    context |= {"sought": sought, "sums": selectors.sums(), "broken": selectors.broken_sums()}
    return render(request, "wares/pieces.html", context)


@require_GET
def numbered(request: HtmxRequest, number: int) -> HttpResponse:
    """Go to the piece with this number."""
    found = selectors.find_piece(number)
    if found is None:
        raise Http404(f"No piece has the number {number}.")
    return redirect("wares:piece", found.id)


@require_GET
def piece(request: HtmxRequest, piece_id: int) -> HttpResponse:
    """Show one piece: where it is, how it got there, and what may be done with it."""
    shown = _piece(piece_id)
    name = selectors.piece_name(shown)
    reservation = selectors.reservation_of(shown)
    promise = selectors.promise_words(reservation)
    context = {
        "piece": shown,
        "name": name,
        "history": selectors.piece_history(shown),
        "promise": promise,
        "before_records": rules.BEFORE_RECORDS.get(shown.counted_in, ""),
        "release_refusal": rules.can_release(
            name=name, kind=reservation.kind if reservation else None
        ),
        "photo_form": PhotoForm(),
        "promise_form": PromiseForm(),
        "part_form": PartForm(),
        "fault_form": FaultForm(),
        "line": (line := _line_of(shown)),
        "craze_date": selectors.craze_date(shown, line=line),
        **_refusals(shown, name=name, promise=promise),
    }
    return render(request, "wares/piece.html", context)


@require_http_methods(["GET", "POST"])
def photo(request: HtmxRequest, piece_id: int) -> HttpResponse:
    """Photograph a piece; then the next one of its board that has no photograph."""
    if first := answered_before(request):
        return first
    shown = _piece(piece_id)
    refusal = rules.can_photograph(name=selectors.piece_name(shown), number=shown.number)
    form = PhotoForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and refusal is None and form.is_valid():
        try:
            # The picture is drawn anew before the database is asked for its one pen.
            kept = keep_photo(
                data=form.cleaned_data["photo"].read(MAX_BYTES + 1),
                folder=Path(settings.MEDIA_ROOT),
            )
        except BadPhoto as bad:
            form.add_error("photo", str(bad))
        else:
            return acting_once(request, lambda: _show_by(request, shown, kept))
    context = {"piece": shown, "name": selectors.piece_name(shown), "form": form}
    status = 422 if form.errors else 200
    return render(request, "wares/photo.html", context | {"refusal": refusal}, status=status)


@require_http_methods(["GET", "POST"])
@acts_once
def part(request: HtmxRequest, piece_id: int) -> HttpResponse:
    """Write down that a piece was kept, given away, broken or scrapped."""
    shown = _piece(piece_id)
    form = PartForm(request.POST or None)

    def act() -> Change:
        return services.part(piece=shown, **form.cleaned_data, by=request.user, at=timezone.now())

    if acted(request, form, act):
        return redirect("wares:piece", shown.id)
    context = {"piece": shown, "name": selectors.piece_name(shown), "form": form}
    return render(request, "wares/part.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@acts_once
def promise(request: HtmxRequest, piece_id: int) -> HttpResponse:
    """Promise a graded piece."""
    shown = _piece(piece_id)
    form = PromiseForm(request.POST or None)

    def act() -> Change:
        return services.reserve(
            piece=shown, **form.cleaned_data, by=request.user, at=timezone.now()
        )

    if acted(request, form, act):
        return redirect("wares:piece", shown.id)
    context = {"piece": shown, "name": selectors.piece_name(shown), "form": form}
    return render(request, "wares/promise.html", context, status=422 if form.errors else 200)


@require_POST
@acts_once
def fault(request: HtmxRequest, piece_id: int) -> HttpResponse:
    """Write down a fault that was seen on one piece."""
    shown = _piece(piece_id)
    form = FaultForm(request.POST)
    if not form.is_valid():
        raise Refusal("Choose which fault it is.")
    change = services.see_fault(
        piece=shown, fault=form.cleaned_data["fault"], by=request.user, at=timezone.now()
    )
    say_done(request, change)
    return redirect("wares:piece", shown.id)


@require_POST
@acts_once
def release(request: HtmxRequest, piece_id: int) -> HttpResponse:
    """Take the promise of a piece back."""
    shown = _piece(piece_id)
    say_done(request, services.release(piece=shown, by=request.user, at=timezone.now()))
    return redirect("wares:piece", shown.id)


def _piece(piece_id: int) -> Piece:
    return get_object_or_404(
        Piece.objects.select_related("form", "clay_lot", "coats", "schedule", "board", "photo"),
        id=piece_id,
    )


def _line_of(shown: Piece) -> Line | None:
    if shown.coats is None or shown.schedule is None:
        return None
    return selectors.line_for(
        form=shown.form, clay_lot=shown.clay_lot, coats=shown.coats, schedule=shown.schedule
    )


def _refusals(shown: Piece, *, name: str, promise: str | None) -> dict[str, str | None]:
    """Why a piece may not be photographed, leave or be promised; None where it may."""
    gone = shown.parting
    return {
        "photo_refusal": rules.can_photograph(name=name, number=shown.number),
        "part_refusal": rules.can_part(name=name, parting="taken", gone=gone, promise=promise),
        "promise_refusal": rules.can_reserve(
            name=name, stage=shown.stage, gone=gone, promise=promise
        ),
    }


def _show_by(request: HtmxRequest, shown: Piece, kept: KeptPhoto) -> str:
    change = services.add_photo(
        piece=shown,
        name=kept.name,
        width_px=kept.width_px,
        height_px=kept.height_px,
        by=request.user,
        at=timezone.now(),
    )
    say_done(request, change)
    following = selectors.next_without_photo(shown)
    if following is not None:
        return redirect("wares:photo", following.id).url
    return redirect("wares:piece", shown.id).url
