"""A firing's log: how it followed its programme, and which cone it reached."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.firings import papers, selectors, services
from studio.firings.forms import LogForm
from studio.firings.models import Firing
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before
from studio.web.refusal import Refusal
from studio.web.said import say_caution, say_done


def _firing(firing_id: int) -> Firing:
    found = Firing.objects.select_related("kiln__fit", "schedule")
    return get_object_or_404(found.prefetch_related("schedule__segments"), pk=firing_id)


@require_http_methods(["GET", "POST"])
def log(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Show a firing's log, and keep a new one."""
    if first := answered_before(request):
        return first
    found = _firing(firing_id)
    form = LogForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            # The file is read before anything waits for the database.
            ready = services.prepare_log(
                data=form.cleaned_data["file"].read(),
                file_name=form.cleaned_data["file"].name or "log",
                unit=form.asked_unit,
                sensor=form.cleaned_data["sensor"],
            )
        except Refusal as refusal:
            form.add_error("file", str(refusal))
        else:
            return acting_once(request, lambda: _kept(request, found, ready))
    kept = selectors.log_of(found)
    context = {
        "firing": found,
        "form": form,
        "view": selectors.log_view(found, kept) if kept else None,
        "why_not": selectors.why_no_log(found),
        "witness": found.witness_cones.all(),
        "row_words": selectors.log_rows(kept) if kept else [],
    }
    return render(request, "firings/log.html", context, status=422 if form.errors else 200)


def _kept(request: HtmxRequest, firing: Firing, ready: services.ReadyLog) -> str:
    change = services.keep_log(firing=firing, ready=ready, by=request.user, at=timezone.now())
    say_done(request, change)
    if odd := selectors.odd_start(firing, started_at=ready.started_at):
        say_caution(request, odd)
    return reverse("firings:log", args=[firing.pk])


@require_POST
@acts_once
def take_log_away(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Take a firing's log away."""
    found = _firing(firing_id)
    say_done(request, services.take_log_away(firing=found, by=request.user, at=timezone.now()))
    return redirect("firings:firing", found.pk)


@require_GET
def log_paper(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """A firing's log as a PDF."""
    found = _firing(firing_id)
    kept = selectors.log_of(found)
    if kept is None:
        raise Http404("this firing has no log")
    response = HttpResponse(papers.log_sheet(found, kept), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="log-{found.pk}.pdf"'
    return response
