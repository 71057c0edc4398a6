"""The pages of supporters and parcels on a phone: sound, and led through by thumb."""

from collections.abc import Iterator

import pytest
import time_machine
from django.contrib.auth.models import User
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from studio.parcels import services
from studio.parcels.models import Shipment, Supporter
from tests.browser.checks import check_page, check_shown
from tests.parcels import cast
from tests.parcels.cast import NOW
from tests.sales import cast as wares_cast


@pytest.fixture(autouse=True)
def november() -> Iterator[None]:
    """Let the clock tick: a browser waits by it."""
    with time_machine.travel(NOW, tick=True):
        yield


@pytest.fixture
def december(transactional_db: None, potter: User) -> Shipment:
    mug, vase = wares_cast.line(), wares_cast.line("Tall vase")
    for name in ("Ada Lind", "Bo Reed", "Cy Over"):
        cast.supporter(name, potter, please_no=(vase.form,))
    away = cast.supporter("Di Away", potter)
    wares_cast.pots(mug, 4, potter)
    wares_cast.pots(vase, 1, potter)
    wares_cast.pots(mug, 1, potter, grade="second")
    shipment = cast.shipment(potter)
    services.set_want(shipment=shipment, line=mug, count=8, by=potter, at=NOW)
    services.skip(shipment=shipment, supporter=away, reason="away", by=potter, at=NOW)
    return shipment


def test_the_pages(
    signed_in_page: Page, live_server: LiveServer, december: Shipment, potter: User
) -> None:
    services.pick_parcels(shipment=december, by=potter, at=NOW)
    parcel = december.parcels.all()[0]
    row = parcel.lines.get()
    one = [parcel.supporter_id]
    names = ("supporters", "new-supporter", "import", "paid", "tiers", "turns", "parcels")
    pages = [reverse(f"parcels:{name}") for name in (*names, "new-shipment")]
    pages += [reverse(f"parcels:{name}", args=one) for name in ("supporter", "edit-supporter")]
    pages += [
        reverse(f"parcels:{name}", args=[december.id]) for name in ("shipment", "edit-shipment")
    ]
    url = reverse("parcels:parcel", args=[parcel.id])
    pages += [url, f"{url}?swap={row.id}", f"{url}?add=1"]
    pages += [reverse("parcels:supporters") + "?search=ada", reverse("parcels:paid") + "?month=x"]
    for page in pages[:-1]:
        check_page(signed_in_page, live_server.url + page)
    signed_in_page.goto(live_server.url + pages[-1])
    check_shown(signed_in_page, "Paid in November 2026")


def test_the_country_brings_its_fields_and_keeps_what_was_typed(
    signed_in_page: Page, live_server: LiveServer, december: Shipment
) -> None:
    page = signed_in_page
    page.goto(live_server.url + reverse("parcels:new-supporter"))
    page.get_by_label("Name", exact=True).fill("Eve Marsh")
    page.get_by_label("Tier").select_option("Saucer")
    page.get_by_label("Country").select_option("BR")
    page.get_by_label("Street address").fill("Rua A 1")
    page.get_by_label("Country").select_option("US")
    expect(page.get_by_label("ZIP code")).to_be_visible()
    expect(page.get_by_label("Street address")).to_have_value("Rua A 1")
    check_shown(page, "New supporter")
    page.get_by_label("City").fill("Salem")
    page.get_by_label("State").select_option("OR")
    page.get_by_label("ZIP code").fill("10001")
    page.get_by_role("button", name="Take in").click()
    expect(page.get_by_text("'10001' is no ZIP code of OR, United States.")).to_be_visible()
    check_shown(page, "New supporter")
    page.get_by_label("ZIP code").fill("97301")
    page.get_by_role("button", name="Take in").click()
    expect(page.get_by_text("Took in supporter 5, Eve Marsh")).to_be_visible()
    assert Supporter.objects.get(number=5).country_area == "OR"


def test_a_month_by_thumb(
    signed_in_page: Page, live_server: LiveServer, december: Shipment
) -> None:
    page = signed_in_page
    page.goto(live_server.url + reverse("parcels:shipment", args=[december.id]))
    expect(page.get_by_role("button", name="Packing slips")).to_be_disabled()
    page.get_by_role("button", name="Pick 2 parcels in turn").click()
    page.get_by_role("checkbox", name="Ada Lind").check()
    page.get_by_label("Box").fill("small")
    page.get_by_role("button", name="Mark packed").click()
    expect(page.get_by_text("Packed the parcel of Ada Lind, December 2026")).to_be_visible()
    with page.expect_download() as slips:
        page.get_by_role("link", name="Packing slips (PDF)").click()
    assert slips.value.suggested_filename == "slips-2026-12.pdf"
    page.get_by_role("link", name="Open the parcel of Bo Reed").click()
    page.get_by_role("link", name="Swap").click()
    page.get_by_label("No. 3", exact=True).check()
    page.get_by_role("button", name="Put it in").click()
    expect(
        page.get_by_text("Put No. 3 into the parcel of Bo Reed instead of No. 2")
    ).to_be_visible()
    check_shown(page, "Parcel for Bo Reed")
