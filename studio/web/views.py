"""Who may see a photo, and what does a person read when a page cannot be shown?"""

import re
from pathlib import Path

from django.conf import settings
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from studio.web.htmx import HtmxRequest

# A photo's name is the hash of its content: .jpg the whole, .webp the small copy.
PHOTO_NAME = re.compile(r"[0-9a-f]{64}\.(jpg|webp)")
PHOTO_TYPES = {".jpg": "image/jpeg", ".webp": "image/webp"}


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


@require_safe
def password_changed(request: HtmxRequest) -> HttpResponse:
    """Say that the new password holds, on the first page."""
    return redirect("/")
