"""The ledger of turns, the rule behind it, and one supporter's turn on paper."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.parcels import papers, rules, selectors, services
from studio.parcels.forms import TurnRuleForm
from studio.parcels.models import Supporter
from studio.parcels.views.posted import saved
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once

ON_A_PAGE = 25


@require_http_methods(["GET", "POST"])
@acts_once
def turns(request: HtmxRequest) -> HttpResponse:
    """The ledger of turns, the next first, and the rule behind it."""
    rule = selectors.turn_rule()
    form = TurnRuleForm(request.POST or None, rule=rule)

    def page() -> HttpResponse:
        lines = selectors.ledger_lines(today_date=timezone.localdate(), rule=rule)
        context = {
            "form": form,
            "page": Paginator(lines, ON_A_PAGE).get_page(request.GET.get("page")),
            "eligible": sum(line.eligible for line in lines),
            "rule": rules.rule_words(is_equal=rule.equal_turns, months_needed=rule.months_needed),
        }
        return render(request, "parcels/turns.html", context, status=422 if form.errors else 200)

    if request.method == "GET":
        return page()
    return saved(
        request,
        form,
        lambda who: services.set_turn_rule(**form.cleaned_data, **who),
        to="parcels:turns",
        again=page,
    )


@require_GET
def turn_sheet(request: HtmxRequest, supporter_id: int) -> HttpResponse:
    """One supporter's turn as a PDF that shows nobody else."""
    person = get_object_or_404(Supporter, id=supporter_id)
    data = papers.turn_paper(person, today_date=timezone.localdate())
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="turn-{person.number}.pdf"'
    response["Cache-Control"] = "no-store"
    return response
