"""Tell the person what happened, on the page they see next, with the way back beside it."""

from django.contrib import messages
from django.http import HttpRequest

from studio.web.models import Change
from studio.web.selectors import offers_undo


def say_done(request: HttpRequest, what: Change | str) -> None:
    """Say that something was done. A change that can be undone brings its Undo button."""
    if isinstance(what, Change):
        tags = f"undo-{what.id}" if offers_undo(what) else ""
        messages.success(request, what.said, extra_tags=tags)
    else:
        messages.success(request, what)


def say_caution(request: HttpRequest, sentence: str) -> None:
    """Say something the person should look at, although it was done."""
    messages.warning(request, sentence)


def say_refused(request: HttpRequest, sentence: str) -> None:
    """Say why nothing was done, when the next page is another than the form's own."""
    messages.error(request, sentence)
