"""Does a helper's sign-in open the packing of parcels, and nothing else at all?"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import resolve

from studio.web.models import Helper
from studio.web.people import add_sign_in, open_or_close, sign_ins
from studio.web.refusal import Refusal
from studio.web.roles import NOT_A_HELPERS, is_helper
from tests.conftest import MODEL_BACKEND
from tests.make import AT
from tests.web.address_book import addresses

# What a helper may open. Everything that is not here is refused, whatever it is.
HELPERS_MAY = {
    "sign-in",
    "sign-out",
    "password",
    "password-done",
    "photo",
    "parcels:parcels",
    "parcels:shipment",
    "parcels:mark",
    "parcels:moved",
    "parcels:parcel",
    "parcels:tracking",
    "parcels:weigh",
    "parcels:slips",
    "parcels:packers",
    "parcels:labels",
    "parcels:customs",
    "parcels:own-address",
}


@pytest.fixture
def helper(potter: User) -> Client:
    add_sign_in(name="sam", password="knead and knead again", helper=True, by=potter, at=AT)
    client = Client()
    client.force_login(User.objects.get(username="sam"), backend=MODEL_BACKEND)
    return client


@pytest.mark.parametrize(("name", "path"), addresses())
def test_a_helper_is_refused_every_page_but_these(helper: Client, name: str, path: str) -> None:
    if path == "/":
        answer = helper.get(path)
        assert (answer.status_code, answer.headers["Location"]) == (302, "/parcels/")
        assert helper.post(path).status_code == 403
        return
    # A page that asks nobody who they are (a link with a signed key) cannot tell a helper either.
    open_to_all = getattr(resolve(path).func, "login_required", True) is False
    closed = NOT_A_HELPERS.replace("'", "&#x27;")
    for answer in (helper.get(path), helper.post(path)):
        if name in HELPERS_MAY or open_to_all:
            assert answer.streaming or closed not in answer.text, name
        else:
            assert answer.status_code == 403, name
            assert closed in answer.text


def test_the_list_names_addresses_that_there_are() -> None:
    assert {name for name, _ in addresses()} >= HELPERS_MAY


def test_a_potter_is_refused_none(signed_in: Client) -> None:
    for _, path in addresses():
        assert signed_in.get(path).status_code != 403, path


def test_the_menu_of_a_helper_is_parcels_alone(helper: Client) -> None:
    page = helper.get("/parcels/").text
    assert 'href="/parcels/"' in page
    for path in ("/supporters/", "/settings/", "/records/", "/people/", "/sales/"):
        assert f'href="{path}"' not in page


def test_a_sign_in_is_made_on_the_page(
    signed_in: Client, potter: User, form_key: Callable[[], str]
) -> None:
    sent = {"name": "sam", "password": "knead and knead again", "role": "helper"}
    answer = signed_in.post("/people/", sent | {"form_key": form_key()})
    assert answer.status_code == 302
    sam = User.objects.get(username="sam")
    assert sam.check_password("knead and knead again")
    assert is_helper(sam)
    assert not is_helper(potter)
    page = signed_in.get("/people/").text
    assert "Made a sign-in for sam, a helper" in page
    again = signed_in.post("/people/", sent | {"form_key": form_key()})
    assert again.status_code == 422
    assert "There is a sign-in called sam already." in again.text


@pytest.mark.parametrize(
    ("name", "password", "sentence"),
    [
        (" ", "knead and knead again", "A sign-in needs a name."),
        ("sam & co", "knead and knead again", "letters, digits, dots and dashes"),
        ("ADA", "knead and knead again", "There is a sign-in called ADA already."),
        ("sam", "short", "at least 10 characters"),
        ("sam", "password123", "too common"),
    ],
)
def test_what_is_no_sign_in(potter: User, name: str, password: str, sentence: str) -> None:
    with pytest.raises(Refusal, match=sentence):
        add_sign_in(name=name, password=password, helper=True, by=potter, at=AT)
    assert not Helper.objects.exists()


def test_closing_a_sign_in_ends_its_visits(
    helper: Client, signed_in: Client, form_key: Callable[[], str]
) -> None:
    sam = User.objects.get(username="sam")
    assert helper.get("/parcels/").status_code == 200
    signed_in.post(f"/people/{sam.id}/", {"active": "no", "form_key": form_key()})
    assert helper.get("/parcels/").status_code == 302
    signed_in.post(f"/people/{sam.id}/", {"active": "yes", "form_key": form_key()})
    sam.refresh_from_db()
    assert sam.is_active


def test_which_sign_ins_cannot_be_closed(potter: User, other_potter: User) -> None:
    def close(user: User, by: User) -> None:
        open_or_close(user=user, active=False, by=by, at=AT)

    with pytest.raises(Refusal, match="You cannot close the sign-in you are using"):
        close(potter, potter)
    close(other_potter, potter)
    with pytest.raises(Refusal, match="bo is closed already"):
        close(other_potter, potter)
    with pytest.raises(Refusal, match="ada is the last potter's sign-in"):
        close(potter, other_potter)
    with pytest.raises(Refusal, match="ada is open already"):
        open_or_close(user=potter, active=True, by=other_potter, at=AT)


def test_a_name_that_only_stands_in_records_is_no_sign_in(potter: User) -> None:
    link = User.objects.create(username="link", is_active=False)
    link.set_unusable_password()
    link.save()
    assert link not in sign_ins()
    with pytest.raises(Refusal, match="Nobody signs in as link"):
        open_or_close(user=link, active=True, by=potter, at=AT)
