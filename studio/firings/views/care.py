"""The care of a kiln: what is due, what was done, and when it is due again."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.firings import rules, selectors, services
from studio.firings.forms import CareForm, CareRulesForm
from studio.firings.models import Kiln
from studio.wares.selectors import kiln_trials
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.said import say_caution, say_done
from studio.web.templatetags.web import plural


@require_http_methods(["GET", "POST"])
@acts_once
def care(request: HtmxRequest, kiln_id: int) -> HttpResponse:
    """Show what is due in a kiln, and record what was done."""
    found, today = get_object_or_404(Kiln, pk=kiln_id), timezone.localdate()
    first = {"on_date": today, "part": request.GET.get("part"), "did": request.GET.get("did")}
    form = CareForm(request.POST or None, initial=first, fuel=found.fuel)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            change = services.record_care(kiln=found, **typed, by=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            if typed["did"] == "changed" and (what := rules.CHANGED_SAYS.get(typed["part"])):
                tried = plural(len(kiln_trials(kiln_id=found.pk)), "line is,lines are")
                say_caution(request, f"{what} {tried} on trial in it now.")
            return redirect("firings:care", found.pk)
    [all_care] = selectors.care_of([found], today_date=today)
    context = {
        "kiln": found,
        "care": all_care,
        "form": form,
        "today": today,
        "done": found.cares.select_related("by")[:30],
        "longer": selectors.longer_now([found]).get(found.pk),
        "caution": rules.WORKING,
        "tried": kiln_trials(kiln_id=found.pk),
    }
    return render(request, "firings/care.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@acts_once
def care_rules(request: HtmxRequest, kiln_id: int) -> HttpResponse:
    """Say when the parts of a kiln are due and how long its elements last."""
    found = get_object_or_404(Kiln, pk=kiln_id)
    intervals, lives = selectors.care_numbers(found)
    form = CareRulesForm(request.POST or None, intervals=intervals, lives=lives)
    change = acted(
        request,
        form,
        lambda: services.set_care(
            kiln=found,
            intervals=form.intervals,
            lives=form.lives,
            by=request.user,
            at=timezone.now(),
        ),
    )
    if change is not None:
        return redirect("firings:care", found.pk)
    context = {"kiln": found, "form": form, "sources": rules.SOURCES}
    return render(request, "firings/care_rules.html", context, status=422 if form.errors else 200)
