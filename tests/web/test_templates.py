"""Does every template keep the rules that a page alone cannot show?"""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted((ROOT / "templates").rglob("*.html"))
DRAWINGS = sorted((ROOT / "templates").rglob("*.svg"))

# Django answers these forms itself; signing in or out twice does no harm.
# A supporter's own address, sent twice, is the same address: nobody is signed in to hold a key.
WITHOUT_KEY = {
    "parcels/find_form.html",
    "parcels/link.html",
    "registration/login.html",
    "registration/password.html",
    "web/places.html",
}


def named(path: Path) -> str:
    return str(path.relative_to(ROOT / "templates"))


def forms(text: str) -> list[str]:
    """Answer every form that posts, from its opening to its closing tag."""
    found = re.findall(r"<form\b.*?</form>", text, re.DOTALL)
    return [form for form in found if re.match(r'<form\b[^>]*method="post"', form)]


def test_the_reader_of_forms_finds_what_it_should() -> None:
    text = '<form method="get">a</form><form class="x" method="post">b</form>'
    assert forms(text) == ['<form class="x" method="post">b</form>']


@pytest.mark.parametrize("path", PAGES, ids=named)
def test_a_posting_form_proves_where_it_is_from_and_acts_once(path: Path) -> None:
    for form in forms(path.read_text()):
        assert "{% csrf_token %}" in form, f"{named(path)}: no csrf_token"
        if named(path) not in WITHOUT_KEY:
            assert "{% form_key %}" in form, f"{named(path)}: no form_key"


@pytest.mark.parametrize("path", [*PAGES, *DRAWINGS], ids=named)
def test_nothing_in_it_is_forbidden_by_the_content_policy(path: Path) -> None:
    # What stands in Django's own brackets never reaches a browser.
    text = re.sub(r"\{[%{].*?[%}]\}", "", path.read_text())
    assert not re.search(r"<[^>]*\sstyle\s*=", text), "a style attribute"
    if path.suffix == ".html":
        assert "<style" not in text, "a style sheet of its own"
    assert not re.search(r"<script(?![^>]*\ssrc=)", text), "a script of its own"
    assert not re.search(r"<[^>]*\son[a-z]+\s*=", text), "a script in an attribute"
    assert not re.search(r'(src|href)="https?://', text), "a file of another site"


@pytest.mark.parametrize("path", [*PAGES, *DRAWINGS], ids=named)
def test_a_length_is_shown_by_our_filter(path: Path) -> None:
    # ``length`` is Django's filter for lists; on a number of millimetres it would print 0.
    assert not re.search(r"_mm\s*\|\s*length\b", path.read_text())


@pytest.mark.parametrize("path", PAGES, ids=named)
def test_user_text_is_never_let_through_unescaped(path: Path) -> None:
    text = path.read_text()
    assert "autoescape off" not in text
    assert not re.search(r"\|\s*safe\b", text), "|safe: build it with format_html in Python"
