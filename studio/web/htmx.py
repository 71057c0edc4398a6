"""Who asks, and does the page or only a part of it go back?

htmx sends ``HX-Request`` with what it asks for; the same address then may answer with a part of a
page, so every answer says that it varies by that header.
"""

from collections.abc import Callable
from urllib.parse import urlsplit

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.utils.cache import patch_vary_headers
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from studio.web.selectors import one_studio_a_request


class HtmxRequest(HttpRequest):
    """A request of a signed-in person, as the views of every room receive it."""

    htmx: HtmxDetails
    user: User


class HtmxAnswers:
    """Middleware: let htmx and plain pages share addresses safely.

    When the sign-in has run out, a part of a page must not be filled with the sign-in form: the
    browser is told to go to the sign-in page as a whole.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with one_studio_a_request():
            response = self.get_response(request)
        patch_vary_headers(response, ["HX-Request"])
        asked_by_htmx = bool(getattr(request, "htmx", False))
        if asked_by_htmx and response.status_code == 302:
            target = response.headers.get("Location", "")
            if urlsplit(target).path == resolve_url("sign-in"):
                here = getattr(request, "htmx").current_url_abs_path  # noqa: B009
                return HttpResponseClientRedirect(_sign_in_and_return(here))
        return response


def _sign_in_and_return(here: str | None) -> str:
    from django.contrib.auth.views import redirect_to_login

    return redirect_to_login(here or "/").headers["Location"]
