"""Where does a calendar read the plan, with and without signing in?"""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.planning import feeds, selectors, services
from studio.planning.forms import AddressForm
from studio.planning.models import CalendarAddress
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.said import say_done


@require_http_methods(["GET", "POST"])
@acts_once
def addresses(request: HtmxRequest) -> HttpResponse:
    """The addresses that are given out, and a new one."""
    form = AddressForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        say_done(
            request,
            services.give_address(**form.cleaned_data, by=request.user, at=timezone.now()),
        )
        return redirect("planning:calendar")
    given = [
        (address, request.build_absolute_uri(selectors.path_of(feeds.token_of(address))))
        for address in selectors.open_addresses()
    ]
    context = {"form": form, "given": given}
    return render(request, "planning/calendar.html", context, status=422 if form.errors else 200)


@require_POST
@acts_once
def withdraw(request: HtmxRequest, address_id: int) -> HttpResponse:
    """Let an address open nothing any more."""
    address = get_object_or_404(CalendarAddress, id=address_id)
    say_done(
        request,
        services.withdraw_address(address=address, by=request.user, at=timezone.now()),
    )
    return redirect("planning:calendar")


@require_safe
def file(request: HtmxRequest) -> HttpResponse:
    """The plan as a calendar file, for signed-in people."""
    response = _calendar()
    response["Content-Disposition"] = 'attachment; filename="plan.ics"'
    return response


@login_not_required
@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """The plan for a calendar that holds an address; nothing else of the studio."""
    address = feeds.address_of(token)
    if address is None:
        raise Http404("No calendar is read here.")
    services.note_read(address=address, at=timezone.now())
    response = _calendar()
    response["Cache-Control"] = "private, no-store"
    response["Referrer-Policy"] = "no-referrer"
    return response


def _calendar() -> HttpResponse:
    return HttpResponse(
        feeds.plan_calendar(now=timezone.now()), content_type="text/calendar; charset=utf-8"
    )
