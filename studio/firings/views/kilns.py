"""The kilns as they are now; one kiln, its runs, its circuit."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.firings import rules, selectors, services
from studio.firings.forms import CircuitForm, KilnForm, RunForm, seen_token
from studio.firings.models import Circuit, Kiln
from studio.wares.selectors import kiln_trials
from studio.web.acting import acted
from studio.web.fields import row_number
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.said import say_done


@require_GET
def kilns(request: HtmxRequest) -> HttpResponse:
    """Every kiln: free, loaded, firing or cooling, and what comes next."""
    now = timezone.now()
    rows = [
        (found, selectors.firing_fill(found.firing) if found.firing else None)
        for found in selectors.kilns_now(now=now)
    ]
    context = {
        "rows": rows,
        "now": now,
        "planned": selectors.planned_from(timezone.localdate()),
        "circuits": Circuit.objects.prefetch_related("kiln_set"),
    }
    return render(request, "firings/kilns.html", context)


@require_GET
def kiln(request: HtmxRequest, kiln_id: int) -> HttpResponse:
    """One kiln: its sizes, its runs, its firings."""
    found = get_object_or_404(Kiln.objects.select_related("circuit", "fit"), pk=kiln_id)
    now = next(one for one in selectors.kilns_now(now=timezone.now()) if one.kiln == found)
    context = {
        "kiln": found,
        "now": now,
        "fill": selectors.firing_fill(now.firing) if now.firing else None,
        "runs": selectors.runs_of(found),
        "coming": selectors.planned_from(timezone.localdate()).filter(kiln=found),
        "past": selectors.past_firings().filter(kiln=found)[:10],
        "litres": selectors.litres(found),
        "shelves": found.shelves.all(),
        "posts": found.posts.all(),
        "mugs": {kind: selectors.mugs_found(found, kind) for kind in ("glaze", "bisque")},
        "by_place": selectors.results_by_place(found),
        "care": selectors.care_of([found], today_date=timezone.localdate())[0],
        "tried": kiln_trials(kiln_id=found.pk),
        "longer": selectors.longer_now([found]).get(found.pk),
        "fit": selectors.own_fit(found),
        "facts": rules.facts(kind="", fuel=found.fuel),
        "own_offset": selectors.offset_words(found),
        "knee_c": selectors.default_law(found).knee_c,
    }
    return render(request, "firings/kiln.html", context)


@require_http_methods(["GET", "POST"])
@acts_once
def edit_kiln(request: HtmxRequest, kiln_id: int | None = None) -> HttpResponse:
    """Add a kiln or change one."""
    found = get_object_or_404(Kiln, pk=kiln_id) if kiln_id else None
    form = KilnForm(request.POST or None, initial=KilnForm.first_values(found) if found else None)
    change = acted(
        request,
        form,
        lambda: services.save_kiln(
            kiln=found,
            values=form.values,
            seen=request.POST.get("seen"),
            by=request.user,
            at=timezone.now(),
        ),
    )
    if change is not None:
        return redirect("firings:kiln", change.subject_id)
    context = {"kiln": found, "form": form, "seen": seen_token(request, found)}
    return render(request, "firings/kiln_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@acts_once
def edit_run(request: HtmxRequest, kiln_id: int) -> HttpResponse:
    """Say how a kiln runs a schedule."""
    found = get_object_or_404(Kiln, pk=kiln_id)
    asked = row_number(request.GET.get("schedule", ""))
    run = found.runs.filter(schedule_id=asked).first() if asked is not None else None
    price = selectors.fuel_price(found)
    form = RunForm(
        request.POST or None,
        initial=selectors.first_run_values(found, run),
        fuel=found.fuel,
        unit=price.get_unit_display() if price else "",
    )
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            change = services.save_run(
                kiln=found,
                schedule=typed["schedule"],
                busy_days=typed["busy_days"],
                cost_pence=typed["cost_pence"],
                energy_wh=form.energy_wh,
                fuel_thousandths=form.fuel_thousandths,
                by=request.user,
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("firings:kiln", found.pk)
    context = {"kiln": found, "form": form}
    return render(request, "firings/run_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@acts_once
def edit_circuit(request: HtmxRequest, circuit_id: int | None = None) -> HttpResponse:
    """Say how many kilns of a circuit may heat at once."""
    found = get_object_or_404(Circuit, pk=circuit_id) if circuit_id else None
    first = {"name": found.name, "at_once": found.at_once} if found else None
    form = CircuitForm(request.POST or None, initial=first)
    change = acted(
        request,
        form,
        lambda: services.save_circuit(
            circuit=found,
            values=form.cleaned_data,
            seen=request.POST.get("seen"),
            by=request.user,
            at=timezone.now(),
        ),
    )
    if change is not None:
        return redirect("firings:kilns")
    context = {"circuit": found, "form": form, "seen": seen_token(request, found)}
    return render(request, "firings/circuit_form.html", context, status=422 if form.errors else 200)
