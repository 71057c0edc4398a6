"""Has this posted form acted already?

A phone that walks out of the Wi-Fi does not know whether its form arrived, so its owner presses
again. Every form therefore carries a key, and the row of the key is written in the same
transaction as what the form does:

1. the same key never acts twice, and the second post is sent to where the first one went;
2. a refused or failed post leaves no key behind, so the corrected form can be sent with it;
3. the same key with other values is refused, so that a changed form is never silently dropped;
4. of two posts at the same moment one acts and the other is answered with the first one's result.
   On SQLite the second waits for its turn to write; on PostgreSQL its insert waits for the first.

When a form acted, its key is also told to the browser in a cookie that scripts may read: a draft
kept there (static/wareboard.js) is dropped exactly when its answer has arrived.

The rejected way, looking the key up first and writing it after, lets two posts through.
"""

import hashlib
import json
import logging
import uuid
from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec
from urllib.parse import urlsplit

from django.db import IntegrityError, OperationalError, transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme

from studio.web.htmx import HtmxRequest
from studio.web.models import FormKey
from studio.web.refusal import Refusal
from studio.web.said import say_done

logger = logging.getLogger(__name__)

P = ParamSpec("P")
FIELD = "form_key"

NO_KEY = (
    "This form came without its key, so nothing was saved. "
    "Open the page again and send the form from there."
)
ALREADY = (
    "This form was saved before with other values, so these were not saved. "
    "Open the page again to see what it says now."
)
SAVED_BEFORE = "This was saved the first time it was sent. Nothing was done twice."
OTHER_FORM = "This key belongs to another form, so nothing was saved. Open the page again."
TAKEN = (
    "Not saved: somebody else wrote the same thing a moment before. Nothing was half done. "
    "Look at the page again and try once more."
)
NOT_SAVED = (
    "Not saved: the database could not take it just now (busy, or the disk is full). "
    "Nothing was half done. Try again in a moment."
)
ANSWERED = "wareboard_answered"


class BadKey(Refusal):
    """The form has no usable key. The text says what to do."""


def acts_once(
    view: Callable[Concatenate[HtmxRequest, P], HttpResponse],
) -> Callable[Concatenate[HtmxRequest, P], HttpResponse]:
    """Decorate a view so that one form acts once.

    A POST runs in one transaction. When the view answers with a redirect, it acted, and the key is
    kept with that address. When it answers with a page or raises, everything is taken back.
    A ``Refusal`` the view does not show itself becomes a page with the sentence.
    """

    @wraps(view)
    def once(request: HtmxRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        return _run(request, lambda: view(request, *args, **kwargs))

    return once


def acting_once(request: HtmxRequest, act: Callable[[], str]) -> HttpResponse:
    """Run ``act`` once for the posted key and redirect to the address it answers.

    For views with long work before the saving, which must not hold the database's one pen: they
    call this at the end instead of wearing ``acts_once``. When ``act`` raises Refusal, nothing is
    changed and the sentence is answered as a page of its own.
    """
    return _run(request, lambda: HttpResponseRedirect(act()))


def answered_before(request: HtmxRequest) -> HttpResponse | None:
    """Answer with the first result when this form acted already, before any long work is done."""
    if request.method != "POST":
        return None
    try:
        first = FormKey.objects.filter(key=_posted_key(request)).first()
        return None if first is None else _first_answer(request, first)
    except Refusal as refusal:
        return _refused_post(request, refusal)


def refused(request: HttpRequest, sentence: str, *, status: int) -> HttpResponse:
    """Answer a page with one sentence and a way back; to htmx, the sentence alone."""
    if getattr(request, "htmx", False):
        response = render(request, "web/refusal.html", {"sentence": sentence}, status=status)
        response["HX-Retarget"] = "#said"
        response["HX-Reswap"] = "innerHTML"
        return response
    context = {"sentence": sentence, "back": _came_from(request)}
    return render(request, "web/refused.html", context, status=status)


def _run(request: HtmxRequest, view: Callable[[], HttpResponse]) -> HttpResponse:
    try:
        return _once(request, view)
    except Refusal as refusal:
        return _refused_post(request, refusal)
    except IntegrityError:
        # A race that only the database's own constraint saw; the rules let both through.
        logger.exception("The database refused %s", request.path)
        return refused(request, TAKEN, status=409)
    except OperationalError:
        return refused(request, NOT_SAVED, status=503)


def _refused_post(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    if isinstance(refusal, BadKey):
        return refused(request, refusal.sentence, status=400)
    response = refused(request, refusal.sentence, status=409)
    _tell_answered(request, response, _posted_key(request))
    return response


def _once(request: HtmxRequest, view: Callable[[], HttpResponse]) -> HttpResponse:
    key = _posted_key(request)
    with transaction.atomic():
        try:
            with transaction.atomic():
                row = FormKey.objects.create(
                    key=key, by=request.user, path=request.path[:300], content=_content(request)
                )
        except IntegrityError:
            return _first_answer(request, FormKey.objects.get(key=key))
        response = view()
        if response.status_code in (302, 303):
            went_to = response.headers["Location"]
            row.went_to = went_to if len(went_to) <= 300 else ""
            row.save(update_fields=["went_to"])
            _tell_answered(request, response, key)
        else:
            transaction.set_rollback(True)
    return response


def _posted_key(request: HttpRequest) -> uuid.UUID:
    try:
        return uuid.UUID(request.POST.get(FIELD, ""))
    except ValueError:
        raise BadKey(NO_KEY) from None


def _first_answer(request: HtmxRequest, first: FormKey) -> HttpResponse:
    """Send a repeated post where the first one went, if it is the same person's same form."""
    if first.by_id != request.user.pk or first.path != request.path[:300]:
        raise BadKey(OTHER_FORM)
    if first.content != _content(request):
        raise Refusal(ALREADY)
    say_done(request, SAVED_BEFORE)
    response = HttpResponseRedirect(first.went_to or "/")
    _tell_answered(request, response, first.key)
    return response


def _content(request: HttpRequest) -> str:
    """Answer a hash of what was sent, without the tokens that differ from page to page."""
    fields = {
        name: values
        for name, values in request.POST.lists()
        if name not in (FIELD, "csrfmiddlewaretoken")
    }
    files = [[name, file.name, file.size] for name, sent in request.FILES.lists() for file in sent]
    text = json.dumps([fields, files], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _tell_answered(request: HttpRequest, response: HttpResponse, key: uuid.UUID) -> None:
    """Tell the browser which form was answered; the last few, for pages open side by side."""
    before = request.COOKIES.get(ANSWERED, "").split(".")[-4:]
    response.set_cookie(
        ANSWERED,
        ".".join([*(part for part in before if part), str(key)]),
        max_age=60 * 60 * 24,
        secure=request.is_secure(),
        samesite="Lax",
    )


def _came_from(request: HttpRequest) -> str:
    """Answer the page of this studio the form was sent from, never another site."""
    referer = request.headers.get("Referer", "")
    known = url_has_allowed_host_and_scheme(referer, {request.get_host()})
    return urlsplit(referer).path if referer and known else "/"


def new_key() -> str:
    """Answer a fresh key for one form on one page."""
    return str(uuid.uuid4())
