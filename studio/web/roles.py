"""May this sign-in see this page? A helper packs parcels; everything else is the potter's.

Laws:

1. Closed unless opened: a page that nobody marked with ``helpers_may`` is refused to a helper, so a
   new page cannot be forgotten (one that lists payments, written next year, is closed from birth).
2. The mark opens the page, not everything on it: what a helper sees of it is the view's care, by
   ``is_helper``.
"""

from collections.abc import Callable
from typing import Any, TypeVar

from django.contrib.auth.models import AbstractBaseUser, AnonymousUser
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect

from studio.web.idempotency import refused
from studio.web.models import Helper

V = TypeVar("V", bound=Callable[..., Any])

NOT_A_HELPERS = (
    "Your sign-in is a helper's: it packs parcels. Ask the potter for what else you need."
)
FIRST_PAGE = "parcels:parcels"
"""Where a helper's day begins."""


def is_helper(user: AbstractBaseUser | AnonymousUser) -> bool:
    """Answer whether this sign-in is a helper's."""
    if not user.is_authenticated:
        return False
    known: bool | None = getattr(user, "_is_helper", None)
    if known is None:
        known = Helper.objects.filter(user_id=user.pk).exists()
        setattr(user, "_is_helper", known)  # noqa: B010
    return known


def helpers_may(view: V) -> V:
    """Decorate a view that a helper may see too."""
    view.helpers_may = True  # type: ignore[attr-defined]
    return view


class HelpersPages:
    """Middleware: refuse a helper every page that is not marked for helpers."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self,
        request: HttpRequest,
        view: Callable[..., Any],
        args: tuple[Any, ...],
        kwargs: dict[str, Any],
    ) -> HttpResponseBase | None:
        """Answer instead of the view when it is none of a helper's."""
        if not is_helper(request.user):
            return None
        open_to_all = getattr(view, "login_required", True) is False
        if open_to_all or getattr(view, "helpers_may", False):
            return None
        if request.path == "/" and request.method == "GET":
            return redirect(FIRST_PAGE)
        return refused(request, NOT_A_HELPERS, status=403)
