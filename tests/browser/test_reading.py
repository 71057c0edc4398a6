"""Can a page be read and used with large letters, in the dark, by keyboard alone and on paper?"""

import pytest
from django.contrib.auth.models import User
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from studio.sales import services
from studio.sales.models import SaleDay
from tests import make
from tests.browser.checks import arrive, judge
from tests.sales import cast


@pytest.fixture
def sale(transactional_db: None, potter: User) -> SaleDay:
    """A sale day with more pots on its list than are shown at once."""
    now = timezone.now()
    day = SaleDay.objects.create(name="Restock", members_at=now, public_at=now)
    pots = cast.pots(cast.line(), 12, potter)
    prices = {pot.id: 3200 for pot in pots}
    services.list_for_sale(sale_day=day, prices_pence=prices, by=potter, at=now)
    return day


def addresses(day: SaleDay) -> list[str]:
    fired, glazed = make.board("fired", 12), make.board("glazed", 12)
    return [
        "/",
        reverse("sales:sale", args=[day.id]),
        reverse("sales:offer", args=[day.id]),
        reverse("wares:board", args=[glazed.id]),
        reverse("wares:grade", args=[fired.id]),
        reverse("wares:throw"),
        reverse("wares:pieces"),
        reverse("records"),
        reverse("settings"),
    ]


def test_letters_twice_as_large_need_no_sideways_scroll(
    signed_in_page: Page, live_server: LiveServer, sale: SaleDay
) -> None:
    """WCAG 2.2 (W3C, 2023), 1.4.4. Twice the letters on 390 px is the layout of 195 px."""
    page = signed_in_page
    page.set_viewport_size({"width": 195, "height": 422})
    for url in addresses(sale):
        page.goto(live_server.url + url)
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0, f"{url} is {wide} px wider than the screen"
        assert page.locator(".places").evaluate("el => getComputedStyle(el).position") == "static"


def test_pages_are_sound_in_the_dark(
    signed_in_page: Page, live_server: LiveServer, sale: SaleDay
) -> None:
    page = signed_in_page
    page.emulate_media(color_scheme="dark")
    for url in addresses(sale)[:5]:
        page.goto(live_server.url + url)
        judge(page)


def test_keyboard_alone(signed_in_page: Page, live_server: LiveServer, sale: SaleDay) -> None:
    page = signed_in_page
    page.goto(live_server.url + reverse("sales:sale", args=[sale.id]))
    page.keyboard.press("Tab")
    expect(page.get_by_text("Skip to the page")).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="List pieces")).to_be_focused()
    page.get_by_label("Pot numbers").focus()
    page.keyboard.type("3 4")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Sold No. 3, No. 4 at Restock")
    arrive(page, "Restock")
    page.get_by_label("Pot numbers").fill("5")
    page.get_by_label("Hold the chosen pieces for").fill("Cy Reed")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("Cy Reed stands as who they are held for.")


def test_more_goes_out_of_the_way(
    signed_in_page: Page, live_server: LiveServer, sale: SaleDay
) -> None:
    page = signed_in_page
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(live_server.url + "/settings/")
    more = page.locator(".place-more")
    first = page.locator(".more-list").get_by_role("link", name="Pieces")
    more.click()
    expect(first).to_be_visible()
    page.keyboard.press("Escape")
    expect(first).to_be_hidden()
    expect(more).to_be_focused()
    more.click()
    expect(first).to_be_visible()
    page.get_by_role("heading", name="Settings").click()
    expect(first).to_be_hidden()


def test_what_is_folded_on_the_screen_is_whole_on_paper(
    signed_in_page: Page, live_server: LiveServer, sale: SaleDay
) -> None:
    page = signed_in_page
    page.goto(live_server.url + reverse("sales:sale", args=[sale.id]))
    listed = page.get_by_text("No. 12 Mug")
    expect(listed).to_be_hidden()
    page.emulate_media(media="print")
    expect(listed).to_be_visible()
    expect(page.get_by_role("button", name="Mark sold")).to_be_hidden()
