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
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.refusal import Refusal
from studio.web.said import say_done


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
    if request.method == "POST" and form.is_valid():
        try:
            change = services.make_sale_day(**form.cleaned_data, by=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("sales:sale", change.subject_id)
    return _page(request, "sales/sale_form.html", form)


@require_http_methods(["GET", "POST"])
@acts_once
def edit_sale(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """Change a sale day."""
    day = get_object_or_404(SaleDay, id=sale_id)
    form = SaleDayForm(request.POST or None, sale_day=day)
    if request.method == "POST" and form.is_valid():
        try:
            change = services.change_sale_day(
                sale_day=day, **form.cleaned_data, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("sales:sale", day.id)
    return _page(request, "sales/sale_form.html", form, day=day)


@require_GET
def sale(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """One sale day: its wants, what is listed and sold, and the sums of the studio."""
    day = get_object_or_404(SaleDay, id=sale_id)
    return render(request, "sales/sale.html", _sale(day, WantForm()))


@require_POST
@acts_once
def want(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """Want so many of a line."""
    day = get_object_or_404(SaleDay, id=sale_id)
    form = WantForm(request.POST)
    if form.is_valid():
        try:
            change = services.set_want(
                sale_day=day, **form.cleaned_data, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("sales:sale", day.id)
    return render(request, "sales/sale.html", _sale(day, form), status=422)


@require_POST
@acts_once
def drop_want(request: HtmxRequest, want_id: int) -> HttpResponse:
    """Want a line no longer."""
    found = get_object_or_404(Want, id=want_id)
    day_id = found.sale_day_id
    say_done(request, services.drop_want(want=found, by=request.user, at=timezone.now()))
    return redirect("sales:sale", day_id)


@require_http_methods(["GET", "POST"])
@acts_once
def offer(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """List free graded pieces for a sale."""
    day = get_object_or_404(SaleDay, id=sale_id)
    form = OfferForm(request.POST or None, groups=selectors.offer_groups(day))
    if request.method == "POST" and form.is_valid():
        try:
            change = services.list_for_sale(
                sale_day=day,
                prices_pence=form.cleaned_data["prices_pence"],
                by=request.user,
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            say_done(request, change)
            return redirect("sales:sale", day.id)
    cannot = selectors.cannot_offer(sale_day=day, now=timezone.now())
    return _page(request, "sales/offer.html", form, day=day, cannot=cannot)


@require_POST
@acts_once
def listed(request: HtmxRequest, sale_id: int) -> HttpResponse:
    """Sell, claim, release or take back listed pieces."""
    day = get_object_or_404(SaleDay, id=sale_id)
    form = ListedForm(request.POST, sale_day=day)
    if not form.is_valid():
        raise Refusal(form.sentence())
    who: dict[str, Any] = {"by": request.user, "at": timezone.now()}
    pieces = list(Piece.objects.filter(id__in=form.cleaned_data["piece"]))
    match form.cleaned_data["do"]:
        case "sell":
            to_claimants = form.cleaned_data["to_claimants"]
            claims = _claims(day, pieces)
            if claims and not to_claimants:
                return _ask_claims(request, day, pieces, claims)
            change = services.sell(sale_day=day, pieces=pieces, to_claimants=to_claimants, **who)
        case "claim":
            for_whom = form.cleaned_data["for_whom"]
            change = services.claim(sale_day=day, pieces=pieces, for_whom=for_whom, **who)
        case "release":
            change = services.release(sale_day=day, pieces=pieces, **who)
        case _:
            change = services.take_back(sale_day=day, pieces=pieces, **who)
    say_done(request, change)
    return redirect("sales:sale", day.id)


def _claims(day: SaleDay, pieces: list[Piece]) -> list[tuple[Piece, str]]:
    ids = [piece.id for piece in pieces]
    return selectors.claims_of(selectors.listings_of(sale_day=day, ids=ids))


def _ask_claims(
    request: HtmxRequest, day: SaleDay, pieces: list[Piece], claims: list[tuple[Piece, str]]
) -> HttpResponse:
    """Ask whether claimed pieces are sold to those who claimed them. Nothing is saved."""
    named = [(str(piece), name) for piece, name in claims]
    context = {
        "day": day,
        "pieces": pieces,
        "claims": claims,
        "cannot": rules.can_sell_claimed(claims=named, to_claimants=False),
    }
    return render(request, "sales/sell_claimed.html", context, status=409)


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


def _sale(day: SaleDay, form: WantForm) -> dict[str, Any]:
    now = timezone.now()
    rows = selectors.want_rows(day)
    sold = selectors.sold_listings(day)
    return {
        "day": day,
        "rows": rows,
        "wanted": sum(row.want.count for row in rows),
        "short": sum(row.short for row in rows),
        "ready_by": selectors.ready_by_date(day),
        "form": form,
        "cannot_want": selectors.cannot_want(sale_day=day, count=1, now=now),
        "cannot_offer": selectors.cannot_offer(sale_day=day, now=now),
        "listed": selectors.listed_pieces(day),
        "sold": sold,
        "takings_pence": selectors.takings_pence(sold),
        "sums": wares_selectors.sums(),
        "zone": timezone.get_current_timezone_name(),
    }
