"""Is every page that needs no number in its address sound on a phone, in an empty studio?

The addresses come from the resolver, so a new page is held to this without anyone listing it.
Pages about one thing (a board, a firing) are checked by the tests of their rooms.
"""

import pytest
from django.test import Client
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from tests.browser.checks import check_page
from tests.web.address_book import plain_addresses
from tests.web.reading import body


@pytest.mark.parametrize("path", plain_addresses())
def test_a_page_of_an_empty_studio_is_sound(
    signed_in_page: Page, signed_in: Client, live_server: LiveServer, path: str
) -> None:
    answer = signed_in.get(path)
    kind = answer.headers.get("Content-Type", "")
    body(answer)
    if answer.status_code in (302, 405):
        return  # an address to post to, or one that leads on: a page of its own it is not
    assert answer.status_code == 200
    if kind.startswith("text/html"):
        check_page(signed_in_page, live_server.url + path)
