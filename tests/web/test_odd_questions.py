"""Does a page answer whatever stands behind the ? of its address?

What follows an address comes from bookmarks, other programs and curious people: superscripts
that are digits to Python and no number, more figures than a database takes, nothing at all.
"""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import urlencode

import pytest
from django.test import Client

from studio.web.fields import row_number
from tests.web.address_book import plain_addresses

STUDIO = Path(__file__).resolve().parents[2] / "studio"
ASKED = re.compile(r'GET\.get(?:list)?\(\s*"(\w+)"|"(\w+)" in request\.GET')
FILTERED = {"stage", "form", "clay_lot", "coats", "schedule", "firing", "grade", "board", "glaze"}
"""What filters ask for by the names of fields."""


def names() -> list[str]:
    """Every name that a view reads behind the ?, so that a new one cannot be forgotten."""
    found = set(FILTERED)
    for path in STUDIO.rglob("*.py"):
        found |= {one or other for one, other in ASKED.findall(path.read_text("utf-8"))}
    return sorted(found)


@pytest.mark.parametrize("value", ["", "²", "9" * 23, "-1", "\0", "NaN", "2026-02-30", "'<b>"])
def test_every_page_answers_odd_questions(signed_in: Client, value: str) -> None:
    odd = urlencode(dict.fromkeys(names(), value))
    for path in plain_addresses():
        answer = signed_in.get(f"{path}?{odd}")
        assert answer.status_code < 500, path


def test_what_names_a_row() -> None:
    assert row_number("7") == 7
    assert row_number("0") == 0
    assert row_number("9" * 11) == 99_999_999_999
    for text in ("", "²", "٣", "-1", "+1", " 7", "7.0", "9" * 12, "0x7"):
        assert row_number(text) is None, text
