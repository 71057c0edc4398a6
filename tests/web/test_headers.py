"""What does every answer tell the browser to forbid?"""

import re

import pytest
from django.test import Client

from tests.web.reading import body

POLICY = {
    "default-src 'self'",
    "img-src 'self' blob:",
    "object-src 'none'",
    "base-uri 'self'",
    "form-action 'self'",
    "frame-ancestors 'none'",
}


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/sign-in/", "/no-such-page/", "/static/wareboard.css"])
def test_the_content_policy_allows_our_own_files_alone(client: Client, path: str) -> None:
    answer = client.get(path)
    assert body(answer)
    sent = answer.headers["Content-Security-Policy"]
    assert {part.strip() for part in sent.split(";")} == POLICY


@pytest.mark.django_db
def test_pages_may_not_be_framed_guessed_or_mixed_with_parts(client: Client) -> None:
    answer = client.get("/sign-in/")
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert "HX-Request" in answer.headers["Vary"]


@pytest.mark.django_db
def test_every_file_a_page_names_is_served(client: Client) -> None:
    page = client.get("/sign-in/").text
    named = re.findall(r'(?:src|href)="(/static/[^"]+)"', page)
    assert len(named) == 5  # style, mark as svg, mark as png, htmx, our own script
    for path in named:
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert body(answer)
