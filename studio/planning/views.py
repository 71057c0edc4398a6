"""Which pages does the plan have?"""

from __future__ import annotations

import logging

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.craft.backplan import NotFoundInTime, UnsoundPlan
from studio.craft.problem import BadProblem
from studio.planning import papers, selectors, services
from studio.planning.forms import DayOffForm, HandsForm, RuleForm, WorkOutForm
from studio.planning.models import BackPlan, DayOff
from studio.planning.selectors.question import ask
from studio.planning.services.seek import Answer, BrokenPlan, seek
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before
from studio.web.refusal import Refusal
from studio.web.said import say_caution, say_done
from studio.web.selectors import the_studio

log = logging.getLogger(__name__)

UNSOUND = (
    "The plan that was found did not pass its check, so it was not kept. That is a fault of the "
    "program: please report it. Looking for another length of time may find a sound one."
)


@require_GET
def plan(request: HtmxRequest) -> HttpResponse:
    """The plan that waits to be accepted, else the one in force, else how to get one."""
    return _page(request, selectors.proposed() or selectors.in_force())


@require_GET
def one(request: HtmxRequest, backplan_id: int) -> HttpResponse:
    """One plan of now or before."""
    return _page(request, get_object_or_404(BackPlan, id=backplan_id))


@require_POST
def work_out(request: HtmxRequest) -> HttpResponse:
    """Seek a plan, outside any transaction, and store it as a proposal."""
    with services.one_at_a_time(request.POST.get("form_key", "")):
        return answered_before(request) or _sought(request)


def _sought(request: HtmxRequest) -> HttpResponse:
    form = WorkOutForm(request.POST)
    if not form.is_valid():
        return _page(request, None, form=form)
    try:
        now = timezone.now()
        answer = seek(today_date=timezone.localdate(now), now=now, **form.cleaned_data)
    except BadProblem as problem:
        return _page(request, None, form=form, causes=problem.causes)
    except NotFoundInTime as late:
        form.add_error("seconds", f"No plan was found in {late.seconds:g} seconds. Look longer.")
        return _page(request, None, form=form)
    except (BrokenPlan, UnsoundPlan):
        log.exception("A plan did not pass its check")
        form.add_error(None, UNSOUND)
        return _page(request, None, form=form)
    return acting_once(request, lambda: _proposed(request, answer))


def _proposed(request: HtmxRequest, answer: Answer) -> str:
    backplan = services.propose(answer=answer, by=request.user, at=timezone.now())
    return reverse("planning:one", args=[backplan.pk])


@require_POST
def accept(request: HtmxRequest, backplan_id: int) -> HttpResponse:
    """Put a proposal in force; say what moved since it was worked out."""
    if first := answered_before(request):
        return first
    backplan = get_object_or_404(BackPlan, id=backplan_id)
    if sentence := selectors.unreadable(backplan):
        return _page(request, None, causes=(sentence,))
    now = timezone.now()
    # Asking the whole question again takes a while, so it is done before the database is held.
    moved = selectors.drift(backplan=backplan, today_date=timezone.localdate(now), now=now)
    return acting_once(request, lambda: _accepted(request, backplan, moved))


def _accepted(request: HtmxRequest, backplan: BackPlan, moved: str) -> str:
    say_done(request, services.accept(backplan=backplan, by=request.user, at=timezone.now()))
    if moved:
        say_caution(request, moved)
    return reverse("planning:one", args=[backplan.pk])


@require_POST
@acts_once
def put_aside(request: HtmxRequest, backplan_id: int) -> HttpResponse:
    """Put a proposal aside."""
    backplan = get_object_or_404(BackPlan, id=backplan_id)
    change = services.put_aside(backplan=backplan, by=request.user, at=timezone.now())
    say_done(request, change)
    return redirect("planning:plan")


@require_GET
def work_list(request: HtmxRequest, backplan_id: int) -> HttpResponse:
    """What to throw, glaze and grade day by day, to print."""
    backplan = get_object_or_404(BackPlan, id=backplan_id)
    if sentence := selectors.unreadable(backplan):
        return _page(request, None, causes=(sentence,))
    now = timezone.now()
    context = {
        "page": selectors.plan_page(backplan=backplan, now=now),
        "only": request.GET.get("only", ""),
        "today": timezone.localdate(now),
    }
    return render(request, "planning/list.html", context)


@require_GET
def paper(request: HtmxRequest, backplan_id: int) -> HttpResponse:
    """The plan as a PDF."""
    backplan = get_object_or_404(BackPlan, id=backplan_id)
    if sentence := selectors.unreadable(backplan):
        return _page(request, None, causes=(sentence,))
    sheet = "Letter" if the_studio().paper == "Letter" else "A4"
    pdf = papers.plan_paper(backplan=backplan, paper="Letter" if sheet == "Letter" else "A4")
    name = f"plan-{backplan.today_date:%Y-%m-%d}.pdf"
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )


@require_http_methods(["GET", "POST"])
@acts_once
def hands(request: HtmxRequest) -> HttpResponse:
    """How many minutes each weekday gives."""
    form = HandsForm(request.POST or None, initial=HandsForm.of_the_week())
    if request.method == "POST" and form.is_valid():
        try:
            change = services.set_hands(week=form.week(), by=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("planning:hands")
    status = 422 if form.errors else 200
    return render(request, "planning/hands.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
@acts_once
def days_off(request: HtmxRequest) -> HttpResponse:
    """The days on which nobody works."""
    today = timezone.localdate()
    form = DayOffForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            change = services.take_day_off(**form.cleaned_data, by=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error("day", str(refusal))
        else:
            say_done(request, change)
            return redirect("planning:days_off")
    context = {"form": form, "days": DayOff.objects.filter(date__gte=today)}
    return render(request, "planning/days_off.html", context, status=422 if form.errors else 200)


@require_POST
@acts_once
def work_after_all(request: HtmxRequest, day_off_id: int) -> HttpResponse:
    """Take a day off out of the list."""
    day_off = get_object_or_404(DayOff, id=day_off_id)
    change = services.work_day_after_all(day_off=day_off, by=request.user, at=timezone.now())
    say_done(request, change)
    return redirect("planning:days_off")


@require_http_methods(["GET", "POST"])
@acts_once
def rule(request: HtmxRequest) -> HttpResponse:
    """The yields and trial sizes that plans reckon with."""
    form = RuleForm(request.POST or None, initial=RuleForm.of_the_rule())
    if request.method == "POST" and form.is_valid():
        try:
            changes = services.set_reckoning(
                **form.cleaned_data, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            for change in changes:
                say_done(request, change)
            if not changes:
                say_done(request, "Nothing was changed.")
            return redirect("planning:rules")
    status = 422 if form.errors else 200
    return render(request, "planning/rules.html", {"form": form}, status=status)


def _page(
    request: HtmxRequest,
    backplan: BackPlan | None,
    *,
    form: WorkOutForm | None = None,
    causes: tuple[str, ...] = (),
) -> HttpResponse:
    now = timezone.now()
    today = timezone.localdate(now)
    if backplan is not None and (sentence := selectors.unreadable(backplan)):
        backplan, causes = None, (sentence,)
    if backplan is None and form is None and not causes:
        try:
            ask(today_date=today, now=now)
        except BadProblem as problem:
            causes = problem.causes
    context = {
        "page": selectors.plan_page(backplan=backplan, now=now) if backplan else None,
        "form": form or WorkOutForm(),
        "causes": causes,
        "proposed": selectors.proposed(),
        "in_force": selectors.in_force(),
        "today": today,
    }
    refused = form is not None
    return render(request, "planning/plan.html", context, status=422 if refused else 200)
