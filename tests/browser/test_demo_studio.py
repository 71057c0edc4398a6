"""Does every link of a lived-in studio lead somewhere, and is each kind of page sound on a phone?

The studio is the demo's own: months of boards, firings, sales and parcels.
"""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
import time_machine
from django.test import Client, override_settings
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from studio.home.demo.build import build
from tests.browser.checks import check_page
from tests.browser.walk import kind, links, walk
from tests.conftest import MODEL_BACKEND

TODAY = date(2026, 3, 18)


@pytest.fixture
def lived_in(transactional_db: None, tmp_path: Path) -> Iterator[Client]:
    """The demo studio on 18 March 2026, and its potter signed in."""
    with override_settings(MEDIA_ROOT=tmp_path), time_machine.travel("2026-03-18 09:30"):
        potter = build(today_date=TODAY)
        client = Client()
        client.force_login(potter, backend=MODEL_BACKEND)
        yield client


def test_every_link_leads_somewhere_and_every_kind_of_page_is_sound(
    lived_in: Client, live_server: LiveServer, signed_in_page: Page
) -> None:
    reached = walk(lived_in)
    broken = {
        address: (status, led_from)
        for address, (status, _, led_from) in reached.items()
        if status not in (200, 302)
    }
    assert broken == {}, "address: (status, the page that links to it)"
    one_of_each: dict[str, str] = {}
    for address, (status, content, _) in reached.items():
        if status == 200 and content.startswith("text/html"):
            one_of_each.setdefault(kind(address), address)
    assert len(one_of_each) >= 30  # a walk that stops at the door would check nothing
    faults = []
    for address in one_of_each.values():
        try:
            check_page(signed_in_page, live_server.url + address)
        except AssertionError as fault:
            faults.append(str(fault))
    assert faults == [], "\n\n".join(faults)


def test_the_walk_reports_a_link_into_nothing(signed_in: Client) -> None:
    reached = walk(signed_in, start="/no/such/page/")
    assert reached["/no/such/page/"] == (404, "text/html; charset=utf-8", "")


def test_links_are_read_as_a_browser_reads_them() -> None:
    text = (
        '<a href="?page=2&amp;q=a">2</a> <a href="../7/#top">7</a> <a href="/static/a.css">a</a>'
        ' <a href="https://elsewhere.example/">b</a> <a href="#here">c</a>'
    )
    assert links(here="/boards/3/", text=text) == [
        "/boards/3/?page=2&q=a",
        "/boards/7/",
        "/boards/3/",
    ]
