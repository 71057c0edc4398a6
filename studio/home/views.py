"""What does today ask for, what was done, and how is the studio set up?"""

from __future__ import annotations

from django.conf import settings as conf
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.drawing.photos import BadPhoto, keep_photo
from studio.home import selectors, services
from studio.home.first_steps import first_steps
from studio.home.forms import StudioForm
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before
from studio.web.models import Change, Studio
from studio.web.said import say_done

RECORDS_ON_A_PAGE = 20


@require_GET
def today(request: HtmxRequest) -> HttpResponse:
    """Show what the kilns, the plan, the boards and the parcels ask for."""
    day = timezone.localdate()
    services.tidy(today_date=day)
    context = {
        "day": day,
        "groups": selectors.asks(today_date=day),
        "day_off": selectors.day_off(today_date=day),
        "steps": first_steps(),
    }
    return render(request, "home/today.html", context)


@require_GET
def records(request: HtmxRequest) -> HttpResponse:
    """Show every change, or those that say a word, the newest first, each with its undo."""
    word = request.GET.get("word", "").strip()[:60].replace("\0", "")
    pages = Paginator(selectors.changes(word=word), RECORDS_ON_A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    return render(request, "home/records.html", {"page": page, "word": word})


@require_POST
@acts_once
def undo(request: HtmxRequest, change_id: int) -> HttpResponse:
    """Undo one change and go back to where the button stood."""
    change = get_object_or_404(Change, id=change_id)
    undone = services.undo(change=change, by=request.user, at=timezone.now())
    say_done(request, undone)
    back = request.headers.get("Referer", "")
    if url_has_allowed_host_and_scheme(back, {request.get_host()}):
        return redirect(back)
    return redirect("records")


@require_http_methods(["GET", "POST"])
def settings(request: HtmxRequest) -> HttpResponse:
    """Show and keep the studio's name, address, units and mark."""
    if first := answered_before(request):
        return first
    form = StudioForm(
        request.POST or None, request.FILES or None, instance=selectors.studio_to_edit()
    )
    if request.method == "POST" and form.is_valid():
        studio = form.save(commit=False)
        try:
            # A picture is decoded before anything waits for the database.
            if data := form.mark_data():
                studio.mark = keep_photo(data=data, folder=conf.MEDIA_ROOT).name
        except BadPhoto as refused:
            form.add_error("new_mark", str(refused))
        else:
            return acting_once(request, lambda: _kept(request, studio))
    return render(request, "home/settings.html", {"form": form}, status=422 if form.errors else 200)


def _kept(request: HtmxRequest, studio: Studio) -> str:
    say_done(request, services.keep_studio(studio=studio, by=request.user, at=timezone.now()))
    return reverse("settings")
