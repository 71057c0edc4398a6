"""What does a view do with a posted form: act once it is sound, or show what is wrong with it?"""

from __future__ import annotations

from collections.abc import Callable

from django.forms import BaseForm
from django.http import HttpRequest

from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.said import say_done


def acted(
    request: HttpRequest, form: BaseForm, act: Callable[[], Change], *, field: str | None = None
) -> Change | None:
    """Act on a sound posted form and say what was done; None leaves the form to show.

    ``act`` is called after the form's values are read. What its service refuses stands at
    ``field``, or at the head of the form, with all that was typed.
    """
    if request.method != "POST" or not form.is_valid():
        return None
    try:
        change = act()
    except Refusal as refusal:
        form.add_error(field, str(refusal))
        return None
    say_done(request, change)
    return change


def all_wrong(form: BaseForm) -> str:
    """Everything that is wrong with a form as one text, where it has no page of its own."""
    return " ".join(str(text) for texts in form.errors.values() for text in texts)
