"""Addresses: asked for by a link that works without a sign-in, confirmed by hand, and looked at."""

from __future__ import annotations

import ipaddress

from django.contrib.auth.decorators import login_not_required
from django.core.paginator import Paginator
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.parcels import rules, selectors, services
from studio.parcels.forms import AddressForm, ConfirmForm
from studio.parcels.models import Shipment, Supporter
from studio.parcels.views.posted import checked, done
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.limits import too_many
from studio.web.refusal import Refusal
from studio.web.selectors import the_studio

SAVES_AN_HOUR = 20
"""How often one person's link may save; more is a script, not a person."""
WRONG_AN_HOUR = 60
"""How many links that open nothing one computer may try."""
LOOKS_ON_A_PAGE = 60
BUSY = (
    "Not saved: the studio's records are busy just now. All you wrote stands here still."
    " Wait a moment and press the button again."
)


@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def own_address(request: HttpRequest, token: str) -> HttpResponse:
    """A supporter's own address, for them alone: shown, changed and confirmed by their link.

    It carries no form key: the same address sent twice changes nothing.
    """
    link = selectors.read_link(token, now=timezone.now())
    if link is None:
        return _no_link(request)
    person = link.supporter
    if request.method == "POST" and too_many(f"own-{person.id}", most=SAVES_AN_HOUR):
        return _public(request, "parcels/link_rest.html", {}, status=429)
    looks_only = "look" in request.POST
    given = request.POST.dict() if looks_only else selectors.addresses_of(person)
    form = AddressForm(None if looks_only else request.POST or None, initial=given)
    confirmed = person.address_confirmed_date
    context = {
        "form": form,
        "name": person.name,
        "is_late": selectors.is_late(link),
        "confirmed_date": confirmed,
        # What stands is thanked for on its own day, and only where it is what the page shows.
        "thanks": confirmed == timezone.localdate() and not form.is_bound and not looks_only,
    }
    status = _save_own(person, form)
    if status == 302:
        return redirect(request.path)
    return _public(request, "parcels/link.html", context, status=status)


@require_GET
def ask(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """Whom to ask for their address before a shipment: a link for each, to copy or to mail."""
    held = get_object_or_404(Shipment, id=shipment_id)
    settings = selectors.post_settings()
    rows = []
    for row in selectors.bench_rows(held, today_date=timezone.localdate()):
        person = row.parcel.supporter
        token = services.address_link(supporter=person, shipment=held)
        link = request.build_absolute_uri(reverse("parcels:own-address", args=[token]))
        rows.append({"row": row, "person": person, "link": link, **_letter(person, link)})
    context = {
        "shipment": held,
        "month_name": rules.month_name(held.month),
        "rows": rows,
        "settings": settings,
        "from_date": rules.ask_from(post_date=held.post_date, within_days=settings.confirmed_days),
        "today": timezone.localdate(),
        "only_here": _only_here(request.get_host()),
    }
    return render(request, "parcels/ask.html", context)


@require_POST
@acts_once
def confirm(request: HtmxRequest, supporter_id: int) -> HttpResponse:
    """Write down that somebody said their address is right."""
    person = get_object_or_404(Supporter, id=supporter_id)
    day = checked(ConfirmForm(request.POST))["day"]
    back = request.POST.get("shipment", "")
    asked = back.isascii() and back.isdigit() and len(back) < 12
    return done(
        request,
        lambda who: services.confirm_address(supporter=person, day=day, **who),
        to=("parcels:ask", int(back)) if asked else ("parcels:supporter", person.id),
    )


@require_GET
def looks(request: HtmxRequest, supporter_id: int | None = None) -> HttpResponse:
    """Who looked at addresses, or at one person's."""
    person = get_object_or_404(Supporter, id=supporter_id) if supporter_id is not None else None
    pages = Paginator(selectors.looks(supporter=person), LOOKS_ON_A_PAGE)
    context = {"page": pages.get_page(request.GET.get("page")), "person": person}
    return render(request, "parcels/looks.html", context)


def _save_own(person: Supporter, form: AddressForm) -> int:
    """Save an address that was sent, or say on its form why not; the status of the answer."""
    if form.is_bound and form.is_valid():
        now = timezone.now()
        try:
            services.set_own_address(supporter=person, fields=form.fields_given(), at=now)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        except OperationalError:
            form.add_error(None, BUSY)
            return 503
        else:
            return 302
    return 422 if form.errors else 200


def _only_here(host: str) -> bool:
    """Whether a link with this host leads nowhere outside the studio's own network."""
    name = host.rpartition(":")[0] if host.count(":") == 1 else host
    try:
        return ipaddress.ip_address(name.strip("[]")).is_private
    except ValueError:
        return name == "localhost" or "." not in name


def _letter(person: Supporter, link: str) -> dict[str, str]:
    """The subject and text of a mail that the potter's own program opens and sends."""
    name = the_studio().name
    return {
        "subject": f"{name}: is your address still right?",
        "body": (
            f"Hello {person.name},\n\na pot is on its way to you soon. Please look whether your"
            f" address is still right:\n\n{link}\n\nThank you,\n{name}"
        ),
    }


def _no_link(request: HttpRequest) -> HttpResponse:
    """Say that a link opens nothing, the same for every reason."""
    from_here = request.META.get("REMOTE_ADDR", "")
    if too_many(f"wrong-link-{from_here}", most=WRONG_AN_HOUR):
        return _public(request, "parcels/link_rest.html", {}, status=429)
    return _public(request, "parcels/link_gone.html", {}, status=404)


def _public(
    request: HttpRequest, template: str, context: dict[str, object], *, status: int
) -> HttpResponse:
    response = render(request, template, context, status=status)
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response
