"""A plan worked out by its page, and a page read as text."""

from __future__ import annotations

import html
from collections.abc import Callable

from django.http import HttpResponse
from django.test import Client, TestCase
from django.urls import reverse

from studio.planning.models import BackPlan
from studio.planning.selectors import proposed

Key = Callable[[], str]


def text(answer: HttpResponse) -> str:
    """A page as people read it: with apostrophes."""
    return html.unescape(answer.content.decode())


def work_out(client: Client, form_key: Key, **more: object) -> BackPlan:
    """Work a plan out as a person does: begin to look, and be led to what was found."""
    answer = begin(client, form_key, **more)
    backplan = proposed()
    assert backplan is not None, text(answer)
    there = reverse("planning:one", args=[backplan.pk])
    assert client.get(answer.headers["Location"]).headers["Location"] == there
    return backplan


def begin(client: Client, form_key: Key, **more: object) -> HttpResponse:
    with TestCase.captureOnCommitCallbacks(execute=True):
        answer = client.post(
            reverse("planning:work_out"), {"form_key": form_key(), "seconds": "60", **more}
        )
    assert answer.status_code == 302, text(answer)
    return answer
