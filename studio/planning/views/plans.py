"""Which pages does the plan have?"""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from studio.craft.problem import BadProblem
from studio.planning import papers, rules, selectors, services
from studio.planning.forms import AcceptForm, WorkOutForm
from studio.planning.models import BackPlan
from studio.planning.selectors.question import ask
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before, refused
from studio.web.said import say_caution, say_done
from studio.web.selectors import the_studio


@require_GET
def plan(request: HtmxRequest) -> HttpResponse:
    """The plan that waits to be accepted, else the one in force, else how to get one."""
    return plan_or_why(request, selectors.proposed() or selectors.in_force())


@require_GET
def one(request: HtmxRequest, backplan_id: int) -> HttpResponse:
    """One plan of now or before."""
    return plan_or_why(request, get_object_or_404(BackPlan, id=backplan_id))


@require_POST
def accept(request: HtmxRequest, backplan_id: int) -> HttpResponse:
    """Put a proposal in force; say what moved since it was worked out."""
    if first := answered_before(request):
        return first
    backplan = get_object_or_404(BackPlan, id=backplan_id)
    if sentence := selectors.unreadable(backplan):
        return plan_or_why(request, None, causes=(sentence,))
    problem, plan, _ = selectors.stored(backplan)
    idle = [firing.pk for firing in selectors.not_needed(problem=problem, plan=plan)]
    form = AcceptForm(request.POST, plan=plan, not_needed=idle)
    if not form.is_valid():
        return refused(request, rules.NO_SUCH_PART, status=409)
    now, out = timezone.now(), form.left_out()
    # Asking what moved takes a while, so it is done before the database is held.
    cautions = [
        selectors.drift(backplan=backplan, today_date=timezone.localdate(now), now=now),
        rules.lost_in_part(
            selectors.lost_without(problem=problem, plan=plan, loads=out.loads, jobs=out.jobs)
        ),
    ]
    return acting_once(request, lambda: _accepted(request, backplan, out, cautions))


def _accepted(
    request: HtmxRequest, backplan: BackPlan, left_out: services.LeftOut, cautions: list[str]
) -> str:
    change = services.accept(
        backplan=backplan, left_out=left_out, by=request.user, at=timezone.now()
    )
    say_done(request, change)
    for sentence in filter(None, cautions):
        say_caution(request, sentence)
    return reverse("planning:one", args=[backplan.pk])


@require_POST
@acts_once
def choose(request: HtmxRequest, backplan_id: int) -> HttpResponse:
    """Propose the other plan of the same question, at its price."""
    backplan = get_object_or_404(BackPlan, id=backplan_id)
    if sentence := selectors.unreadable(backplan):
        return plan_or_why(request, None, causes=(sentence,))
    change = services.choose_other(backplan=backplan, by=request.user, at=timezone.now())
    say_done(request, change)
    return redirect("planning:one", backplan.pk)


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
        return plan_or_why(request, None, causes=(sentence,))
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
        return plan_or_why(request, None, causes=(sentence,))
    sheet = "Letter" if the_studio().paper == "Letter" else "A4"
    pdf = papers.plan_paper(backplan=backplan, paper="Letter" if sheet == "Letter" else "A4")
    name = f"plan-{backplan.today_date:%Y-%m-%d}.pdf"
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )


def plan_or_why(
    request: HtmxRequest,
    backplan: BackPlan | None,
    *,
    form: WorkOutForm | None = None,
    causes: tuple[str, ...] = (),
) -> HttpResponse:
    """The page of a plan, or without one the page that says why and how to get one."""
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
        "looking": selectors.search_now(now=now),
        "today": today,
    }
    return render(request, "planning/plan.html", context, status=200 if form is None else 422)
