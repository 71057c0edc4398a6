"""What the post asks for: boxes, limits and rate, the words of customs."""

from __future__ import annotations

from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.parcels import selectors, services
from studio.parcels.forms import BoxForm, CustomsWordsForm, PostSettingsForm
from studio.parcels.models import BoxType
from studio.parcels.views.posted import done, saved
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once


@require_http_methods(["GET", "POST"])
@acts_once
def settings(request: HtmxRequest) -> HttpResponse:
    """The limits of customs with their source and day, and how long things may take."""
    # A form writes what was typed into its row, also when it is refused: this row is its own.
    form = PostSettingsForm(request.POST or None, instance=selectors.post_settings())

    def page() -> HttpResponse:
        return render(request, "parcels/post.html", {"form": form}, status=_status(form))

    if request.method == "GET":
        return page()
    return saved(
        request,
        form,
        lambda who: services.keep_post_settings(values=form.values(), **who),
        to="parcels:post",
        again=page,
    )


@require_http_methods(["GET", "POST"])
@acts_once
def boxes(request: HtmxRequest, box_id: int | None = None) -> HttpResponse:
    """The table of boxes, and one to add or change."""
    held = get_object_or_404(BoxType, id=box_id) if box_id is not None else None
    form = BoxForm(request.POST or None, box=held)

    def page() -> HttpResponse:
        records = selectors.broken_by_box()
        context = {
            "form": form,
            "box": held,
            "boxes": selectors.box_types(),
            "broken": {row.box: row.said for row in records},
            "records": records,
        }
        return render(request, "parcels/boxes.html", context, status=_status(form))

    if request.method == "GET":
        return page()
    return saved(
        request,
        form,
        lambda who: services.set_box(box=held, values=form.values(), **who),
        to="parcels:boxes",
        again=page,
    )


@require_POST
@acts_once
def drop_box(request: HtmxRequest, box_id: int) -> HttpResponse:
    """Take a box off the table."""
    held = get_object_or_404(BoxType, id=box_id)
    return done(request, lambda who: services.drop_box(box=held, **who), to="parcels:boxes")


@require_http_methods(["GET", "POST"])
@acts_once
def words(request: HtmxRequest) -> HttpResponse:
    """What forms are for and what bodies are, as customs read them."""
    forms_said, bodies = selectors.customs_words()
    form = CustomsWordsForm(request.POST or None, forms_said=forms_said, bodies=bodies)

    def page() -> HttpResponse:
        context = {"form": form, "forms_said": forms_said, "bodies": bodies}
        return render(request, "parcels/customs_words.html", context, status=_status(form))

    if request.method == "GET":
        return page()
    return saved(
        request,
        form,
        lambda who: services.set_customs_words(**form.values(), **who),
        to="parcels:customs-words",
        again=page,
    )


def _status(form: BaseForm) -> int:
    return 422 if form.errors else 200
