"""Which pages does a sale have?"""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.sales import rules, selectors, services
from studio.sales.forms import ListedForm, OfferForm, SaleDayForm
from studio.sales.models import SaleDay, Want
from studio.wares import selectors as wares_selectors
from studio.wares.forms.wanting import WantForm
from studio.wares.models import Piece
from studio.web.acting import acted, all_wrong
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.models import Change
from studio.web.said import say_done

SHOWN_OPEN = 8
"""So many pieces of a sale are shown at once; more are folded by line."""


@require_GET
def sales(request: HtmxRequest) -> HttpResponse:
    """Every sale day: what comes, and what was."""
    now = timezone.now()
    context = {
        "coming": selectors.summaries(list(selectors.upcoming(now))),
        "past": selectors.summaries(list(selectors.past(now)[:30])),
    }
    return render(request, "sales/sales.html", context)


@require_http_methods(["GET", "POST"])
@acts_once
def new_sale(request: HtmxRequest) -> HttpResponse:
    """Set a sale day."""
    form = SaleDayForm(request.POST or None)
    change = acted(
        request, form, lambda: services.make_sale_day(**form.cleaned_data, **_who(request))
    )
    if change:
        return redirect("sales:sale", change.subject_id)
    return _page(request, "sales/sale_form.html", form)


@require_http_methods(["GET", "POST"])
@acts_once
def edit_sale(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """Change a sale day."""
    day = get_object_or_404(SaleDay, id=sale_id)
    form = SaleDayForm(request.POST or None, sale_day=day)

    def act() -> Change:
        return services.change_sale_day(sale_day=day, **form.cleaned_data, **_who(request))

    if acted(request, form, act):
        return redirect("sales:sale", day.id)
    return _page(request, "sales/sale_form.html", form, day=day)


@require_GET
def sale(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """One sale day: its wants, what is listed and sold, and the sums of the studio."""
    day = get_object_or_404(SaleDay, id=sale_id)
    return render(request, "sales/sale.html", _sale(day))


@require_POST
@acts_once
def want(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """Want so many of a line."""
    day = get_object_or_404(SaleDay, id=sale_id)
    form = WantForm(request.POST)

    def act() -> Change:
        return services.set_want(sale_day=day, **form.cleaned_data, **_who(request))

    if acted(request, form, act):
        return redirect("sales:sale", day.id)
    return render(request, "sales/sale.html", _sale(day, want_form=form), status=422)


@require_POST
@acts_once
def drop_want(request: HtmxRequest, want_id: int) -> HttpResponse:
    """Want a line no longer."""
    found = get_object_or_404(Want, id=want_id)
    day_id = found.sale_day_id
    say_done(request, services.drop_want(want=found, **_who(request)))
    return redirect("sales:sale", day_id)


@require_http_methods(["GET", "POST"])
@acts_once
def offer(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """List free graded pieces for a sale."""
    day = get_object_or_404(SaleDay, id=sale_id)
    groups = selectors.offer_groups(day)
    form = OfferForm(request.POST or None, groups=groups, fill="fill" in request.GET)

    def act() -> Change:
        prices = form.cleaned_data["prices_pence"]
        return services.list_for_sale(sale_day=day, prices_pence=prices, **_who(request))

    if acted(request, form, act):
        return redirect("sales:sale", day.id)
    cannot = selectors.cannot_offer(sale_day=day, now=timezone.now())
    return _page(request, "sales/offer.html", form, day=day, cannot=cannot)


@require_POST
@acts_once
def listed(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """Sell, claim, release or take back listed pieces."""
    day = get_object_or_404(SaleDay, id=sale_id)
    form = ListedForm(request.POST, sale_day=day)
    if form.is_valid() and (claims := _claims_to_ask(day, form)):
        return _ask_claims(request, day, sorted(form.cleaned_data["ids"]), claims)
    if acted(request, form, lambda: _do(day, form, _who(request))):
        return redirect("sales:sale", day.id)
    return render(request, "sales/sale.html", _sale(day, listed_form=form), status=409)


def _do(day: SaleDay, form: ListedForm, who: dict[str, Any]) -> Change:
    """What the pressed button means for the chosen pieces."""
    pieces = list(Piece.objects.filter(id__in=form.cleaned_data["ids"]))
    match form.cleaned_data["do"]:
        case "sell":
            to_claimants = form.cleaned_data["to_claimants"]
            return services.sell(sale_day=day, pieces=pieces, to_claimants=to_claimants, **who)
        case "claim":
            for_whom = form.cleaned_data["for_whom"]
            return services.claim(sale_day=day, pieces=pieces, for_whom=for_whom, **who)
        case "release":
            return services.release(sale_day=day, pieces=pieces, **who)
        case _:
            return services.take_back(sale_day=day, pieces=pieces, **who)


def _claims_to_ask(day: SaleDay, form: ListedForm) -> list[tuple[Piece, str]]:
    """The chosen pieces that somebody claimed and that are about to be sold without a word."""
    if form.cleaned_data["do"] != "sell" or form.cleaned_data["to_claimants"]:
        return []
    found = selectors.listings_of(sale_day=day, ids=form.cleaned_data["ids"])
    return selectors.claims_of(found)


def _ask_claims(
    request: HtmxRequest, day: SaleDay, ids: list[int], claims: list[tuple[Piece, str]]
) -> HttpResponse:
    """Ask whether claimed pieces are sold to those who claimed them. Nothing is saved."""
    named = [(str(piece), name) for piece, name in claims]
    context = {
        "day": day,
        "ids": ids,
        "claims": claims,
        "cannot": rules.can_sell_claimed(claims=named, to_claimants=False),
    }
    return render(request, "sales/sell_claimed.html", context, status=409)


def _who(request: HtmxRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now()}


def _page(
    request: HtmxRequest,
    template: str,
    form: SaleDayForm | OfferForm,
    *,
    day: SaleDay | None = None,
    **more: Any,
) -> HttpResponse:
    context = {"form": form, "day": day, **more}
    return render(request, template, context, status=422 if form.errors else 200)


def _sale(
    day: SaleDay, *, want_form: WantForm | None = None, listed_form: ListedForm | None = None
) -> dict[str, Any]:
    now = timezone.now()
    rows = selectors.want_rows(day)
    return {
        "day": day,
        "rows": rows,
        "wanted": sum(row.want.count for row in rows),
        "short": sum(row.short for row in rows),
        "ready_by": selectors.ready_by_date(day),
        "want_form": want_form or WantForm(),
        "cannot_want": selectors.cannot_want(sale_day=day, count=1, now=now),
        "cannot_offer": selectors.cannot_offer(sale_day=day, now=now),
        "listed": _folded(selectors.listing_groups(sale_day=day, parting="")),
        "listed_form": listed_form or ListedForm(sale_day=day),
        "listed_wrong": all_wrong(listed_form) if listed_form else "",
        "cannot_release": selectors.cannot_release_any(day),
        "sold": _folded(selectors.listing_groups(sale_day=day, parting="sold")),
        "sums": wares_selectors.sums(),
        "zone": timezone.get_current_timezone_name(),
    }


def _folded(groups: list[selectors.ListingGroup]) -> dict[str, Any]:
    """Groups with their sums; where there are many pieces, each group is shut."""
    count = sum(len(group.rows) for group in groups)
    return {
        "groups": groups,
        "count": count,
        "pence": sum(group.pence for group in groups),
        "is_long": count > SHOWN_OPEN,
    }
