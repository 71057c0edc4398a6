"""Does a supporter's link show, change and confirm their own address, and nothing else?"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.contrib.auth.models import User
from django.core import signing
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.urls import reverse

from studio.parcels import selectors, services
from studio.parcels.models import PostSettings, Shipment, Supporter
from studio.parcels.views.addresses import SAVES_AN_HOUR, WRONG_AN_HOUR, _only_here
from studio.web.models import Change
from tests.parcels import cast
from tests.parcels.cast import LEEDS, NOW

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture(autouse=True)
def no_counts() -> None:
    """Forget what the limits counted in the tests before."""
    cache.clear()


@pytest.fixture
def december(potter: User) -> Shipment:
    return cast.asked(potter)


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
        assert (answer.status_code, answer["Location"]) == (302, url)
        thanked = client.get(url).text
        assert "Thank you. This address is confirmed, today, 20 November 2026." in thanked
        assert "9 Ash Lane" in thanked
    ada.refresh_from_db()
    assert (ada.street_address, ada.address_confirmed_date) == ("9 Ash Lane", NOW.date())
    assert (ada.name, ada.email, ada.packing_note) == ("Ada", "ada@example.org", "wool allergy")
    assert Supporter.objects.filter(street_address="4 Kiln Row").count() == 1  # Cy's
    change = Change.objects.latest("id")
    assert change.said == "Ada gave another address by their link"
    assert not change.by.is_active
    assert not change.by.has_usable_password()


def test_thanks_follow_from_what_is_stored(
    client: Client, december: Shipment, ada: Supporter
) -> None:
    url = link(ada, december)
    with time_machine.travel(NOW, tick=False):
        # Whatever stands in the address line of the browser confirms nothing.
        page = client.get(f"{url}?saved").text
        assert "Thank you" not in page
        assert "Last confirmed on 19 November 2026" in page
        client.post(url, LEEDS)
        assert "Thank you" in client.get(url).text
        # Not for what is typed and not saved: a refused address, another country's fields.
        assert "Thank you" not in client.post(url, LEEDS | {"postal_code": "1"}).text
        assert "Thank you" not in client.post(url, LEEDS | {"look": "1"}).text
    with time_machine.travel(NOW + timedelta(days=1), tick=False):
        page = client.get(url).text
    assert "Thank you" not in page
    assert "Last confirmed on 20 November 2026" in page


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL has many pens")
@pytest.mark.django_db(transaction=True)
def test_a_busy_database_loses_nothing_that_was_typed(
    client: Client, december: Shipment, ada: Supporter
) -> None:
    url = link(ada, december)
    moved = LEEDS | {"street_address": "9 Ash Lane"}
    with time_machine.travel(NOW, tick=False), pen_held_by_another():
        answer = client.post(url, moved)
    assert answer.status_code == 503
    assert "Not saved: the studio&#x27;s records are busy just now." in answer.text
    assert "9 Ash Lane" in answer.text
    assert "Thank you" not in answer.text
    ada.refresh_from_db()
    assert ada.street_address == "4 Kiln Row"
    with time_machine.travel(NOW, tick=False):
        assert client.post(url, moved).status_code == 302
    ada.refresh_from_db()
    assert ada.street_address == "9 Ash Lane"


@contextmanager
def pen_held_by_another() -> Iterator[None]:
    """Another program writes to the database and does not end; nobody waits long for it."""
    name = str(connection.settings_dict["NAME"])
    other = sqlite3.connect(name, isolation_level=None, uri=name.startswith("file:"))
    other.execute("BEGIN IMMEDIATE")
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 50")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()
        connection.close()


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
