"""Who may see a photo, and what does a person read when a page cannot be shown?"""

import re
from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import User
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.web import people as sign_ins
from studio.web.acting import acted
from studio.web.forms import SignInForm
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.models import Change
from studio.web.roles import helpers_may
from studio.web.said import say_done

# A photo's name is the hash of its content: .jpg the whole, .webp the small copy.
PHOTO_NAME = re.compile(r"[0-9a-f]{64}\.(jpg|webp)")
PHOTO_TYPES = {".jpg": "image/jpeg", ".webp": "image/webp"}


@helpers_may
@require_safe
def photo(request: HtmxRequest, name: str) -> HttpResponseBase:
    """Answer a photo to a signed-in person. The name is a hash, so it may be kept for a year."""
    if not PHOTO_NAME.fullmatch(name):
        raise Http404("No photo has such a name.")
    path = Path(settings.MEDIA_ROOT) / name
    try:
        file = path.open("rb")
    except OSError:
        raise Http404("This photo is not here.") from None
    response = FileResponse(file, content_type=PHOTO_TYPES[path.suffix])
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    return response


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say that a form was refused because its page is older than the sign-in, and what to do."""
    return render(request, "403_csrf.html", {"reason": reason}, status=403)


@helpers_may
@require_safe
def password_changed(request: HtmxRequest) -> HttpResponse:
    """Say that the new password holds, on the first page."""
    return redirect("/")


@require_http_methods(["GET", "POST"])
@acts_once
def people(request: HtmxRequest) -> HttpResponse:
    """Show who signs in here, and make a new sign-in."""
    form = SignInForm(request.POST or None)

    def act() -> Change:
        return sign_ins.add_sign_in(
            name=form.cleaned_data["name"],
            password=form.cleaned_data["password"],
            helper=form.cleaned_data["role"] == "helper",
            by=request.user,
            at=timezone.now(),
        )

    if acted(request, form, act):
        return redirect("people")
    context = {"form": form, "people": sign_ins.sign_ins()}
    return render(request, "web/people.html", context, status=422 if form.errors else 200)


@require_POST
@acts_once
def open_or_close(request: HtmxRequest, user_id: int) -> HttpResponse:
    """Close a sign-in, or open it again."""
    change = sign_ins.open_or_close(
        user=get_object_or_404(User, id=user_id),
        active=request.POST.get("active") == "yes",
        by=request.user,
        at=timezone.now(),
    )
    say_done(request, change)
    return redirect("people")
