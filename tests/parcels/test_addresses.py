"""Are addresses asked for, confirmed, locked and told when they change; and who looked?"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.contrib.auth.models import User
from django.core import signing
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from studio.parcels import papers, selectors, services
from studio.parcels.models import AddressLook, Parcel, PostSettings, Shipment, Supporter
from studio.parcels.views.addresses import SAVES_AN_HOUR, WRONG_AN_HOUR, _only_here
from studio.wares.models import Form
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import LEEDS, NOW
from tests.parcels.test_papers import pages
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture(autouse=True)
def no_counts() -> None:
    """Forget what the limits counted in the tests before."""
    cache.clear()


@pytest.fixture
def december(potter: User) -> Shipment:
    """Posted on 10 December: a confirmation counts from 21 days before, 19 November, on."""
    cast.supporter("Ada", potter, address_confirmed_date=date(2026, 11, 19))
    cast.supporter("Bo", potter, address_confirmed_date=date(2026, 11, 18))
    cast.supporter("Cy", potter)
    wares_cast.pots(wares_cast.line(), 3, potter)
    shipment = cast.shipment(potter, parcel_count=3)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    return shipment


def parcel_of(shipment: Shipment, name: str) -> Parcel:
    return shipment.parcels.get(supporter__name=name)


def state(parcel: Parcel) -> selectors.AddressState:
    parcel = Parcel.objects.select_related("supporter", "shipment").get(id=parcel.id)
    printed = selectors.addresses.printed_at(parcel.shipment)
    return selectors.address_state(
        parcel, settings=selectors.post_settings(), printed_at=printed.get(parcel.id)
    )


def test_a_confirmation_counts_for_one_shipment_only(potter: User, december: Shipment) -> None:
    # 10 December less 21 days is 19 November: Ada's day counts, the day before does not
    assert state(parcel_of(december, "Ada")).confirmed
    assert not state(parcel_of(december, "Bo")).confirmed
    assert not state(parcel_of(december, "Cy")).confirmed
    # For a shipment a month later, everybody is asked again.
    later = cast.shipment(potter, month="2027-01")
    ada = Parcel.objects.create(shipment=later, supporter=Supporter.objects.get(name="Ada"))
    assert not state(ada).confirmed


def test_nobody_is_locked_unconfirmed_unless_ticked_off(potter: User, december: Shipment) -> None:
    with pytest.raises(Refusal) as refused:
        services.lock_addresses(shipment=december, by=potter, at=NOW)
    assert str(refused.value) == (
        "2 addresses are not confirmed: Bo and Cy."
        " Ask them, or tick each one off to print it as it stands."
    )
    bo = parcel_of(december, "Bo")
    with pytest.raises(Refusal, match="1 address is not confirmed: Cy"):
        services.lock_addresses(shipment=december, ticked=[bo.id], by=potter, at=NOW)
    cy = Supporter.objects.get(name="Cy")
    services.confirm_address(supporter=cy, day=date(2026, 11, 20), by=potter, at=NOW)
    ada = parcel_of(december, "Ada")
    change = services.lock_addresses(shipment=december, ticked=[bo.id, ada.id], by=potter, at=NOW)
    assert change.said == "Locked 3 addresses of December 2026"
    assert [(p.locked_name, p.ticked_off) for p in december.parcels.all()] == [
        ("Ada", False),  # confirmed, so the tick says nothing
        ("Bo", True),
        ("Cy", False),
    ]
    with pytest.raises(Refusal, match="All addresses of December 2026 are locked already"):
        services.lock_addresses(shipment=december, by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert not december.parcels.exclude(locked_at=None).exists()
    assert not december.parcels.exclude(locked_address={}).exists()


def test_a_month_without_parcels_has_nothing_to_lock(potter: User) -> None:
    with pytest.raises(Refusal, match="No parcel of January 2027 waits for an address"):
        services.lock_addresses(shipment=cast.shipment(potter, month="2027-01"), by=potter, at=NOW)


def test_nothing_with_an_address_is_printed_before_the_lock(
    potter: User, december: Shipment
) -> None:
    for paper in (
        papers.slips_paper,
        papers.customs_paper,
        lambda one: papers.labels_paper(one, sheet="a4"),
    ):
        with pytest.raises(Refusal) as refused:
            paper(december)
        assert str(refused.value) == (
            "3 addresses of December 2026 are not locked yet (Ada, Bo and Cy)."
            " Lock them first, then print."
        )
    ada = parcel_of(december, "Ada")
    with pytest.raises(Refusal, match="The address of Ada is not locked yet"):
        papers.slips_paper(december, parcel=ada)
    assert papers.packers_paper(december)  # it has no street
    cast.lock(december, potter)
    assert papers.slips_paper(december)


def test_a_change_after_the_lock_is_told_and_not_printed(potter: User, december: Shipment) -> None:
    cast.lock(december, potter)
    ada = parcel_of(december, "Ada")
    assert not state(ada).changed
    with pytest.raises(Refusal, match="The address of Ada has not changed since"):
        services.take_address(parcel=ada, by=potter, at=NOW)
    moved = LEEDS | {"street_address": "9 Ash Lane"}
    services.set_own_address(supporter=ada.supporter, fields=moved, at=NOW)
    assert state(ada).changed
    (slip,) = pages(papers.slips_paper(december, parcel=ada))
    assert "4 Kiln Row" in slip
    assert "9 Ash Lane" not in slip
    services.keep_looks(page="slips", by=potter, at=NOW, parcels=[ada])
    assert not state(ada).print_again
    later = NOW + timedelta(hours=1)
    change = services.take_address(parcel=ada, by=potter, at=later)
    assert change.said == "Took the new address of Ada. Print its slip and label again"
    assert (state(ada).changed, state(ada).print_again) == (False, True)
    (slip,) = pages(papers.slips_paper(december, parcel=ada))
    assert "9 Ash Lane" in slip
    services.keep_looks(page="labels", by=potter, at=later + timedelta(minutes=1), parcels=[ada])
    assert not state(ada).print_again
    services.undo(change=change, by=potter, at=later)
    assert parcel_of(december, "Ada").locked_address["street_address"] == "4 Kiln Row"
    with pytest.raises(Refusal, match="was undone already"):
        services.undo(change=change, by=potter, at=later)


def test_a_posted_parcel_keeps_its_address(potter: User, december: Shipment) -> None:
    cast.lock(december, potter)
    lock = Change.objects.get(action="lock")
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels, by=potter, at=NOW)
    ada = parcel_of(december, "Ada")
    services.set_own_address(
        supporter=ada.supporter, fields=LEEDS | {"street_address": "9 Ash Lane"}, at=NOW
    )
    with pytest.raises(Refusal, match="is posted already"):
        services.take_address(parcel=ada, by=potter, at=NOW)
    with pytest.raises(Refusal, match="a parcel was posted or taken away since"):
        services.undo(change=lock, by=potter, at=NOW)


def test_a_parcel_picked_after_the_lock_is_locked_by_itself(
    potter: User, december: Shipment
) -> None:
    cast.lock(december, potter)
    ada = Supporter.objects.get(name="Ada")
    services.skip(shipment=december, supporter=ada, reason="away", by=potter, at=NOW)
    cast.supporter("Di", potter)
    services.pick_parcels(shipment=december, by=potter, at=NOW)
    with pytest.raises(Refusal, match="The address of Di is not locked yet"):
        papers.slips_paper(december)
    cast.lock(december, potter)
    assert papers.slips_paper(december)


def test_old_printed_addresses_are_forgotten(potter: User, december: Shipment) -> None:
    cast.lock(december, potter)
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels, by=potter, at=NOW)
    posted = NOW.date()
    # kept for 90 days: on the 90th day it is still there, on the 91st it goes
    assert services.forget_addresses(today_date=posted + timedelta(days=90)) == 0
    assert services.forget_addresses(today_date=posted + timedelta(days=91)) == 3
    ada = parcel_of(december, "Ada")
    assert (ada.locked_name, ada.locked_address) == ("", {})
    assert ada.locked_at is not None
    assert not state(ada).changed
    # A paper with a country and nothing else on it is none.
    sentence = "The printed address of Ada is no longer kept, so it cannot be printed."
    assert selectors.cannot_print_addresses(december, parcel=ada) == sentence
    for paper in (papers.slips_paper, papers.customs_paper):
        with pytest.raises(Refusal, match=sentence):
            paper(december, parcel=ada)


def test_a_month_leaves_out_whose_printed_address_is_forgotten(
    signed_in: Client, potter: User, december: Shipment
) -> None:
    Form.objects.update(weight_g=360, price_pence=3200, silhouette="mug")
    december.parcels.update(weighed_g=900)
    PostSettings.objects.update_or_create(id=1, defaults={"home_code": "HU"})
    cast.lock(december, potter)
    services.mark_packed(parcels=list(december.parcels.all()), by=potter, at=NOW)
    services.mark_posted(parcels=list(december.parcels.all()), by=potter, at=NOW)
    assert len(pages(papers.slips_paper(december))) == 3
    Parcel.objects.filter(supporter__name="Ada").update(locked_name="", locked_address={})
    services.erase(supporter=Supporter.objects.get(name="Bo"), by=potter, at=NOW)
    papers_of = (papers.slips_paper, papers.customs_paper)
    for paper in papers_of:
        (page,) = pages(paper(december))
        assert "Cy" in page
    signed_in.get(reverse("parcels:slips", args=[december.id]))
    assert [look.supporter.name for look in AddressLook.objects.filter(page="slips")] == ["Cy"]
    with pytest.raises(Refusal, match="The printed address of supporter 2 is no longer kept"):
        papers.slips_paper(december, parcel=december.parcels.get(supporter__name="supporter 2"))
    Parcel.objects.filter(supporter__name="Cy").update(locked_name="", locked_address={})
    for paper in papers_of:
        with pytest.raises(Refusal, match=r"The printed address of Ada.*Cy is no longer kept"):
            paper(december)


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        (date(2026, 11, 21), "21 November 2026 is still to come"),
        (date(2026, 11, 19), "The address of Ada is confirmed on that day already"),
    ],
)
def test_what_is_no_confirmation(
    potter: User, december: Shipment, day: date, sentence: str
) -> None:
    ada = Supporter.objects.get(name="Ada")
    with pytest.raises(Refusal, match=sentence):
        services.confirm_address(supporter=ada, day=day, by=potter, at=NOW)


# The link.


def link(supporter: Supporter, shipment: Shipment | None = None) -> str:
    token = services.address_link(supporter=supporter, shipment=shipment)
    return reverse("parcels:own-address", args=[token])


@pytest.fixture
def ada(december: Shipment) -> Supporter:
    return Supporter.objects.get(name="Ada")


def test_a_link_shows_and_changes_its_own_address_without_a_sign_in(
    client: Client, december: Shipment, ada: Supporter
) -> None:
    Supporter.objects.filter(id=ada.id).update(
        packing_note="wool allergy", email="ada@example.org", household="kiln row"
    )
    Supporter.objects.filter(name="Bo").update(street_address="77 Other Road")
    url = link(ada, december)
    with time_machine.travel(NOW, tick=False):
        answer = client.get(url)
        page = answer.text
        assert answer.status_code == 200
        assert "4 Kiln Row" in page
        for secret in ("wool", "example.org", "kiln row", "Saucer", "Other Road", "paid", "£"):
            assert secret not in page, secret
        assert answer["Cache-Control"].startswith("max-age=0")
        # The link is the key: no other site may learn it. Ours must, or the form is not trusted.
        assert answer["Referrer-Policy"] == "same-origin"
        assert answer["X-Robots-Tag"] == "noindex, nofollow"
        sent = LEEDS | {
            "street_address": "9 Ash Lane",
            "name": "Mallory",
            "tier": "1",
            "email": "x",
        }
        answer = client.post(url, sent)
        assert (answer.status_code, answer["Location"]) == (302, f"{url}?saved")
        assert "Thank you. The address is confirmed." in client.get(f"{url}?saved").text
    ada.refresh_from_db()
    assert (ada.street_address, ada.address_confirmed_date) == ("9 Ash Lane", NOW.date())
    assert (ada.name, ada.email, ada.packing_note) == ("Ada", "ada@example.org", "wool allergy")
    assert Supporter.objects.filter(street_address="4 Kiln Row").count() == 1  # Cy's
    change = Change.objects.latest("id")
    assert change.said == "Ada gave another address by their link"
    assert not change.by.is_active
    assert not change.by.has_usable_password()


def test_a_link_that_changes_nothing_confirms_and_can_be_undone(
    client: Client, potter: User, december: Shipment, ada: Supporter
) -> None:
    with time_machine.travel(NOW, tick=False):
        for _ in range(2):
            client.post(link(ada, december), LEEDS)
    ada.refresh_from_db()
    assert ada.address_confirmed_date == NOW.date()
    first = Change.objects.filter(said="Ada confirmed the address by their link").earliest("id")
    services.undo(change=first, by=potter, at=NOW)
    ada.refresh_from_db()
    assert ada.address_confirmed_date == date(2026, 11, 19)


def test_an_address_that_cannot_be_is_refused_and_kept_to_be_seen(
    client: Client, december: Shipment, ada: Supporter
) -> None:
    answer = client.post(link(ada, december), LEEDS | {"postal_code": "12345"})
    assert answer.status_code == 422
    assert "is no postcode of United Kingdom" in answer.text.replace("&#x27;", "'")
    assert 'value="12345"' in answer.text
    answer = client.post(link(ada, december), LEEDS | {"country_code": "US", "look": "1"})
    assert answer.status_code == 200
    assert "ZIP code" in answer.text
    ada.refresh_from_db()
    assert (ada.postal_code, ada.country_code) == ("LS1 4DY", "GB")


def test_a_link_ends(client: Client, december: Shipment, ada: Supporter) -> None:
    made = datetime(2026, 11, 20, 10, tzinfo=UTC)
    with time_machine.travel(made, tick=False):
        url = link(ada, december)
    for days, status in ((13.9, 200), (14.1, 404)):
        with time_machine.travel(made + timedelta(days=days), tick=False):
            assert client.get(url).status_code == status
    PostSettings.objects.create(id=1, link_days=30)
    with time_machine.travel(made + timedelta(days=14.1), tick=False):
        assert client.get(url).status_code == 200


def test_no_other_link_opens_anything(
    client: Client, potter: User, december: Shipment, ada: Supporter
) -> None:
    url = link(ada, december)
    token = url.split("/")[-2]
    payload, rest = token.split(":", 1)
    bo = Supporter.objects.get(name="Bo")
    other = signing.dumps([bo.id, december.id], salt="another.salt")
    forged = signing.dumps([bo.id, december.id], salt=selectors.addresses.SALT, key="x" * 50)
    swapped = f"{signing.b64_encode(f'[{bo.id},0]'.encode()).decode()}:{rest}"
    words = signing.dumps(["a", "b"], salt=selectors.addresses.SALT)
    gone = signing.dumps([99_999, 0], salt=selectors.addresses.SALT)
    for bad in (token[:-1], f"{payload}x:{rest}", other, forged, swapped, words, gone, "x"):
        answer = client.get(reverse("parcels:own-address", args=[bad]))
        assert answer.status_code == 404, bad
        assert "This link has ended" in answer.text
        assert "Kiln Row" not in answer.text
    for parcel in december.parcels.all():
        services.skip(
            shipment=december, supporter=parcel.supporter, reason="away", by=potter, at=NOW
        )
    services.erase(supporter=ada, by=potter, at=NOW)
    assert client.get(url).status_code == 404


def test_a_link_is_told_that_the_parcel_is_packed_already(
    client: Client, potter: User, december: Shipment, ada: Supporter
) -> None:
    assert "being packed already" not in client.get(link(ada, december)).text
    cast.lock(december, potter)
    assert "being packed already" in client.get(link(ada, december)).text


def test_a_link_saves_only_so_often(client: Client, december: Shipment, ada: Supporter) -> None:
    url = link(ada, december)
    for _ in range(SAVES_AN_HOUR):
        assert client.post(url, LEEDS).status_code == 302
    answer = client.post(url, LEEDS | {"street_address": "9 Ash Lane"})
    assert (answer.status_code, "Too often" in answer.text) == (429, True)
    ada.refresh_from_db()
    assert ada.street_address == "4 Kiln Row"
    bo = Supporter.objects.get(name="Bo")
    assert client.post(link(bo, december), LEEDS).status_code == 302


def test_wrong_links_are_tried_only_so_often(client: Client, db: None) -> None:
    wrong = reverse("parcels:own-address", args=["x"])
    for _ in range(WRONG_AN_HOUR):
        assert client.get(wrong).status_code == 404
    assert client.get(wrong).status_code == 429


def test_a_link_needs_the_token_of_its_own_page(december: Shipment, ada: Supporter) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(link(ada, december), LEEDS).status_code == 403


def test_the_page_that_asks_has_a_link_for_each(
    signed_in: Client, client: Client, form_key: Key, december: Shipment, ada: Supporter
) -> None:
    Supporter.objects.filter(id=ada.id).update(email="ada+pots@example.org")
    with time_machine.travel(NOW, tick=False):
        page = signed_in.get(reverse("parcels:ask", args=[december.id])).text
        links = re.findall(r'value="http://testserver(/address/[^"]+)"', page)
        assert len(links) == 3
        assert "4 Kiln Row" in client.get(links[0]).text
        assert "A confirmation counts from Thu 19 Nov on" in page
        mail = re.search(r'href="mailto:([^"]+)"', page)
        assert mail is not None
        assert mail[1].startswith("ada%2Bpots%40example.org?subject=")
        assert "%2Faddress%2F" in mail[1]
        assert page.count("No e-mail is known.") == 2
        cy = Supporter.objects.get(name="Cy")
        sent: dict[str, Any] = {"day": "2026-11-20", "shipment": december.id}
        answer = signed_in.post(
            reverse("parcels:confirm", args=[cy.id]), sent | {"form_key": form_key()}
        )
        assert answer["Location"] == reverse("parcels:ask", args=[december.id])
        answer = signed_in.post(
            reverse("parcels:confirm", args=[cy.id]), {"day": "soon", "form_key": form_key()}
        )
        assert answer.status_code == 409
    cy.refresh_from_db()
    assert cy.address_confirmed_date == date(2026, 11, 20)


@pytest.mark.parametrize(
    ("host", "only_here"),
    [
        ("localhost:8000", True),
        ("127.0.0.1:8000", True),
        ("192.168.1.20:8000", True),
        ("[::1]:8000", True),
        ("pots.example.org", False),
        ("pots.example.org:8443", False),
        ("203.0.113.7", True),  # kept for examples by RFC 5737, so no real address
        ("8.8.8.8:80", False),
    ],
)
def test_a_link_that_nobody_can_reach_is_told(host: str, only_here: bool) -> None:
    assert _only_here(host) is only_here


# Who looked.


def test_every_look_at_an_address_is_kept(
    signed_in: Client, potter: User, december: Shipment, ada: Supporter
) -> None:
    parcel = parcel_of(december, "Ada")
    cast.lock(december, potter)
    signed_in.get(reverse("parcels:parcel", args=[parcel.id]))
    assert not AddressLook.objects.exists()  # the address was not on the page
    signed_in.get(reverse("parcels:parcel", args=[parcel.id]) + "?address=1")
    signed_in.get(reverse("parcels:supporter", args=[ada.id]))
    signed_in.get(reverse("parcels:slips", args=[december.id]))
    signed_in.get(reverse("parcels:labels", args=[december.id]) + f"?parcel={parcel.id}")
    signed_in.get(reverse("parcels:packers", args=[december.id]))
    looks = AddressLook.objects.order_by("id").values_list(
        "page", "supporter__name", "by__username"
    )
    assert list(looks) == [
        ("parcel", "Ada", "ada"),
        ("person", "Ada", "ada"),
        ("slips", "Ada", "ada"),
        ("slips", "Bo", "ada"),
        ("slips", "Cy", "ada"),
        ("labels", "Ada", "ada"),
    ]
    page = signed_in.get(reverse("parcels:looks")).text
    assert page.count("packing slips") == 3
    one = signed_in.get(reverse("parcels:looks-at", args=[ada.id])).text
    assert "Who saw the address of Ada" in one
    assert one.count("packing slips") == 1
    body = b"".join(signed_in.get(reverse("parcels:export")))  # type: ignore[arg-type]
    assert b"4 Kiln Row" in body
    assert AddressLook.objects.filter(page="export").count() == 3


def test_a_paper_that_was_refused_showed_nobody(signed_in: Client, december: Shipment) -> None:
    assert signed_in.get(reverse("parcels:slips", args=[december.id])).status_code == 409
    assert not AddressLook.objects.exists()


def test_erasing_takes_the_printed_address_too(
    potter: User, december: Shipment, ada: Supporter
) -> None:
    cast.lock(december, potter)
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels, by=potter, at=NOW)
    box = parcel_of(december, "Ada")
    services.set_tracking(parcel=box, number="RR473124829GB", by=potter, at=NOW)
    services.report_broken(parcel=box, note="Ada says: in pieces", by=potter, at=NOW)
    services.erase(supporter=ada, by=potter, at=NOW)
    box.refresh_from_db()
    assert (box.locked_name, box.locked_address, box.tracking, box.broken_note) == ("", {}, "", "")
    for change in Change.objects.all():
        assert "4 Kiln Row" not in str(change.undo or "") or change.subject != "supporter"
        assert "RR473124829GB" not in change.said
