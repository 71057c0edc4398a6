"""The pages of a sale on a phone: sound, touchable, and a sale made by thumb."""

from collections.abc import Iterator

import pytest
import time_machine
from django.contrib.auth.models import User
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from studio.sales import services
from studio.sales.models import SaleDay
from tests.browser.checks import check_page, check_shown
from tests.sales import cast
from tests.sales.test_sale_days import NOW, make


@pytest.fixture(autouse=True)
def november() -> Iterator[None]:
    """Let the clock tick: a browser waits by it."""
    with time_machine.travel(NOW, tick=True):
        yield


@pytest.fixture
def day(transactional_db: None, potter: User) -> SaleDay:
    day, mug = make(potter), cast.line()
    services.set_want(sale_day=day, line=mug, count=24, by=potter, at=NOW)
    pieces = cast.pots(mug, 6, potter)
    cast.pots(mug, 2, potter, grade="second")
    cast.pots(mug, 9, potter, stage="glazed")
    prices = {piece.id: 3200 for piece in pieces[:4]}
    services.list_for_sale(sale_day=day, prices_pence=prices, by=potter, at=NOW)
    services.sell(sale_day=day, pieces=pieces[:1], by=potter, at=NOW)
    services.claim(sale_day=day, pieces=pieces[1:2], for_whom="Cy Reed", by=potter, at=NOW)
    return day


def test_the_pages(signed_in_page: Page, live_server: LiveServer, day: SaleDay) -> None:
    pages = [reverse(f"sales:{name}") for name in ("sales", "new-sale")]
    pages += [reverse(f"sales:{name}", args=[day.id]) for name in ("sale", "edit-sale", "offer")]
    for url in pages:
        check_page(signed_in_page, live_server.url + url)


def test_listing_and_selling_by_thumb(
    signed_in_page: Page, live_server: LiveServer, day: SaleDay
) -> None:
    page = signed_in_page
    page.goto(live_server.url + reverse("sales:sale", args=[day.id]))
    page.get_by_role("link", name="List pieces").click()
    check_shown(page, "List for December restock")
    page.get_by_text("Choose which").first.click()
    page.get_by_label("No. 5").check()
    page.get_by_role("button", name="List the chosen pieces").click()
    expect(page.get_by_text("Listed No. 5 for December restock")).to_be_visible()
    page.get_by_label("No. 5 Mug").check()
    page.get_by_role("button", name="Mark sold").click()
    expect(page.get_by_text("2 pieces for £64.00")).to_be_visible()
    check_shown(page, "December restock")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Undid: Sold No. 5 at December restock")).to_be_visible()
    page.get_by_label("No. 5 Mug").check()
    page.get_by_label("Hold the chosen pieces for").fill("Cy Reed")
    page.get_by_role("button", name="Claim for this name").click()
    expect(page.get_by_text("Cy Reed claims No. 5 at December restock")).to_be_visible()
    page.get_by_label("No. 5 Mug").check()
    page.get_by_role("button", name="Mark sold").click()
    check_shown(page, "Sold to whom?")
    page.get_by_role("button", name="Sold to those names").click()
    expect(page.get_by_text("to Cy Reed")).to_be_visible()
    check_shown(page, "December restock")
