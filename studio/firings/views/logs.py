"""A firing's log: how it followed its programme, and which cone it reached."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.firings import papers, selectors, services
from studio.firings.forms import LogForm, LogPartForm
from studio.firings.models import Firing
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before
from studio.web.refusal import Refusal
from studio.web.said import say_done


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
    return _page(request, found, form, LogPartForm())


def _page(
    request: HtmxRequest, firing: Firing, form: LogForm, part_form: LogPartForm
) -> HttpResponse:
    kept = selectors.log_of(firing)
    context = {
        "firing": firing,
        "form": form,
        "part_form": part_form,
        "outside": selectors.outside(firing, kept) if kept else None,
        "whole_h": selectors.points_of(kept, whole=True)[-1][0] if kept else None,
        "view": selectors.log_view(firing, kept) if kept else None,
        "why_not": selectors.why_no_log(firing),
        "witness": firing.witness_cones.all(),
        "row_words": selectors.log_rows(kept) if kept else [],
    }
    wrong = form.errors or part_form.errors
    return render(request, "firings/log.html", context, status=422 if wrong else 200)


def _kept(request: HtmxRequest, firing: Firing, ready: services.ReadyLog) -> str:
    change = services.keep_log(firing=firing, ready=ready, by=request.user, at=timezone.now())
    say_done(request, change)
    return reverse("firings:log", args=[firing.pk])


@require_POST
@acts_once
def log_part(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Say which hours of a firing's log are its own."""
    found, form = _firing(firing_id), LogPartForm(request.POST)
    if form.is_valid():
        try:
            change = services.choose_log_part(
                firing=found, **form.cleaned_data, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("firings:log", found.pk)
    return _page(request, found, LogForm(), form)


@require_POST
@acts_once
def log_move(request: HtmxRequest, firing_id: int, to_id: int) -> HttpResponse:
    """Give a firing's log to the firing it is of."""
    found, other = _firing(firing_id), _firing(to_id)
    say_done(
        request,
        services.move_log(firing=found, to=other, by=request.user, at=timezone.now()),
    )
    return redirect("firings:log", other.pk)


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
