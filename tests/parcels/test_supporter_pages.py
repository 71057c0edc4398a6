"""Do the pages of supporters lead a person through, and refuse in words?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from studio.parcels import services
from studio.parcels.models import (
    Payment,
    Supporter,
    Tier,
    TurnRule,
)
from tests.parcels import cast
from tests.parcels.cast import NOVEMBER, NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
Key = Callable[[], str]
TYPED = {
    "name": "Ada Lind",
    "email": "ada@example.org",
    "joined_month": "2026-03",
    "country_code": "DE",
    "street_address": "Weg 1",
    "postal_code": "24103",
    "city": "Kiel",
}


@pytest.fixture(autouse=True)
def november() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def at(name: str, *args: Any) -> str:
    return reverse(f"parcels:{name}", args=args)


@pytest.mark.parametrize(
    "name", ["supporters", "turns", "export", "import", "parcels", "paid", "tiers"]
)
def test_a_stranger_is_sent_to_sign_in(client: Client, name: str) -> None:
    assert client.get(at(name))["Location"].startswith(reverse("sign-in"))


def test_an_empty_studio_is_told_what_to_do(signed_in: Client) -> None:
    assert "Add a tier first" in signed_in.get(at("supporters")).text
    assert "Add a tier first" in signed_in.get(at("new-supporter")).text
    assert "No month is set" in signed_in.get(at("parcels")).text
    assert "No supporter yet" in signed_in.get(at("turns")).text


def test_a_supporter_is_taken_in_by_the_form(signed_in: Client, form_key: Key) -> None:
    mug, tier = wares_cast.line().form, cast.tier()
    sent = {**TYPED, "tier": tier.id, "please_no": [mug.id], "form_key": form_key()}
    answer = signed_in.post(at("new-supporter"), sent)
    ada = Supporter.objects.get()
    assert answer["Location"] == at("supporter", ada.id)
    assert (ada.country_code, ada.city, ada.joined_month) == ("DE", "Kiel", 2026 * 12 + 2)
    assert list(ada.please_no.all()) == [mug]
    page = signed_in.get(answer["Location"]).text
    assert "Ada Lind<br>Weg 1<br>24103 KIEL<br>GERMANY" in page
    assert "0 of 3 paid months" in page
    assert "Weg 1" not in signed_in.get(at("supporters")).text


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (
            {"country_code": ""},
            "The country is missing. Without one a parcel cannot be addressed: choose it.",
        ),
        ({"country_code": "XX"}, "This is no country known here. Choose one."),
        ({"postal_code": ""}, "Germany: the postcode is missing."),
        ({"postal_code": "2410"}, "&#x27;2410&#x27; is no postcode of Germany."),
        ({"country_area": "Holstein"}, "an address there has no state, province or county line"),
        ({"joined_month": "March"}, "&#x27;March&#x27; is no month."),
        ({"joined_month": "2027-03"}, "March 2027 is still to come."),
        ({"email": "ada"}, "Enter a valid email address."),
        ({"is_gift": "on"}, "A gift names its giver"),
        ({"name": ""}, "This field is required."),
    ],
)
def test_a_wrong_supporter_is_refused_and_what_was_typed_stays(
    signed_in: Client, form_key: Key, typed: dict[str, str], sentence: str
) -> None:
    sent = {**TYPED, **typed, "tier": cast.tier().id, "form_key": form_key()}
    answer = signed_in.post(at("new-supporter"), sent)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert "Weg 1" in answer.text
    assert "Kiel" in answer.text
    for value in set(typed.values()) - {"XX"}:  # which a list of countries cannot show
        assert value in answer.text
    assert not Supporter.objects.exists()


def test_the_form_shows_the_fields_of_the_country(signed_in: Client, form_key: Key) -> None:
    cast.tier()
    assert 'name="postal_code"' not in signed_in.get(at("new-supporter")).text
    look = {**TYPED, "country_code": "JP", "city": "", "look": "1", "form_key": form_key()}
    answer = signed_in.post(at("new-supporter"), look)
    assert answer.status_code == 200
    assert "Prefecture" in answer.text
    assert 'name="city"' not in answer.text
    assert "Weg 1" in answer.text
    part = signed_in.post(at("address-fields"), {"country_code": "US", "postal_code": "97301"})
    assert "ZIP code" in part.text
    assert '<option value="OR">Oregon</option>' in part.text
    assert 'value="97301"' in part.text
    assert "<html" not in part.text
    typed = signed_in.post(at("address-fields"), {"country_code": "JP", "city": "Kyoto"})
    assert 'value="Kyoto"' in typed.text  # not in Japan, and still there to be seen
    assert not Supporter.objects.exists()


def test_a_supporter_is_changed_paused_and_given_months(
    signed_in: Client, form_key: Key, potter: User
) -> None:
    ada = cast.supporter("Ada", potter, paid=())
    page = signed_in.get(at("edit-supporter", ada.id)).text
    assert "4 Kiln Row" in page
    assert 'value="2024-01"' in page
    sent = {**TYPED, "tier": ada.tier_id, "form_key": form_key()}
    signed_in.post(at("edit-supporter", ada.id), sent)
    ada.refresh_from_db()
    assert (ada.name, ada.country_code) == ("Ada Lind", "DE")
    sent = {"from_month": "2026-11", "to_month": ""}
    signed_in.post(at("pause", ada.id), {**sent, "form_key": form_key()})
    assert "Go on" in signed_in.get(at("supporter", ada.id)).text
    answer = signed_in.post(at("pause", ada.id), {**sent, "form_key": form_key()})
    assert (answer.status_code, "runs into the one from" in answer.text) == (422, True)
    assert "Paused from November 2026 on" in answer.text
    signed_in.post(at("go-on", ada.id), {"form_key": form_key()})
    answer = signed_in.post(at("go-on", ada.id), {"form_key": form_key()})
    assert (answer.status_code, "is not paused this month" in answer.text) == (409, True)
    signed_in.post(at("pause", ada.id), {**sent, "form_key": form_key()})
    month = str(NOVEMBER)
    signed_in.post(at("go-on", ada.id), {"drop": month, "form_key": form_key()})
    assert "Paused from November 2026 on" not in signed_in.get(at("supporter", ada.id)).text
    months = {"paid": "2026-09..2026-11", "form_key": form_key()}
    signed_in.post(at("months", ada.id), months)
    assert Payment.objects.count() == 3
    for text, sentence in (("2026-13", "is no month"), ("2026-12", "still to come")):
        answer = signed_in.post(at("months", ada.id), {"failed": text, "form_key": form_key()})
        assert (answer.status_code, sentence in answer.text) == (422, True)


def test_supporters_are_found_by_country_tier_pause_and_word(
    signed_in: Client, potter: User
) -> None:
    cast.supporter("Ada Lind", potter, email="a@example.org")
    cast.supporter(
        "Bo Reed", potter, country_code="DE", street_address="Weg 1", city="Kiel",
        postal_code="24103", tier=cast.tier("Bowl", 2),
    )  # fmt: skip
    bo = Supporter.objects.get(name="Bo Reed")
    services.pause(supporter=bo, from_month=NOVEMBER, to_month=None, by=potter, at=NOW)
    cy = cast.supporter(
        "Cy Wuthering", potter, country_code="FR", postal_code="75001", city="Paris"
    )
    services.change_supporter(supporter=cy, values={"left_month": NOVEMBER - 1}, by=potter, at=NOW)
    for asked, names in (
        ("", {"Ada Lind", "Bo Reed", "Cy Wuthering"}),
        ("paused=left", {"Cy Wuthering"}),
        ("country=DE", {"Bo Reed"}),
        (f"tier={Tier.objects.get(name='Saucer').id}", {"Ada Lind", "Cy Wuthering"}),
        ("paused=yes", {"Bo Reed"}),
        ("paused=no", {"Ada Lind"}),
        ("search=lind", {"Ada Lind"}),
        ("search=2", {"Bo Reed"}),
        ("search=A%40EXAMPLE", set()),  # an e-mail is not looked for in a URL
        ("country=DE&search=lind", set()),
    ):
        page = signed_in.get(f"{at('supporters')}?{asked}").text
        assert {
            name for name in ("Ada Lind", "Bo Reed", "Cy Wuthering") if name in page
        } == names, asked
    page = signed_in.get(f"{at('supporters')}?tier=999&page=x").text
    assert "That part of the filter was left out" in page


def test_a_month_is_marked_paid_but_for_some(
    signed_in: Client, form_key: Key, potter: User
) -> None:
    ada, bo = (cast.supporter(name, potter, paid=()) for name in ("Ada", "Bo"))
    page = signed_in.get(at("paid")).text
    assert "Paid in November 2026" in page
    assert page.count(" checked") == 2
    sent = {"month": "2026-11", "supporter": [ada.id], "form_key": form_key()}
    signed_in.post(at("paid"), sent)
    assert list(Payment.objects.values_list("supporter", "month")) == [(ada.id, NOVEMBER)]
    page = signed_in.get(f"{at('paid')}?month=2026-11").text
    assert "Bo" in page
    assert "Ada" not in page.replace("ada", "")
    for month, sentence in (("2026-12", "still to come"), ("May", "is no month")):
        sent = {"month": month, "supporter": [bo.id], "form_key": form_key()}
        answer = signed_in.post(at("paid"), sent)
        assert (answer.status_code, sentence in answer.text) == (422, True)


def test_tiers_and_the_rule_are_set(signed_in: Client, form_key: Key) -> None:
    sent = {"name": "Bowl", "monthly": "£15", "weight": "2"}
    signed_in.post(at("tiers"), {**sent, "form_key": form_key()})
    tier = Tier.objects.get()
    assert (tier.monthly_pence, tier.weight) == (1500, 2)
    assert "£15.00" in signed_in.get(at("tier", tier.id)).text
    answer = signed_in.post(at("tiers"), {**sent, "monthly": "much", "form_key": form_key()})
    assert (answer.status_code, "is not an amount" in answer.text) == (422, True)
    answer = signed_in.post(at("tiers"), {**sent, "form_key": form_key()})
    assert "There is a tier called Bowl already." in answer.text
    signed_in.post(at("tier", tier.id), {**sent, "name": "Big bowl", "form_key": form_key()})
    assert Tier.objects.get().name == "Big bowl"
    rule = {"months_needed": "6", "equal_turns": "no"}
    signed_in.post(at("turns"), {**rule, "form_key": form_key()})
    assert (TurnRule.objects.get().months_needed, TurnRule.objects.get().equal_turns) == (6, False)
    answer = signed_in.post(at("turns"), {**rule, "months_needed": "-1", "form_key": form_key()})
    assert answer.status_code == 422


def test_an_email_is_found_by_post_and_stands_in_no_url(signed_in: Client, potter: User) -> None:
    ada = cast.supporter("Ada Lind", potter, email="ada@example.org")
    url = reverse("parcels:find")
    answer = signed_in.post(url, {"email": " ADA@example.org "})
    assert answer.headers["Location"] == reverse("parcels:supporter", args=[ada.id])
    answer = signed_in.post(url, {"email": "no@example.org"})
    assert answer.status_code == 422
    assert "No supporter has this e-mail" in answer.text
    assert signed_in.get(url).status_code == 405


def test_erasing_asks_once_and_then_does(signed_in: Client, form_key: Key, potter: User) -> None:
    ada = cast.supporter("Ada Lind", potter, email="ada@example.org")
    url = reverse("parcels:erase", args=[ada.id])
    assert url in signed_in.get(reverse("parcels:supporter", args=[ada.id])).text
    assert "Erase Ada Lind?" in signed_in.get(url).text
    answer = signed_in.post(url, {"form_key": form_key()}, follow=True)
    assert "Erased who supporter 1 was" in answer.text
    assert "Lind" not in answer.text
    assert url not in answer.text
    answer = signed_in.post(url, {"form_key": form_key()})
    assert answer.status_code == 409
    assert "supporter 1 is erased already." in answer.text
