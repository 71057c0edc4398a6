"""Plan a firing, look at one, move it, note it, call it off; what was fired before."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.firings import papers, rules, selectors, services
from studio.firings.forms import NoteForm, PlanForm, ShiftForm
from studio.firings.models import Firing
from studio.firings.views.results import results_of
from studio.wares.models import Line
from studio.wares.services.standing import set_standing
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.said import say_done
from studio.web.selectors import temperature_unit

CAUTIONS = {
    "planned": rules.LOADING,
    "loaded": rules.LOADING,
    "firing": rules.COOLING,
    "cooling": rules.OPENING,
}


def _firing(firing_id: int) -> Firing:
    return get_object_or_404(
        Firing.objects.select_related(
            "kiln__circuit", "kiln__fit", "schedule", "drawn"
        ).prefetch_related("schedule__segments"),
        pk=firing_id,
    )


@require_GET
def past(request: HtmxRequest) -> HttpResponse:
    """Opened and called-off firings, the latest first."""
    page = Paginator(selectors.past_firings(), 50).get_page(request.GET.get("page"))
    return render(request, "firings/past.html", {"page": page})


@require_http_methods(["GET", "POST"])
@acts_once
def plan(request: HtmxRequest) -> HttpResponse:
    """Put a firing on a kiln's days."""
    first = {"kiln": request.GET.get("kiln"), "start_date": timezone.localdate()}
    form = PlanForm(request.POST or None, initial=first)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            change = services.plan_firing(
                kiln=typed["kiln"],
                schedule=typed["schedule"],
                start_date=typed["start_date"],
                wares=typed["wares"],
                note=typed["note"],
                by=request.user,
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("firings:firing", change.subject_id)
    status = 422 if form.errors else 200
    return render(request, "firings/plan.html", {"form": form}, status=status)


@require_GET
def firing(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """One firing: what it holds, what may go in, and its next step as the biggest button."""
    return render(request, "firings/firing.html", _shown(_firing(firing_id)))


def _shown(found: Firing) -> dict[str, Any]:
    now = timezone.now()
    takes_ware = found.state in ("planned", "loaded")
    fill = selectors.firing_fill(found)
    load = selectors.load_of(found) if takes_ware else None
    choices = selectors.loadable_boards(found, load=load) if load else []
    return {
        "firing": found,
        "fill": fill,
        "standing": selectors.boards_in(found),
        "is_drawn": hasattr(found, "drawn"),
        "may": [choice for choice in choices if not choice.refusal],
        "may_not": [choice for choice in choices if choice.refusal],
        "meant": selectors.meant(found),
        "takes_ware": takes_ware,
        "why_no_ware": rules.takes_ware(load=load) if load else "",
        "why_not_light": selectors.why_not_light(
            found,
            lit_at=now,
            at=now,
            pieces=fill.pieces if takes_ware else None,
            busy=load.busy_with if load else None,
        ),
        "why_not_shift": rules.can_shift(state=found.state),
        "why_not_call_off": rules.can_call_off(state=found.state, kiln=found.kiln.name),
        "cone_words": rules.cone_words(found.schedule.cone, unit=temperature_unit()),
        "expected": (hopes := selectors.expected(found)),
        "is_early": hopes is not None and now < hopes.early_at,
        "watch": selectors.watch_of(found),
        "hours": selectors.hours_of(kiln=found.kiln, schedule=found.schedule),
        "curve": selectors.curve_of(found.schedule),
        "steps": selectors.steps_of(found.schedule),
        **(results_of(found) if found.state == "opened" else {}),
        "witness": found.witness_cones.all(),
        "log": (log := selectors.log_of(found) if found.lit_at else None),
        "log_outside": selectors.outside(found, log) if log else None,
        "log_cone": selectors.cone_of(found, log) if log else None,
        "note_form": NoteForm(initial={"text": found.note}),
        "changes": (changes := selectors.changes_of(found)),
        "undoable": selectors.undoable(changes),
        "caution": CAUTIONS.get(found.state),
        "now": now,
    }


@require_http_methods(["GET", "POST"])
@acts_once
def shift(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Put a planned firing on other days."""
    found = _firing(firing_id)
    form = ShiftForm(request.POST or None, initial={"start_date": found.start_date})
    change = acted(
        request,
        form,
        lambda: services.shift(
            firing=found, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
    )
    if change is not None:
        return redirect("firings:firing", found.pk)
    context = {"firing": found, "form": form, "why_not": rules.can_shift(state=found.state)}
    return render(request, "firings/shift.html", context, status=422 if form.errors else 200)


@require_POST
@acts_once
def note(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Write a note on a firing."""
    found = _firing(firing_id)
    form = NoteForm(request.POST)
    if not form.is_valid():
        raise Refusal(str(next(iter(form.errors.values()))[0]))
    change = services.note(firing=found, **form.cleaned_data, by=request.user, at=timezone.now())
    say_done(request, change)
    return redirect("firings:firing", found.pk)


@require_POST
@acts_once
def call_off(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """Call off a firing that was not lit."""
    found = _firing(firing_id)
    say_done(request, services.call_off(firing=found, by=request.user, at=timezone.now()))
    return redirect("firings:firing", found.pk)


@require_POST
@acts_once
def standing(request: HtmxRequest, firing_id: int, line_id: int, standing: str) -> HttpResponse:
    """Call a line that came out of this firing proven, or untried again."""
    found = _firing(firing_id)
    line = get_object_or_404(Line, pk=line_id)
    say_done(
        request, set_standing(line=line, standing=standing, by=request.user, at=timezone.now())
    )
    return redirect("firings:firing", found.pk)


@require_GET
def sheet(request: HtmxRequest, firing_id: int) -> HttpResponse:
    """The load sheet for the kiln's side, as a PDF."""
    found = _firing(firing_id)
    response = HttpResponse(papers.load_sheet(found), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="load-{found.pk}.pdf"'
    return response
