"""What the post asks for: boxes, limits and rate, the words of customs."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from studio.parcels import selectors, services
from studio.parcels.forms import BoxForm, CustomsWordsForm, PostSettingsForm
from studio.parcels.models import BoxType
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.said import say_done


@require_http_methods(["GET", "POST"])
@acts_once
def settings(request: HtmxRequest) -> HttpResponse:
    """The limits of customs with their source and day, and how long things may take."""
    # A form writes what was typed into its row, also when it is refused: this row is its own.
    form = PostSettingsForm(request.POST or None, instance=selectors.post_settings())
    if request.method == "POST" and form.is_valid():
        try:
            change = services.keep_post_settings(
                values=form.values(), by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("parcels:post")
    status = 422 if form.errors else 200
    return render(request, "parcels/post.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
@acts_once
def boxes(request: HtmxRequest, box_id: int | None = None) -> HttpResponse:
    """The table of boxes, and one to add or change."""
    held = get_object_or_404(BoxType, id=box_id) if box_id is not None else None
    form = BoxForm(request.POST or None, box=held)
    if request.method == "POST" and form.is_valid():
        try:
            change = services.set_box(
                box=held, values=form.values(), by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("parcels:boxes")
    context = {
        "form": form,
        "box": held,
        "boxes": selectors.box_types(),
        "broken": {row.box: row.said for row in selectors.broken_by_box()},
        "records": selectors.broken_by_box(),
    }
    return render(request, "parcels/boxes.html", context, status=422 if form.errors else 200)


@require_POST
@acts_once
def drop_box(request: HtmxRequest, box_id: int) -> HttpResponse:
    """Take a box off the table."""
    held = get_object_or_404(BoxType, id=box_id)
    say_done(request, services.drop_box(box=held, by=request.user, at=timezone.now()))
    return redirect("parcels:boxes")


@require_http_methods(["GET", "POST"])
@acts_once
def words(request: HtmxRequest) -> HttpResponse:
    """What forms are for and what bodies are, as customs read them."""
    forms_said, bodies = selectors.customs_words()
    form = CustomsWordsForm(request.POST or None, forms_said=forms_said, bodies=bodies)
    if request.method == "POST" and form.is_valid():
        try:
            change = services.set_customs_words(**form.values(), by=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("parcels:customs-words")
    context = {"form": form, "forms_said": forms_said, "bodies": bodies}
    status = 422 if form.errors else 200
    return render(request, "parcels/customs_words.html", context, status=status)
