"""Supporters: the list, one of them, their tiers, and the months paid."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.parcels import address, rules, selectors, services, uploads
from studio.parcels.filters import SupporterFilter
from studio.parcels.forms import PauseForm, PaymentsForm, SupporterForm, TierForm
from studio.parcels.models import Supporter, Tier
from studio.parcels.views.posted import done, saved
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.said import say_done

ON_A_PAGE = 50


@require_GET
def supporters(request: HtmxRequest) -> HttpResponse:
    """The supporters that fit the filter."""
    found = SupporterFilter(request.GET, queryset=selectors.supporters())
    page = Paginator(found.qs, ON_A_PAGE).get_page(request.GET.get("page"))
    rest = request.GET.copy()
    rest.pop("page", None)
    return _supporters(request, found, page=page, rest=rest.urlencode(), used=any(rest.values()))


@require_POST
def find(request: HtmxRequest) -> HttpResponse:
    """Find by e-mail. Posted, because an address stands for a person and URLs are kept."""
    asked = request.POST.get("email", "").strip()
    found = list(selectors.supporters().filter(email__iexact=asked)[:1]) if asked else []
    if found:
        return redirect("parcels:supporter", found[0].id)
    everyone = SupporterFilter({}, queryset=selectors.supporters())
    page = Paginator(everyone.qs, ON_A_PAGE).get_page(1)
    return _supporters(request, everyone, page=page, not_found=asked or "nothing", status=422)


@require_GET
def supporter(request: HtmxRequest, supporter_id: int) -> HttpResponse:
    """One supporter: address, turn, and what they were sent. The look at it is kept."""
    person = _person(supporter_id)
    services.keep_looks(page="person", by=request.user, at=timezone.now(), people=[person])
    return render(request, "parcels/supporter.html", _supporter(person))


@require_http_methods(["GET", "POST"])
@acts_once
def new_supporter(request: HtmxRequest) -> HttpResponse:
    """Take a supporter in."""
    this_month = rules.month_of(timezone.localdate())
    form = SupporterForm(request.POST or None, initial={"joined_month": this_month})
    if request.method == "GET" or "look" in request.POST:
        return _supporter_form(request, form, None)
    return saved(
        request,
        form,
        lambda who: services.add_supporter(values=form.values(), **form.wishes(), **who),
        to=lambda change: ("parcels:supporter", change.subject_id),
        again=lambda: _supporter_form(request, form, None),
    )


@require_http_methods(["GET", "POST"])
@acts_once
def edit_supporter(request: HtmxRequest, supporter_id: int) -> HttpResponse:
    """Change a supporter. The look at their address is kept."""
    person = get_object_or_404(Supporter, id=supporter_id)
    if request.method == "GET":
        services.keep_looks(page="edit", by=request.user, at=timezone.now(), people=[person])
    form = SupporterForm(request.POST or None, supporter=person)
    if request.method == "GET" or "look" in request.POST:
        return _supporter_form(request, form, person)
    return saved(
        request,
        form,
        lambda who: services.change_supporter(
            supporter=person, values=form.values(), **form.wishes(), **who
        ),
        to=("parcels:supporter", person.id),
        again=lambda: _supporter_form(request, form, person),
    )


@require_POST
def address_fields(request: HtmxRequest) -> HttpResponse:
    """The address fields of the country just chosen, with what was typed. Saves nothing."""
    return render(request, "parcels/address_fields.html", {"form": _looked_at(request)})


@require_POST
@acts_once
def pause(request: HtmxRequest, supporter_id: int) -> HttpResponse:
    """Pause a supporter from one month to another."""
    person = _person(supporter_id)
    form = PauseForm(request.POST)
    return saved(
        request,
        form,
        lambda who: services.pause(supporter=person, **form.cleaned_data, **who),
        to=("parcels:supporter", person.id),
        again=lambda: _refused_on_page(request, person, pause_form=form),
        field="from_month",
    )


@require_POST
@acts_once
def go_on(request: HtmxRequest, supporter_id: int) -> HttpResponse:
    """End the pause of this month, or take one away that is named."""
    person = _person(supporter_id)
    asked = request.POST.get("drop", "")
    named = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 7 else None

    def act(who: dict[str, Any]) -> Change:
        if named is None:
            return services.go_on(supporter=person, **who)
        return services.drop_pause(supporter=person, from_month=named, **who)

    return done(request, act, to=("parcels:supporter", person.id))


@require_http_methods(["GET", "POST"])
@acts_once
def erase(request: HtmxRequest, supporter_id: int) -> HttpResponse:
    """Ask once more, then forget who a supporter is."""
    person = get_object_or_404(Supporter, id=supporter_id)
    cannot = selectors.cannot_erase(person)
    if request.method == "POST" and not cannot:
        say_done(request, services.erase(supporter=person, by=request.user, at=timezone.now()))
        uploads.forget_all()
        return redirect("parcels:supporter", person.id)
    context = {"person": person, "cannot": cannot, "alias": selectors.erased_name(person)}
    status = 409 if request.method == "POST" else 200
    return render(request, "parcels/erase.html", context, status=status)


@require_POST
@acts_once
def months(request: HtmxRequest, supporter_id: int) -> HttpResponse:
    """Set which months one supporter paid, and which were refunded or failed."""
    person = _person(supporter_id)
    form = PaymentsForm(request.POST)
    return saved(
        request,
        form,
        lambda who: services.set_payments(
            supporter=person, states=form.cleaned_data["states"], **who
        ),
        to=("parcels:supporter", person.id),
        again=lambda: _refused_on_page(request, person, payments_form=form),
        field="paid",
    )


@require_http_methods(["GET", "POST"])
@acts_once
def paid(request: HtmxRequest) -> HttpResponse:
    """Mark a month as paid for all active supporters but some."""
    asked = request.POST.get("month") or request.GET.get("month", "")
    this_month = rules.month_of(timezone.localdate())
    wrong = ""
    posted = request.method == "POST"
    try:
        month = rules.read_month(asked) if asked else this_month
    except rules.BadMonth as problem:
        month, wrong = this_month, str(problem)
    due, failed = selectors.not_paid(month), selectors.failed_in(month)
    ticked = set(request.POST.getlist("supporter"))
    if posted and not wrong:
        but = [person.id for person in due if str(person.id) not in ticked]
        try:
            change = services.mark_paid(month=month, but=but, by=request.user, at=timezone.now())
        except Refusal as refusal:
            wrong = str(refusal)
        else:
            say_done(request, change)
            return redirect("parcels:supporters")
    context = {
        "month": rules.month_text(month),
        "month_name": rules.month_name(month),
        "rows": [
            (p, str(p.id) in ticked if posted else p.id not in failed, p.id in failed) for p in due
        ],
        "wrong": wrong,
    }
    return render(request, "parcels/paid.html", context, status=422 if wrong else 200)


@require_http_methods(["GET", "POST"])
@acts_once
def tiers(request: HtmxRequest, tier_id: int | None = None) -> HttpResponse:
    """The tiers; add one or change one."""
    tier = get_object_or_404(Tier, id=tier_id) if tier_id is not None else None
    form = TierForm(request.POST or None, tier=tier)

    def page() -> HttpResponse:
        context = {"form": form, "tier": tier, "tiers": selectors.tiers()}
        return render(request, "parcels/tiers.html", context, status=422 if form.errors else 200)

    if request.method == "GET":
        return page()
    return saved(
        request,
        form,
        lambda who: services.set_tier(tier=tier, **form.values(), **who),
        to="parcels:tiers",
        again=page,
    )


def _supporters(
    request: HtmxRequest, found: SupporterFilter, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = {
        "filter": found,
        "countries": dict(address.countries()),
        "tiers": Tier.objects.exists(),
        **more,
    }
    return render(request, "parcels/supporters.html", context, status=status)


def _refused_on_page(request: HtmxRequest, person: Supporter, **forms: Any) -> HttpResponse:
    return render(request, "parcels/supporter.html", _supporter(person, **forms), status=422)


def _person(supporter_id: int) -> Supporter:
    return get_object_or_404(selectors.supporters(), id=supporter_id)


def _supporter(
    person: Supporter,
    *,
    payments_form: PaymentsForm | None = None,
    pause_form: PauseForm | None = None,
) -> dict[str, Any]:
    shown = {
        state: rules.write_months(months) for state, months in selectors.months_of(person).items()
    }
    this_month = rules.month_of(timezone.localdate())
    return {
        "person": person,
        "address": selectors.address_lines(person),
        "joined": rules.month_name(person.joined_month),
        "left": rules.month_name(person.left_month) if person.left_month else "",
        "line": selectors.ledger_line(person, today_date=timezone.localdate()),
        "had": selectors.had_pieces(person),
        "please_no": [*person.please_no.all(), *person.no_glazes.all()],
        "household": selectors.household_of(person),
        "pauses": [(span[0], rules.span_words(span)) for span in selectors.pauses(person)],
        "payments_form": payments_form or PaymentsForm(initial=shown),
        "pause_form": pause_form or PauseForm(initial={"from_month": this_month + 1}),
        "erased": selectors.is_erased(person),
    }


def _supporter_form(
    request: HtmxRequest, form: SupporterForm, person: Supporter | None
) -> HttpResponse:
    if "look" in request.POST:
        form = _looked_at(request)
    context = {"form": form, "person": person, "tiers": Tier.objects.exists()}
    status = 422 if form.errors else 200
    return render(request, "parcels/supporter_form.html", context, status=status)


def _looked_at(request: HtmxRequest) -> SupporterForm:
    """What was typed, as first values of an unchecked form that fits the country."""
    typed: dict[str, Any] = dict(request.POST.items())
    for wish in ("please_no", "no_glazes"):
        typed[wish] = request.POST.getlist(wish)
    for box in ("is_gift", "takes_seconds"):
        typed[box] = box in request.POST
    return SupporterForm(initial=typed)
