"""What happens to a posted form? It is checked, one service acts, and the person goes on.

What is wrong is shown on the form, with what was typed; a refusal that belongs to no form becomes a
page of its own (``web.idempotency``).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from studio.web.acting import acted, all_wrong
from studio.web.htmx import HtmxRequest
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.said import say_done

Act = Callable[[dict[str, Any]], Change]
"""Acts once with ``by`` and ``at``, and answers what it wrote down."""
Way = str | tuple[Any, ...] | Callable[[Change], tuple[Any, ...]]
"""Where the person goes on: the name of a page, with its numbers, or what makes them."""


def done(request: HtmxRequest, act: Act, *, to: Way) -> HttpResponse:
    """Act, say what was done, and go on. Lets a Refusal through."""
    change = act(_who(request))
    say_done(request, change)
    return _onward(change, to)


def saved(
    request: HtmxRequest,
    form: BaseForm,
    act: Act,
    *,
    to: Way,
    again: Callable[[], HttpResponse],
    field: str | None = None,
) -> HttpResponse:
    """Act when the form holds, else show it again; what a service refuses stands at ``field``."""
    change = acted(request, form, lambda: act(_who(request)), field=field)
    return again() if change is None else _onward(change, to)


def checked(form: BaseForm) -> dict[str, Any]:
    """What a form of buttons alone says. Raises Refusal with all that is wrong with it."""
    if not form.is_valid():
        raise Refusal(all_wrong(form))
    return form.cleaned_data


def _who(request: HtmxRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now()}


def _onward(change: Change, to: Way) -> HttpResponse:
    way = to(change) if callable(to) else to
    return redirect(way) if isinstance(way, str) else redirect(*way)
