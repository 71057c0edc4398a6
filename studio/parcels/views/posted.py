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
    change = act({"by": request.user, "at": timezone.now()})
    say_done(request, change)
    way = to(change) if callable(to) else to
    return redirect(way) if isinstance(way, str) else redirect(*way)


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
    if form.is_valid():
        try:
            return done(request, act, to=to)
        except Refusal as refusal:
            form.add_error(field, str(refusal))
    return again()


def checked(form: BaseForm) -> dict[str, Any]:
    """What a form of buttons alone says. Raises Refusal with all that is wrong with it."""
    if not form.is_valid():
        raise Refusal(" ".join(str(text) for texts in form.errors.values() for text in texts))
    return form.cleaned_data
