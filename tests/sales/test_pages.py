"""Do the pages of a sale lead a person through it, refuse in words, and keep what was typed?"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest
import time_machine
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.sales import selectors, services
from studio.sales.models import Listing, SaleDay, Want
from studio.web.models import Change
from tests.sales import cast
from tests.sales.test_sale_days import NOW, make

Key = Callable[[], str]
TYPED = {
    "name": "Spring restock",
    "members_at": "2027-04-02T18:00",
    "public_at": "2027-04-03T18:00",
    "closes_at": "",
    "buffer_days": "3",
    "importance": "1",
}


@pytest.fixture(autouse=True)
def november() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


@pytest.fixture
def day(potter: User) -> SaleDay:
    return make(potter)


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["sales", "new-sale"])
def test_a_stranger_is_sent_to_sign_in(client: Client, name: str) -> None:
    answer = client.get(reverse(f"sales:{name}"))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("sign-in"))


@pytest.mark.django_db
def test_an_empty_studio_is_told_what_to_do(signed_in: Client) -> None:
    assert "No sale day is set" in signed_in.get(reverse("sales:sales")).text


@pytest.mark.django_db
def test_a_sale_day_is_set_in_the_time_of_the_studio(signed_in: Client, form_key: Key) -> None:
    url = reverse("sales:new-sale")
    assert "Europe/London" in signed_in.get(url).text
    answer = signed_in.post(url, {**TYPED, "form_key": form_key()})
    day = SaleDay.objects.get()
    assert answer["Location"] == reverse("sales:sale", args=[day.id])
    # 18:00 in London's summer time is 17:00 UTC (IANA tz database: from 28 March 2027).
    assert day.members_at == datetime(2027, 4, 2, 17, 0, tzinfo=UTC)
    page = signed_in.get(answer["Location"]).text
    assert "Members from Fri 2 Apr 2027, 18:00" in page
    assert "Spring restock" in signed_in.get(reverse("sales:sales")).text


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"members_at": "2026-11-01T18:00"}, "is in the past"),
        ({"public_at": "2027-04-02T17:00"}, "Members come first, or both at once"),
        ({"members_at": "soon"}, "Enter a valid date/time"),
        ({"name": ""}, "This field is required"),
        # The hour that London's clocks leave out on 28 March 2027.
        ({"members_at": "2027-03-28T01:30"}, "Europe/London"),
    ],
)
def test_a_wrong_sale_day_keeps_what_was_typed(
    signed_in: Client, form_key: Key, typed: dict[str, str], sentence: str
) -> None:
    sent = {**TYPED, **typed, "form_key": form_key()}
    answer = signed_in.post(reverse("sales:new-sale"), sent)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert f'value="{sent["public_at"]}"' in answer.text
    assert not SaleDay.objects.exists()


@pytest.mark.django_db
def test_a_sale_day_is_changed(signed_in: Client, form_key: Key, day: SaleDay) -> None:
    url = reverse("sales:edit-sale", args=[day.id])
    page = signed_in.get(url).text
    assert 'value="2026-12-04T18:00"' in page
    signed_in.post(url, {**TYPED, "form_key": form_key()})
    day.refresh_from_db()
    assert day.name == "Spring restock"
    make(User.objects.get(), name="Other")
    answer = signed_in.post(url, {**TYPED, "name": "Other", "form_key": form_key()})
    assert "There is a sale day called Other already" in answer.text


@pytest.mark.django_db
def test_wants_are_added_and_taken_away(signed_in: Client, form_key: Key, day: SaleDay) -> None:
    mug = cast.line()
    url = reverse("sales:want", args=[day.id])
    signed_in.post(url, {"line": mug.id, "count": 24, "form_key": form_key()})
    page = signed_in.get(reverse("sales:sale", args=[day.id])).text
    assert "24 of 24 are not listed yet" in page
    assert str(mug) in page
    answer = signed_in.post(url, {"line": mug.id, "count": 0, "form_key": form_key()})
    assert answer.status_code == 422
    assert "Say how many are wanted: 1 or more, not 0." in answer.text
    answer = signed_in.post(url, {"line": 9999, "count": 1, "form_key": form_key()})
    assert answer.status_code == 422
    drop = reverse("sales:drop-want", args=[Want.objects.get().id])
    signed_in.post(drop, {"form_key": form_key()})
    assert not Want.objects.exists()


@pytest.mark.django_db
def test_pieces_are_listed_by_number_and_seconds_are_priced_by_hand(
    signed_in: Client, form_key: Key, day: SaleDay, potter: User
) -> None:
    pieces = cast.pots(cast.line(), 4, potter)
    seconds = cast.pots(cast.line(), 2, potter, grade="second")
    url = reverse("sales:offer", args=[day.id])
    kind = f"{pieces[0].form_id}-{pieces[0].clay_lot_id}-{pieces[0].coats_id}"
    first, second = (f"{kind}-{pieces[0].schedule_id}-{grade}" for grade in ("first", "second"))
    page = signed_in.get(url).text
    assert page.count('value="£32.00"') == 1  # the firsts alone
    assert "price it as a second" in page
    for sent, sentence in (
        ({f"count-{first}": 5}, "Only 4 are free."),
        ({f"all-{second}": "on"}, "second: Write an amount, such as 12.50."),
        ({f"count-{first}": 0}, "Choose at least one piece to list."),
    ):
        box = {f"price-{first}": "32", f"price-{second}": "", **sent}
        answer = signed_in.post(url, {**box, "form_key": form_key()})
        assert (answer.status_code, sentence in answer.text) == (422, True), sentence
    # Two of the firsts, the last by its tick; all seconds.
    sent = {
        f"count-{first}": 2, "piece": [pieces[3].id], f"price-{first}": "32",
        f"all-{second}": "on", f"price-{second}": "20",
    }  # fmt: skip
    signed_in.post(url, {**sent, "form_key": form_key()})
    listed = dict(Listing.objects.values_list("piece_id", "price_pence"))
    assert listed == {
        pieces[3].id: 3200, pieces[0].id: 3200, seconds[0].id: 2000, seconds[1].id: 2000,
    }  # fmt: skip
    page = signed_in.get(reverse("sales:sale", args=[day.id])).text
    assert page.index("Listed now") < page.index("Wanted</h2>")


@pytest.mark.django_db
def test_what_is_short_is_filled_in_when_asked_and_the_rest_is_folded(
    signed_in: Client, day: SaleDay, potter: User
) -> None:
    mug, bowl = cast.line(), cast.line("Bowl")
    services.set_want(sale_day=day, line=mug, count=3, by=potter, at=NOW)
    cast.pots(mug, 5, potter)
    cast.pots(bowl, 2, potter)
    url = reverse("sales:offer", args=[day.id])
    page = signed_in.get(url).text
    three = re.compile('name="count-[^"]+" value="3"')
    assert three.search(page) is None
    assert page.count('<details class="fold">') == 1  # the bowls, which nobody wanted
    assert f'href="{url}?fill=1"' in page
    assert three.search(signed_in.get(f"{url}?fill=1").text)  # 3 short, 5 free
    assert not Listing.objects.exists()


@pytest.mark.django_db
def test_a_form_sent_twice_acts_once(signed_in: Client, form_key: Key, day: SaleDay) -> None:
    sent = {"line": cast.line().id, "count": 24, "form_key": form_key()}
    url = reverse("sales:want", args=[day.id])
    assert signed_in.post(url, sent)["Location"] == signed_in.post(url, sent)["Location"]
    assert Change.objects.filter(action="set_want").count() == 1


@pytest.mark.django_db
def test_a_past_day_takes_no_wants(
    signed_in: Client, form_key: Key, potter: User, november: time_machine.Traveller
) -> None:
    day = make(
        potter,
        members_at=datetime(2026, 11, 4, 18, 0, tzinfo=UTC),
        public_at=datetime(2026, 11, 5, 18, 0, tzinfo=UTC),
        closes_at=datetime(2026, 11, 8, 18, 0, tzinfo=UTC),
    )
    november.move_to(datetime(2026, 11, 9, 9, 0, tzinfo=UTC))
    sentence = "Nothing can be wanted for a sale that has begun"
    page = signed_in.get(reverse("sales:sale", args=[day.id])).text
    assert sentence in page
    assert "December restock closed at" in page
    url = reverse("sales:want", args=[day.id])
    answer = signed_in.post(url, {"line": cast.line().id, "count": 1, "form_key": form_key()})
    assert answer.status_code == 422
    assert sentence in answer.text


@pytest.mark.django_db
def test_pieces_are_listed_sold_claimed_and_taken_back(
    signed_in: Client, form_key: Key, day: SaleDay, potter: User
) -> None:
    pieces = cast.pots(cast.line(), 4, potter)
    url = reverse("sales:offer", args=[day.id])
    page = signed_in.get(url).text
    assert "£32.00" in page
    kind = f"{pieces[0].form_id}-{pieces[0].clay_lot_id}-{pieces[0].coats_id}"
    price = f"price-{kind}-{pieces[0].schedule_id}-first"
    assert f'name="{price}"' in page
    chosen = [piece.id for piece in pieces[:3]]
    answer = signed_in.post(url, {"piece": chosen, price: "three", "form_key": form_key()})
    assert answer.status_code == 422
    assert "is not an amount" in answer.text
    assert answer.text.count(" checked") == 3
    assert "<details open>" in answer.text  # what is ticked can be seen
    answer = signed_in.post(url, {price: "30", "form_key": form_key()})
    assert "Choose at least one piece to list." in answer.text
    signed_in.post(url, {"piece": chosen, price: "£30.50", "form_key": form_key()})
    assert list(Listing.objects.values_list("price_pence", flat=True)) == [3050] * 3

    act = reverse("sales:listed", args=[day.id])
    claim = {"piece": chosen[:1], "do": "claim", "for_whom": "Cy <b>Reed</b>"}
    signed_in.post(act, {**claim, "form_key": form_key()})
    page = signed_in.get(reverse("sales:sale", args=[day.id])).text
    assert "claim: Cy &lt;b&gt;Reed&lt;/b&gt;" in page
    answer = signed_in.post(act, {"piece": chosen[:2], "do": "sell", "form_key": form_key()})
    assert answer.status_code == 409
    assert "No. 1 is claimed by Cy &lt;b&gt;Reed&lt;/b&gt;. Say that they are sold" in answer.text
    assert "Sold to those names, and the others" in answer.text
    assert not Listing.objects.filter(piece__parting="sold").exists()
    sell = {"piece": chosen[:2], "do": "sell", "to_claimants": "on", "form_key": form_key()}
    signed_in.post(act, sell)
    page = signed_in.get(reverse("sales:sale", args=[day.id])).text
    assert "to Cy &lt;b&gt;Reed&lt;/b&gt;" in page
    signed_in.post(act, {"piece": chosen[2:], "do": "take_back", "form_key": form_key()})
    page = " ".join(signed_in.get(reverse("sales:sale", args=[day.id])).text.split())
    assert "2 pieces for £61.00" in page
    assert "4 made = 0 thrown + 0 bisqued + 0 glazed + 0 fired + 2 graded + 0 listed" in page
    assert "it balances" in page
    for sent, sentence in (
        ({"piece": chosen[:1], "do": "sell"}, "No. 1 is sold already."),
        ({"do": "sell"}, "Choose at least one piece."),
        ({"piece": [99999], "do": "sell"}, "not listed for this sale any more"),
    ):
        answer = signed_in.post(act, {**sent, "form_key": form_key()})
        assert answer.status_code == 409
        assert sentence in answer.text


@pytest.mark.django_db
def test_releasing_a_claim_on_the_page(
    signed_in: Client, form_key: Key, day: SaleDay, potter: User
) -> None:
    pieces = cast.pots(cast.line(), 1, potter)
    services.list_for_sale(sale_day=day, prices_pence={pieces[0].id: 100}, by=potter, at=NOW)
    services.claim(sale_day=day, pieces=pieces, for_whom="Cy", by=potter, at=NOW)
    act = reverse("sales:listed", args=[day.id])
    signed_in.post(act, {"piece": [pieces[0].id], "do": "release", "form_key": form_key()})
    assert "claim: Cy" not in signed_in.get(reverse("sales:sale", args=[day.id])).text


@pytest.mark.django_db
def test_a_claim_can_be_released_only_where_there_is_one(
    signed_in: Client, day: SaleDay, potter: User
) -> None:
    pieces = cast.pots(cast.line(), 1, potter)
    services.list_for_sale(sale_day=day, prices_pence={pieces[0].id: 100}, by=potter, at=NOW)
    url = reverse("sales:sale", args=[day.id])
    button = 'value="release" disabled aria-describedby="why-release"'
    page = signed_in.get(url).text
    assert button in page
    assert f'id="why-release">{selectors.cannot_release_any(day)}<' in page
    services.claim(sale_day=day, pieces=pieces, for_whom="Cy", by=potter, at=NOW)
    page = signed_in.get(url).text
    assert button not in page
    assert "why-release" not in page


@pytest.mark.django_db
def test_pots_are_sold_by_their_numbers_and_a_refusal_keeps_what_was_chosen(
    signed_in: Client, form_key: Key, day: SaleDay, potter: User
) -> None:
    pieces = cast.pots(cast.line(), 12, potter)
    prices = {piece.id: 3200 for piece in pieces}
    services.list_for_sale(sale_day=day, prices_pence=prices, by=potter, at=NOW)
    act = reverse("sales:listed", args=[day.id])
    sent = {"numbers": "98 99 2", "do": "sell", "form_key": form_key()}
    assert "No. 98 and 99 are not listed for December" in signed_in.post(act, sent).text
    sent = {"numbers": "2, 3.99", "piece": [pieces[4].id], "do": "sell", "for_whom": "Cy"}
    answer = signed_in.post(act, {**sent, "form_key": form_key()})
    assert answer.status_code == 409
    assert "No. 99 is not listed for December restock. Look at the pot again." in answer.text
    assert "Cy stands as who they are held for." in answer.text  # a name, and Enter
    for kept in ('value="2, 3.99"', f'value="{pieces[4].id}" checked', 'value="Cy"'):
        assert kept in answer.text
    assert not Listing.objects.filter(piece__parting="sold").exists()
    sent = {"numbers": "2 3", "piece": [pieces[4].id, pieces[2].id], "do": "sell"}
    signed_in.post(act, {**sent, "form_key": form_key()})
    sold = Listing.objects.filter(piece__parting="sold").values_list("piece__number", flat=True)
    assert sorted(sold) == [2, 3, 5]  # by number 2 and 3, by tick 5 and once more 3


@pytest.mark.django_db
def test_a_long_list_is_folded_by_line_and_a_short_one_is_open(
    signed_in: Client, day: SaleDay, potter: User
) -> None:
    url = reverse("sales:sale", args=[day.id])
    mugs, bowls = cast.pots(cast.line(), 5, potter), cast.pots(cast.line("Bowl"), 3, potter)
    prices = {piece.id: 3200 for piece in [*mugs, *bowls]}
    services.list_for_sale(sale_day=day, prices_pence=prices, by=potter, at=NOW)
    page = signed_in.get(url).text
    assert page.count('<details class="fold" open>') == 2  # 5 + 3 = 8 pieces are shown at once
    more = cast.pots(cast.line("Bowl"), 1, potter, grade="second")
    services.list_for_sale(sale_day=day, prices_pence={more[0].id: 900}, by=potter, at=NOW)
    page = signed_in.get(url).text
    assert page.count('<details class="fold">') == 3
    found = selectors.listing_groups(sale_day=day, parting="")
    assert [(group.name, group.grade, len(group.rows), group.pence) for group in found] == [
        ("Bowl in Tidepool", "first", 3, 3 * 3200),
        ("Bowl in Tidepool", "second", 1, 900),
        ("Mug in Tidepool", "first", 5, 5 * 3200),
    ]


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["sale", "edit-sale", "offer"])
def test_a_sale_that_is_not_there(signed_in: Client, name: str) -> None:
    assert signed_in.get(reverse(f"sales:{name}", args=[404])).status_code == 404


@pytest.mark.django_db
def test_no_page_needs_inline_style_or_script(
    signed_in: Client, day: SaleDay, potter: User
) -> None:
    cast.pots(cast.line(), 1, potter)
    for url in (
        reverse("sales:sales"),
        reverse("sales:new-sale"),
        reverse("sales:sale", args=[day.id]),
        reverse("sales:offer", args=[day.id]),
    ):
        page = signed_in.get(url).text
        assert " style=" not in page
        assert "<style" not in page
        assert "onclick" not in page


@pytest.mark.django_db
def test_more_sales_ask_the_database_no_more_often(
    signed_in: Client, potter: User, november: time_machine.Traveller
) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert signed_in.get(reverse("sales:sales")).status_code == 200
        return len(queries)

    for n in range(2):
        day = make(potter, name=f"Restock {n}")
        services.set_want(sale_day=day, line=cast.line(), count=2, by=potter, at=NOW)
    before = asked()
    for n in range(2, 26):
        day = make(potter, name=f"Restock {n}")
        services.set_want(sale_day=day, line=cast.line(), count=2, by=potter, at=NOW)
    assert asked() == before


@pytest.mark.django_db
def test_the_sums_of_a_sale_in_the_list_are_those_of_its_page(potter: User) -> None:
    day, bare = make(potter), make(potter, name="Bare")
    mug, bowl = cast.line(), cast.line("Bowl")
    for line, count in ((mug, 3), (bowl, 1)):
        services.set_want(sale_day=day, line=line, count=count, by=potter, at=NOW)
    pieces = [*cast.pots(mug, 2, potter), *cast.pots(bowl, 2, potter)]
    prices = {piece.id: 100 for piece in pieces}
    services.list_for_sale(sale_day=day, prices_pence=prices, by=potter, at=NOW)
    services.sell(sale_day=day, pieces=pieces[:1], by=potter, at=NOW)
    rows = selectors.want_rows(day)
    # mugs 2 of 3, bowls 1 of 1 though 2 are listed
    assert [(s.wanted, s.done, s.short) for s in selectors.summaries([day, bare])] == [
        (3 + 1, 2 + 1, 1), (0, 0, 0),
    ]  # fmt: skip
    assert sum(row.short for row in rows) == 1
