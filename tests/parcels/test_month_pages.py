"""Do the pages of a month's parcels lead a person through, and refuse in words?"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from studio.parcels import services
from studio.parcels.models import (
    Parcel,
    Shipment,
    ShipmentWant,
    Skip,
    Supporter,
)
from tests.parcels import cast
from tests.parcels.cast import NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture(autouse=True)
def november() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def at(name: str, *args: Any) -> str:
    return reverse(f"parcels:{name}", args=args)


@pytest.fixture
def december(potter: User) -> Shipment:
    cast.supporter("Ada", potter)
    cast.supporter("Bo", potter, please_no=(wares_cast.line("Bowl").form,))
    wares_cast.pots(wares_cast.line(), 3, potter)
    wares_cast.pots(wares_cast.line("Bowl"), 1, potter)
    return cast.shipment(potter)


def test_a_month_is_set_by_the_form(signed_in: Client, form_key: Key) -> None:
    sent = {
        "month": "2026-12", "post_date": "2026-12-10", "parcel_count": "3", "buffer_days": "2",
        "importance": "3",
    }  # fmt: skip
    answer = signed_in.post(at("new-shipment"), {**sent, "form_key": form_key()})
    shipment = Shipment.objects.get()
    assert answer["Location"] == at("shipment", shipment.id)
    assert "December 2026" in signed_in.get(at("parcels")).text
    page = signed_in.get(answer["Location"]).text
    assert "Nobody is eligible for a turn" in page
    assert "disabled" in page
    assert 'value="2026-12-10"' in signed_in.get(at("edit-shipment", shipment.id)).text
    edit = {**sent, "parcel_count": "4", "form_key": form_key()}
    signed_in.post(at("edit-shipment", shipment.id), edit)
    shipment.refresh_from_db()
    assert shipment.parcel_count == 4
    for wrong, sentence in (
        ({"post_date": "2026-11-01"}, "is in the past"),
        ({"month": "2026-10"}, "October 2026 is past"),
        ({"month": "winter"}, "is no month"),
    ):
        answer = signed_in.post(at("new-shipment"), {**sent, **wrong, "form_key": form_key()})
        assert (answer.status_code, sentence in answer.text) == (422, True), sentence


def test_a_month_from_pick_to_post(signed_in: Client, form_key: Key, december: Shipment) -> None:
    url = at("shipment", december.id)
    assert "Pick 2 parcels in turn" in signed_in.get(url).text
    answer = signed_in.get(at("slips", december.id))
    assert (answer.status_code, "no slip to print" in answer.text) == (409, True)
    assert signed_in.get(at("packers", december.id)).status_code == 409
    signed_in.post(at("pick", december.id), {"form_key": form_key()})
    page = signed_in.get(url).text
    assert "2 of 2 picked" in page
    ids = list(Parcel.objects.values_list("id", flat=True))
    answer = signed_in.get(at("slips", december.id))
    assert (answer.status_code, "are not locked yet" in answer.text) == (409, True)
    assert signed_in.get(at("labels", december.id)).status_code == 409
    answer = signed_in.post(at("lock", december.id), {"form_key": form_key()})
    assert (answer.status_code, "2 addresses are not confirmed" in answer.text) == (409, True)
    signed_in.post(at("lock", december.id), {"ticked": ids, "form_key": form_key()})
    for name, count in (("slips", 2), ("packers", 1), ("labels", 1)):
        paper = signed_in.get(at(name, december.id))
        assert paper["Content-Type"] == "application/pdf"
        assert len(PdfReader(io.BytesIO(paper.content)).pages) == count
    assert set(Parcel.objects.values_list("state", flat=True)) == {"picked"}
    mark = at("mark", december.id)
    answer = signed_in.post(mark, {"parcel": ids, "do": "post", "form_key": form_key()})
    assert (answer.status_code, "is not packed yet" in answer.text) == (409, True)
    answer = signed_in.post(mark, {"do": "pack", "form_key": form_key()})
    assert (answer.status_code, "Choose at least one parcel" in answer.text) == (409, True)
    assert "All 2 of them" in signed_in.get(url).text
    pack = {"everyone": "1", "do": "pack", "box": "small", "form_key": form_key()}
    signed_in.post(mark, pack)
    assert '<span class="tag quiet">small</span>' in signed_in.get(url).text
    signed_in.post(mark, {"parcel": ids, "do": "post", "form_key": form_key()})
    assert set(Parcel.objects.values_list("state", flat=True)) == {"posted"}
    parcel = signed_in.get(at("parcel", ids[0])).text
    assert "posted" in parcel
    assert "Skip, keep the place" not in parcel


def test_a_swap_a_note_and_a_skip_on_the_page(
    signed_in: Client, form_key: Key, december: Shipment, potter: User
) -> None:
    services.pick_parcels(shipment=december, by=potter, at=NOW)
    parcel = december.parcels.get(supporter__name="Bo")
    row = parcel.lines.get()
    page = signed_in.get(at("parcel", parcel.id)).text
    assert "Why now: Next by fair share" in page or "Why now: Waited longest" in page
    assert "4 Kiln Row" not in page  # shown only to whoever asks for it
    assert "4 Kiln Row" in signed_in.get(f"{at('parcel', parcel.id)}?address=1").text
    swap = signed_in.get(f"{at('parcel', parcel.id)}?swap={row.id}").text
    assert f"Instead of {row.piece}" in swap
    spare = wares_cast.pots(wares_cast.line(), 1, potter)[0]
    choose = at("choose", parcel.id)
    sent = {"piece": spare.id, "instead_of": row.id}
    signed_in.post(choose, {**sent, "form_key": form_key()})
    assert parcel.lines.get().piece == spare
    answer = signed_in.post(choose, {**sent, "form_key": form_key()})
    assert answer.status_code == 404
    answer = signed_in.post(choose, {"form_key": form_key()})
    assert (answer.status_code, "Choose a piece." in answer.text) == (409, True)
    more = signed_in.get(f"{at('parcel', parcel.id)}?add=1").text
    assert "was sent a pot of this line before" in more
    note = {"note": "Thank you <3", "form_key": form_key()}
    signed_in.post(at("note", parcel.id), note)
    assert "Thank you &lt;3" in signed_in.get(at("parcel", parcel.id)).text
    answer = signed_in.post(at("note", parcel.id), {"note": "x" * 201, "form_key": form_key()})
    assert answer.status_code == 422
    skip = {"supporter": parcel.supporter_id, "reason": "away", "form_key": form_key()}
    signed_in.post(at("skip", december.id), skip)
    assert Skip.objects.get().reason == "away"
    skip["form_key"] = form_key()
    answer = signed_in.post(at("skip", december.id), skip)
    assert (answer.status_code, "skipped this month already" in answer.text) == (422, True)


def test_wants_of_a_month_on_the_page(signed_in: Client, form_key: Key, december: Shipment) -> None:
    line = wares_cast.line()
    url = at("want", december.id)
    signed_in.post(url, {"line": line.id, "count": 4, "form_key": form_key()})
    page = signed_in.get(at("shipment", december.id)).text
    assert "0 in parcels, 3 free" in page
    assert "1 short" in page
    answer = signed_in.post(url, {"line": line.id, "count": 0, "form_key": form_key()})
    assert (answer.status_code, "1 or more, not 0" in answer.text) == (422, True)
    drop = at("drop-want", ShipmentWant.objects.get().id)
    signed_in.post(drop, {"form_key": form_key()})
    assert not ShipmentWant.objects.exists()


def test_the_ledger_is_shown(signed_in: Client, december: Shipment, potter: User) -> None:
    services.pick_parcels(shipment=december, by=potter, at=NOW)
    page = signed_in.get(at("turns")).text
    assert "Ada" in page
    assert "+0.00" in page
    assert "about January 2027" in page
    assert "December 2026" in page
    own = signed_in.get(at("supporter", Supporter.objects.get(name="Ada").id)).text
    assert "Bo" not in own.replace("Boards", "")


@pytest.mark.parametrize("name", ["supporter", "edit-supporter", "tier", "shipment",
                                  "edit-shipment", "slips", "packers", "parcel"])  # fmt: skip
def test_what_is_not_there(signed_in: Client, name: str) -> None:
    assert signed_in.get(at(name, 404)).status_code == 404


def test_no_page_needs_inline_style_or_script(
    signed_in: Client, december: Shipment, potter: User
) -> None:
    services.pick_parcels(shipment=december, by=potter, at=NOW)
    parcel = december.parcels.all()[0]
    for url in (
        at("supporters"), at("supporter", parcel.supporter_id), at("new-supporter"),
        at("edit-supporter", parcel.supporter_id), at("import"), at("paid"), at("tiers"),
        at("turns"), at("parcels"), at("shipment", december.id), at("parcel", parcel.id),
    ):  # fmt: skip
        page = signed_in.get(url).text
        assert " style=" not in page
        assert "<style" not in page
        assert "onclick" not in page
