"""Where does a search for a plan begin, how far has it come, and where is it stopped?"""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import HttpResponseClientRedirect

from studio.craft.problem import BadProblem
from studio.planning import selectors, services
from studio.planning.forms import WorkOutForm
from studio.planning.models import Search
from studio.planning.views.plans import plan_or_why
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before


@require_POST
def work_out(request: HtmxRequest) -> HttpResponse:
    """Ask the question of today and begin to look for a plan beside this request."""
    if first := answered_before(request):
        return first
    form = WorkOutForm(request.POST)
    if not form.is_valid():
        return plan_or_why(request, None, form=form)
    now = timezone.now()
    seconds = form.cleaned_data.pop("seconds")
    try:
        # Asking takes a while, so it is done before the database is held.
        question = selectors.ask(today_date=timezone.localdate(now), now=now, **form.cleaned_data)
    except BadProblem as problem:
        return plan_or_why(request, None, form=form, causes=problem.causes)

    def begun() -> str:
        search = services.begin(
            question=question,
            freed=form.cleaned_data["freed"],
            seconds=seconds,
            by=request.user,
            at=now,
        )
        return reverse("planning:search", args=[search.pk])

    return acting_once(request, begun)


@require_GET
def search(request: HtmxRequest, search_id: int) -> HttpResponse:
    """How far a search has come; once it has a plan to show, that plan."""
    found = get_object_or_404(Search.objects.select_related("by"), id=search_id)
    now = timezone.now()
    if services.tend(search=found, at=now):
        found.refresh_from_db()
    if found.backplan_id is not None:
        there = reverse("planning:one", args=[found.backplan_id])
        return HttpResponseClientRedirect(there) if request.htmx else redirect(there)
    context = {"search": selectors.search_page(search=found, now=now)}
    if found.state == Search.State.LOOKING or not request.htmx:
        part = "looking" if request.htmx else "search"
        return render(request, f"planning/{part}.html", context)
    return HttpResponseClientRedirect(reverse("planning:search", args=[found.pk]))


@require_POST
@acts_once
def stop(request: HtmxRequest, search_id: int) -> HttpResponse:
    """End a search and keep its best."""
    found = get_object_or_404(Search, id=search_id)
    services.ask_to_stop(search=found, at=timezone.now())
    return redirect("planning:search", found.pk)
