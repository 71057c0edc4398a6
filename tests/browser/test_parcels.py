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
from studio.web.people import add_sign_in
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
    pages += [reverse(f"parcels:{name}") for name in ("post", "boxes", "customs-words", "looks")]
    pages += [reverse("parcels:ask", args=[december.id]), f"{url}?address=1"]
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
    page.get_by_role("checkbox", name="Ada Lind No. 1").check()
    page.get_by_label("Box").fill("small")
    page.get_by_role("button", name="Mark packed").click()
    expect(page.get_by_text("Packed the parcel of Ada Lind, December 2026")).to_be_visible()
    expect(page.get_by_role("button", name="Packing slips")).to_be_disabled()
    page.get_by_role("checkbox", name="Ada Lind never confirmed").check()
    page.get_by_role("checkbox", name="Bo Reed never confirmed").check()
    page.get_by_role("button", name="Lock the addresses").click()
    expect(page.get_by_text("Locked 2 addresses of December 2026")).to_be_visible()
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


def test_an_address_is_put_right_by_its_link_on_a_phone(
    page: Page, live_server: LiveServer, december: Shipment
) -> None:
    """Nobody is signed in: the link alone opens the page."""
    ada = Supporter.objects.get(name="Ada Lind")
    token = services.address_link(supporter=ada, shipment=december)
    url = live_server.url + reverse("parcels:own-address", args=[token])
    check_page(page, url)
    page.get_by_label("Street address").fill("9 Ash Lane")
    page.get_by_label("Postcode").fill("12345")
    page.get_by_role("button", name="This is right").click()
    expect(page.get_by_text("is no postcode of United Kingdom")).to_be_visible()
    check_shown(page, "Where should your parcel go?")
    page.get_by_label("Postcode").fill("LS1 4DY")
    page.get_by_role("button", name="This is right").click()
    expect(page.get_by_text("Thank you. This address is confirmed, today")).to_be_visible()
    check_shown(page, "Where should your parcel go?")
    ada.refresh_from_db()
    assert ada.street_address == "9 Ash Lane"
    page.get_by_label("Country").select_option("US")
    page.get_by_role("button", name="Show this country's fields").click()
    expect(page.get_by_label("ZIP code")).to_be_visible()
    page.goto(live_server.url + reverse("parcels:own-address", args=["x"]))
    check_shown(page, "This link has ended")


def test_an_address_that_changed_is_asked_about_before_it_is_posted(
    signed_in_page: Page, live_server: LiveServer, december: Shipment, potter: User
) -> None:
    services.pick_parcels(shipment=december, by=potter, at=NOW)
    parcels = list(december.parcels.all())
    ids = [parcel.id for parcel in parcels]
    services.lock_addresses(shipment=december, ticked=ids, by=potter, at=NOW)
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    moved = cast.LEEDS | {"street_address": "9 Ash Lane"}
    services.set_own_address(supporter=parcels[0].supporter, fields=moved, at=NOW)
    page = signed_in_page
    page.goto(live_server.url + reverse("parcels:shipment", args=[december.id]))
    page.get_by_label("All 2 of them").check()
    page.get_by_role("button", name="Mark posted today").click()
    expect(page.get_by_text("9 Ash Lane")).to_be_visible()
    check_shown(page, "To which address?")
    page.get_by_role("button", name="Do this").click()
    expect(page.get_by_text("Nothing is posted yet.")).to_be_visible()  # the browser asks to choose
    page.get_by_label("post to the printed one").check()
    page.get_by_role("button", name="Do this").click()
    expect(page.get_by_text("Posted 2 parcels of December 2026")).to_be_visible()


def test_a_parcel_breaks_and_another_goes_out_by_thumb(
    signed_in_page: Page, live_server: LiveServer, december: Shipment, potter: User
) -> None:
    services.pick_parcels(shipment=december, by=potter, at=NOW)
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels, by=potter, at=NOW)
    page = signed_in_page
    page.goto(live_server.url + reverse("parcels:parcel", args=[parcels[0].id]))
    page.get_by_label("Tracking number").fill("RR 473 124 820 GB")
    page.get_by_role("button", name="Save the number").click()
    expect(page.get_by_text("its check digit is 0, but the eight digits before it")).to_be_visible()
    check_shown(page, "Parcel for Ada Lind")
    page.get_by_label("Tracking number").fill("RR 473 124 829 GB")
    page.get_by_role("button", name="Save the number").click()
    expect(page.get_by_text("check digit right")).to_be_visible()
    page.get_by_label("What happened").fill("rim chipped")
    page.get_by_role("button", name="It arrived broken").click()
    expect(page.get_by_role("heading", name="In its place")).to_be_visible()
    check_shown(page, "Parcel for Ada Lind")
    page.get_by_label("No. 3 Mug").check()
    page.get_by_role("button", name="Send this in its place").click()
    expect(page.get_by_text("which arrived broken. It uses no turn")).to_be_visible()
    check_shown(page, "Parcel for Ada Lind")
    check_page(page, live_server.url + reverse("parcels:shipment", args=[december.id]))
    check_page(page, live_server.url + reverse("parcels:boxes"))


def test_the_bench_of_a_helper(page: Page, live_server: LiveServer, december: Shipment) -> None:
    maker = User.objects.get(username="ada")
    services.pick_parcels(shipment=december, by=maker, at=NOW)
    add_sign_in(name="sam", password="knead and knead again", helper=True, by=maker, at=NOW)
    page.goto(live_server.url + "/")
    page.get_by_label("Name").fill("sam")
    page.get_by_label("Password").fill("knead and knead again")
    page.get_by_role("main").get_by_role("button").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Parcels")
    page.get_by_role("link", name="December 2026").click()
    check_shown(page, "Parcels of December 2026")
    page.get_by_role("link", name="Open the parcel of Ada Lind").click()
    check_shown(page, "Parcel for Ada Lind")
    page.goto(live_server.url + "/supporters/")
    expect(page.get_by_text("Your sign-in is a helper's")).to_be_visible()
