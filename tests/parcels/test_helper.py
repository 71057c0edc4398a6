"""Does a helper pack this month's parcels without seeing payments, people or past months?"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from studio.parcels import services
from studio.parcels.models import AddressLook, Parcel, Shipment, Supporter
from studio.web.people import add_sign_in
from tests.conftest import MODEL_BACKEND
from tests.parcels import cast
from tests.parcels.cast import NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
Key = Callable[[], str]

SECRETS = (
    "paid", "Saucer", "monthly", "5.00", "£", "share", "Turns", "Why now", "@", "Waited",
    "/supporters/", "/settings/", "Skip this", "Swap", "Undo", "ada-secret-note",
)  # fmt: skip
"""What a helper's pages must not have: payments, tiers, turns, mail, and ways to other pages."""


@pytest.fixture(autouse=True)
def november() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def helper(potter: User) -> Client:
    add_sign_in(name="sam", password="knead and knead again", helper=True, by=potter, at=NOW)
    client = Client()
    client.force_login(User.objects.get(username="sam"), backend=MODEL_BACKEND)
    return client


@pytest.fixture
def december(potter: User) -> Shipment:
    cast.supporter("Ada", potter, email="ada@example.org", packing_note="no wool: asthma")
    cast.supporter("Bo", potter, is_gift=True, gift_from="Aunt Wren")
    wares_cast.pots(wares_cast.line(price_pence=3247), 2, potter)
    shipment = cast.shipment(potter)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    cast.lock(shipment, potter)
    return shipment


def at(name: str, *args: int) -> str:
    return reverse(f"parcels:{name}", args=args)


def test_the_pages_of_a_helper_say_what_packing_needs_and_nothing_more(
    helper: Client, december: Shipment
) -> None:
    parcel = december.parcels.get(supporter__name="Ada")
    pages = {
        url: helper.get(url).text
        for url in (
            at("parcels"),
            at("shipment", december.id),
            at("parcel", parcel.id),
            at("parcel", parcel.id) + "?address=1",
            at("parcel", parcel.id) + "?swap=1&add=1",
        )
    }
    for url, page in pages.items():
        for secret in SECRETS:
            assert secret not in page, (url, secret)
    assert "December 2026" in pages[at("parcels")]
    bench = pages[at("shipment", december.id)]
    assert "no wool: asthma" in bench
    assert "Mark packed" in bench
    assert "4 Kiln Row" not in bench + pages[at("parcel", parcel.id)]
    assert "4 Kiln Row" in pages[at("parcel", parcel.id) + "?address=1"]
    look = AddressLook.objects.get()
    assert (look.by.username, look.supporter.name, look.page) == ("sam", "Ada", "parcel")


def test_a_helper_packs_weighs_posts_and_writes_numbers(
    helper: Client, form_key: Key, december: Shipment
) -> None:
    ids = list(december.parcels.values_list("id", flat=True))
    weight = {"box": "mug box", "weighed_g": "800", "form_key": form_key()}
    assert helper.post(at("weigh", ids[0]), weight).status_code == 302
    for do in ("pack", "post"):
        sent = {"parcel": ids, "do": do, "form_key": form_key()}
        answer = helper.post(at("mark", december.id), sent, follow=True)
        assert "Undo" not in answer.text
    number = {"number": "RR473124829GB", "form_key": form_key()}
    assert helper.post(at("tracking", ids[0]), number).status_code == 302
    parcel = Parcel.objects.get(id=ids[0])
    assert (parcel.state, parcel.weighed_g, parcel.tracking) == ("posted", 800, "RR473124829GB")


def test_a_helper_prints_and_each_look_is_kept(helper: Client, december: Shipment) -> None:
    for name in ("slips", "labels", "packers"):
        paper = helper.get(at(name, december.id))
        assert paper["Content-Type"] == "application/pdf"
        words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(paper.content)).pages)
        for secret in ("£", "32.47", "Saucer", "paid", "@"):
            assert secret not in words
    assert AddressLook.objects.filter(by__username="sam", page="slips").count() == 2
    assert AddressLook.objects.filter(by__username="sam", page="labels").count() == 2


def test_what_a_helper_may_not_do_is_not_done(
    helper: Client, form_key: Key, potter: User, december: Shipment
) -> None:
    parcel = december.parcels.first()
    assert parcel is not None
    person = parcel.supporter_id
    before = list(Parcel.objects.values()), list(Supporter.objects.values())
    for url in (
        at("pick", december.id), at("skip", december.id), at("want", december.id),
        at("lock", december.id), at("spare", december.id), at("choose", parcel.id),
        at("note", parcel.id), at("take-address", parcel.id), at("declare", parcel.id),
        at("broken", parcel.id), at("replace", parcel.id), at("erase", person),
        at("confirm", person), at("months", person), at("post"), at("boxes"),
        at("customs-words"),
    ):  # fmt: skip
        assert helper.post(url, {"form_key": form_key(), "note": "x"}).status_code == 403, url
    for url in (
        at("supporter", person), at("supporters"), at("turns"), at("tiers"), at("export"),
        at("looks"), at("ask", december.id),
    ):  # fmt: skip
        assert helper.get(url).status_code == 403, url
    assert before == (list(Parcel.objects.values()), list(Supporter.objects.values()))


def test_a_month_off_the_bench_is_closed_to_a_helper(
    helper: Client, form_key: Key, potter: User, december: Shipment
) -> None:
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels, by=potter, at=NOW)
    urls = [
        at("shipment", december.id),
        at("parcel", parcels[0].id) + "?address=1",
        at("slips", december.id),
        at("labels", december.id),
        at("packers", december.id),
        at("customs", december.id),
    ]
    with time_machine.travel(NOW + timedelta(days=7), tick=False):
        assert helper.get(urls[0]).status_code == 200
    with time_machine.travel(NOW + timedelta(days=8), tick=False):
        for url in urls:
            assert helper.get(url).status_code == 403, url
        mark = {"parcel": [parcels[0].id], "do": "arrive", "form_key": form_key()}
        assert helper.post(at("mark", december.id), mark).status_code == 403
        weight = {"weighed_g": "900", "form_key": form_key()}
        assert helper.post(at("weigh", parcels[0].id), weight).status_code == 403
        number = {"number": "x", "form_key": form_key()}
        assert helper.post(at("tracking", parcels[0].id), number).status_code == 403
        page = helper.get(at("parcels")).text
        assert "December 2026" not in page
        assert "Nothing stands on the bench now." in page
    assert set(december.parcels.values_list("state", flat=True)) == {"posted"}


def test_a_month_not_picked_yet_is_not_on_the_bench(helper: Client, potter: User) -> None:
    shipment = cast.shipment(potter, month="2027-01")
    assert helper.get(at("shipment", shipment.id)).status_code == 403
