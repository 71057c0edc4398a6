"""Does every page ask who you are, and does guessing a password end?"""

import pytest
from django.contrib.auth.models import User
from django.test import Client

from tests.web.address_book import addresses

OPEN = {"sign-in"}
# Open to whoever holds a signed link or a secret address, and to nobody else.
BY_LINK = {"parcels:own-address", "planning:feed"}


def test_the_address_book_lists_addresses_of_every_room() -> None:
    found = dict(addresses())
    assert found["photo"] == "/photos/word"
    assert found["wares:boards"] == "/boards/"
    assert found["sign-in"] == "/sign-in/"
    assert found["undo"] == "/records/7/undo/"
    assert "<" not in "".join(found.values())


@pytest.mark.parametrize(("name", "path"), addresses())
@pytest.mark.django_db
def test_a_logged_out_request_goes_to_sign_in(client: Client, name: str, path: str) -> None:
    if name in OPEN:
        assert client.get(path).status_code == 200
        return
    if name in BY_LINK:
        assert client.get(path).status_code == 404
        return
    for answer in (client.get(path), client.post(path)):
        assert answer.status_code == 302
        assert answer.headers["Location"].startswith("/sign-in/"), path


@pytest.mark.django_db
def test_an_address_that_does_not_exist_says_so_to_anyone(client: Client) -> None:
    answer = client.get("/no-such-page/")
    assert answer.status_code == 404
    assert "No such page" in answer.text


def test_signing_in_leads_to_the_page_that_was_asked_for(client: Client, potter: User) -> None:
    answer = client.post(
        "/sign-in/",
        {"username": "ada", "password": "wedge the clay first", "next": "/password/"},
    )
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/password/"
    assert client.get("/password/").status_code == 200


def test_signing_in_never_leads_to_another_site(client: Client, potter: User) -> None:
    answer = client.post(
        "/sign-in/",
        {"username": "ada", "password": "wedge the clay first", "next": "//evil.example/"},
    )
    assert answer.headers["Location"] == "/"


def test_signing_out_ends_the_visit(signed_in: Client) -> None:
    assert signed_in.get("/sign-out/").status_code == 405
    assert signed_in.post("/sign-out/").status_code == 302
    assert signed_in.get("/password/").status_code == 302


def test_the_fifth_wrong_password_locks_the_name_even_for_the_right_one(
    client: Client, potter: User, other_potter: User
) -> None:
    for tries in range(1, 6):
        answer = client.post("/sign-in/", {"username": "ada", "password": f"guess {tries}"})
        assert answer.status_code == (200 if tries < 5 else 429)
    assert "wrong 5 times" in answer.text
    right = {"username": "ada", "password": "wedge the clay first"}
    assert client.post("/sign-in/", right).status_code == 429
    other = {"username": "bo", "password": "centre it then open"}
    assert client.post("/sign-in/", other).status_code == 302


def test_a_deactivated_person_is_out_at_once(signed_in: Client, potter: User) -> None:
    potter.is_active = False
    potter.save()
    assert signed_in.get("/password/").status_code == 302


def test_htmx_is_sent_to_the_whole_sign_in_page(client: Client, db: None) -> None:
    answer = client.get(
        "/password/",
        headers={"HX-Request": "true", "HX-Current-URL": "http://testserver/boards/3/"},
    )
    assert answer.headers["HX-Redirect"] == "/sign-in/?next=/boards/3/"


def test_a_short_new_password_is_refused(signed_in: Client) -> None:
    answer = signed_in.post(
        "/password/",
        {
            "old_password": "wedge the clay first",
            "new_password1": "short",
            "new_password2": "short",
        },
    )
    assert answer.status_code == 200
    assert "at least 10 characters" in answer.text


def test_a_wrong_password_is_said_in_words_of_our_own(client: Client, potter: User) -> None:
    answer = client.post("/sign-in/", {"username": "ada", "password": "guess"})
    assert "This name and this password do not belong together." in answer.text
    assert 'value="ada"' in answer.text
    assert "guess" not in answer.text
    assert "Username" not in answer.text


def test_the_password_page_asks_in_words_of_our_own(signed_in: Client) -> None:
    page = signed_in.get("/password/").text
    for label in ("The password until now", "New password", "The new password again"):
        assert label in page
    sent = {"old_password": "wedge the clay first", "new_password1": "centre it then open"}
    wrong = signed_in.post("/password/", {**sent, "new_password2": "centre it then pull"})
    assert wrong.status_code == 200
    right = signed_in.post("/password/", {**sent, "new_password2": sent["new_password1"]})
    assert right.headers["Location"] == "/password/done/"
