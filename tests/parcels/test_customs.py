"""What does a parcel abroad declare, and where do the limits it goes by stand?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from studio.parcels import papers, selectors, services
from studio.parcels.models import BodyKind, FormUse, Parcel, ParcelPiece, PostSettings, Shipment
from studio.wares.models import ClayLot, Form
from studio.web.models import Studio
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import NOW
from tests.parcels.test_papers import pages
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
Key = Callable[[], str]
RATE = {"sdr_rate": Decimal("1.07"), "sdr_source": "IMF", "sdr_date": date(2026, 11, 18)}
"""An invented rate that makes the sums easy to follow."""


@pytest.fixture
def december(potter: User) -> Shipment:
    """One parcel stays at home, one goes to Hungary; each has a mug of 360 g for 32.00."""
    Studio.objects.create(
        id=1, name="Lantern Yard Pots", reply_address="4 Lantern Yard\nWhitby YO22 4DE"
    )
    cast.supporter("Gil Over", potter)
    cast.supporter(
        "Réka Tóth",
        potter,
        country_code="HU",
        street_address="Fő utca 1.",
        city="Pécs",
        postal_code="7621",
    )
    line = wares_cast.line(price_pence=3200)
    Form.objects.filter(id=line.form_id).update(
        width_mm=88, handle_mm=42, height_mm=95, weight_g=360, silhouette="mug"
    )
    wares_cast.pots(line, 2, potter)
    box = {"name": "mug box", "length_mm": 250, "width_mm": 200, "height_mm": 200, "weight_g": 420}
    services.set_box(box=None, values=box, by=potter, at=NOW)
    shipment = cast.shipment(potter)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    cast.lock(shipment, potter)
    return shipment


def keep(potter: User, **values: Any) -> None:
    services.keep_post_settings(values=values, by=potter, at=NOW)


def row(shipment: Shipment, name: str = "Réka Tóth") -> selectors.BenchRow:
    rows = selectors.bench_rows(shipment, today_date=NOW.date())
    return next(one for one in rows if one.parcel.supporter.name == name)


def declare(shipment: Shipment, potter: User, **values: Any) -> None:
    parcel = row(shipment).parcel
    own: dict[str, Any] = {"kind": "", "values_pence": {}}
    services.set_declared(parcel=parcel, **(own | values), by=potter, at=NOW)


def test_only_what_crosses_a_border_is_declared(potter: User, december: Shipment) -> None:
    assert row(december, "Gil Over").customs is None
    assert row(december, "Gil Over").customs_problem == ""
    assert row(december).customs is not None
    keep(potter, without_codes="HU IM")
    assert row(december).customs is None
    with pytest.raises(Refusal, match="No parcel here crosses a customs border"):
        papers.customs_paper(december)
    keep(potter, without_codes="", home_code="HU")
    assert row(december).customs is None
    assert row(december, "Gil Over").customs is not None


def test_the_sheet_has_every_line_that_the_forms_ask(potter: User, december: Shipment) -> None:
    keep(potter, **RATE, contact="01947 000000")
    for paper in (papers.slips_paper(december), papers.packers_paper(december)):
        assert "mug box" in " ".join(" ".join(pages(paper)).split())  # the best fit
    (page,) = pages(papers.customs_paper(december))
    words = " ".join(page.split())
    for wanted in (
        "Customs data for CN 22",
        # 32.00 / 1.07 = 29.906... SDR; 360 + 420 = 780 g
        "Worth 29.91 SDR and 780 g, within 300 SDR and 2000 g.",
        "Lantern Yard Pots 4 Lantern Yard Whitby YO22 4DE UNITED KINGDOM 01947 000000",
        "Réka Tóth", "PÉCS", "7621", "HUNGARY",
        "1 handmade glazed stoneware mug, for drinks",
        "0.360 kg", "32.00 GBP", "6912.00", "0.780 kg",
        "sale of goods", "gift",
        "Universal Postal Union", "looked up on 25 November 2026",
        "1 SDR = 1.07 GBP: IMF, 18 November 2026.",
        "Harmonized System, chapter 69",
    ):  # fmt: skip
        assert wanted in words or wanted.upper() in words, wanted


def test_without_a_rate_or_over_a_limit_it_is_the_larger_form(
    potter: User, december: Shipment
) -> None:
    def form() -> str:
        declared = row(december).customs
        assert declared is not None
        return declared.form

    assert form() == "CN 23"  # no rate is entered
    keep(potter, **RATE)
    assert form() == "CN 22"
    # 321.00 / 1.07 = 300 SDR exactly, and a penny more
    id_ = row(december).pieces[0].id
    declare(december, potter, values_pence={id_: 32_100})
    assert form() == "CN 22"
    declare(december, potter, values_pence={id_: 32_101})
    assert form() == "CN 23"
    declare(december, potter, values_pence={id_: None})
    parcel = row(december).parcel
    services.weigh(parcel=parcel, weighed_g=2000, box="mug box", by=potter, at=NOW)
    assert form() == "CN 22"
    services.weigh(parcel=parcel, weighed_g=2001, box="mug box", by=potter, at=NOW)
    assert form() == "CN 23"
    keep(potter, limit_g=2500, limit_source="our post, a leaflet", limit_date=date(2026, 11, 2))
    assert form() == "CN 22"
    keep(potter, parcel_post=True)
    assert form() == "CN 23"


def test_the_body_and_the_use_make_the_heading(potter: User, december: Shipment) -> None:
    def line() -> tuple[str, str]:
        declared = row(december).customs
        assert declared is not None
        return declared.lines[0].description, declared.lines[0].heading

    form = row(december).pieces[0].piece.form
    lot = row(december).pieces[0].piece.clay_lot
    assert line() == ("handmade glazed stoneware mug, for drinks", "6912.00")
    ClayLot.objects.filter(id=lot.id).update(body="Limpet porcelain")
    assert line() == ("handmade glazed porcelain mug, for drinks", "6911.10")
    change = services.set_customs_words(
        purposes={form.id: " to  look at "},
        ornaments={form.id: True},
        bodies={"Limpet porcelain": "stoneware"},
        by=potter,
        at=NOW,
    )
    assert line() == ("handmade glazed stoneware mug, to look at", "6913.90")
    services.undo(change=change, by=potter, at=NOW)
    assert line() == ("handmade glazed porcelain mug, for drinks", "6911.10")
    assert not FormUse.objects.exists()
    assert not BodyKind.objects.exists()
    with pytest.raises(Refusal, match="Say what a mug is for"):
        services.set_customs_words(
            purposes={form.id: " "}, ornaments={}, bodies={}, by=potter, at=NOW
        )


def test_nothing_is_worth_nothing_and_nothing_weighs_nothing(
    potter: User, december: Shipment
) -> None:
    id_ = row(december).pieces[0].id
    with pytest.raises(Refusal, match="declare what it would sell for or what it cost to make"):
        declare(december, potter, values_pence={id_: 0})
    Form.objects.update(price_pence=0)
    assert "the value is missing. Declare what it would sell for" in row(december).customs_problem
    with pytest.raises(Refusal, match=r"Parcel 2026-12-2: .* the value is missing"):
        papers.customs_paper(december)
    declare(december, potter, values_pence={id_: 1200})
    assert row(december).customs_problem == ""
    parcel = row(december).parcel
    services.weigh(parcel=parcel, weighed_g=None, box="shoe box", by=potter, at=NOW)
    assert "The weight of the parcel of Réka Tóth is not known" in row(december).customs_problem


def test_gift_is_a_choice_and_never_by_itself(potter: User, december: Shipment) -> None:
    parcel = row(december).parcel
    person = parcel.supporter
    person.is_gift, person.gift_from = True, "Aunt Wren"
    person.save()
    declared = row(december).customs
    assert declared is not None
    assert declared.kind == "goods"
    declare(december, potter, kind="gift")
    declared = row(december).customs
    assert declared is not None
    assert declared.kind == "gift"


def test_what_is_declared_is_undone_and_stands_once_posted(
    potter: User, december: Shipment
) -> None:
    id_ = row(december).pieces[0].id
    parcel = row(december).parcel
    change = services.set_declared(
        parcel=parcel, kind="sample", values_pence={id_: 900}, by=potter, at=NOW
    )
    services.undo(change=change, by=potter, at=NOW)
    assert Parcel.objects.get(id=parcel.id).item_kind == ""
    assert ParcelPiece.objects.get(id=id_).value_pence is None
    with pytest.raises(Refusal, match="Choose the kind of item, as the forms name it"):
        declare(december, potter, kind="present")
    with pytest.raises(Refusal, match="A piece is no longer in this parcel"):
        declare(december, potter, values_pence={99_999: 100})
    services.mark_packed(parcels=[parcel], by=potter, at=NOW)
    services.mark_posted(parcels=[parcel], by=potter, at=NOW)
    with pytest.raises(Refusal, match="is posted already, so what it declared stands"):
        declare(december, potter, kind="gift")


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"limit_source": " "}, "Say where the limits stand written"),
        ({"sdr_rate": Decimal("1.07")}, "A rate of the SDR needs its source and its day"),
        (RATE | {"sdr_source": ""}, "A rate of the SDR needs its source and its day"),
        (RATE | {"sdr_date": date(2026, 11, 21)}, "21 November 2026 is still to come"),
        ({"limit_date": date(2027, 1, 1)}, "1 January 2027 is still to come"),
    ],
)
def test_what_moves_names_its_source_and_its_day(
    potter: User, values: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(Refusal, match=sentence):
        keep(potter, **({"limit_date": date(2026, 11, 2)} | values))
    assert not PostSettings.objects.exists()


def test_the_settings_are_undone(potter: User) -> None:
    first = {"limit_date": date(2026, 11, 2)}
    keep(potter, **first)
    change = services.keep_post_settings(
        values=RATE | {"limit_sdr": Decimal("310.00")}, by=potter, at=NOW
    )
    services.undo(change=change, by=potter, at=NOW)
    now = selectors.post_settings()
    assert (now.sdr_rate, now.limit_sdr, now.limit_date) == (None, 300, date(2026, 11, 2))
    keep(potter, keep_days=100)
    with pytest.raises(Refusal, match="was undone already"):
        services.undo(change=change, by=potter, at=NOW)
    last = services.keep_post_settings(values={"keep_days": 110}, by=potter, at=NOW)
    keep(potter, keep_days=120)
    with pytest.raises(Refusal, match="the settings were changed since"):
        services.undo(change=last, by=potter, at=NOW)


# The pages.


def at(name: str, *args: int) -> str:
    return reverse(f"parcels:{name}", args=args)


POST = {
    "home_code": "GB", "contact": "", "without_codes": "im, je", "item_kind": "goods",
    "limit_sdr": "300", "limit_g": "2000", "limit_source": "UPU", "limit_date": "2026-11-02",
    "sdr_rate": "1.0700", "sdr_source": "IMF", "sdr_date": "2026-11-18", "padding_mm": "2 in",
    "divisor_cm3_per_kg": "5000", "confirmed_days": "21", "link_days": "14",
    "overdue_days": "21", "keep_days": "90",
}  # fmt: skip


def test_the_settings_page(signed_in: Client, form_key: Key) -> None:
    assert signed_in.post(at("post"), POST | {"form_key": form_key()}).status_code == 302
    kept = PostSettings.objects.get()
    # 2 in = 50.8 mm
    assert (kept.without_codes, kept.padding_mm, kept.sdr_rate) == ("IM JE", 51, Decimal("1.07"))
    assert "UPU" in signed_in.get(at("post")).text
    for change, sentence in (
        ({"without_codes": "XQ"}, "is no country known here"),
        ({"sdr_date": ""}, "needs its source and its day"),
        ({"padding_mm": "300"}, "Padding is 0 to 200 mm on each side"),
        ({"link_days": "0"}, "greater than or equal to 1"),
        ({"limit_g": "-1"}, "greater than or equal to 0"),
    ):
        answer = signed_in.post(at("post"), POST | change | {"form_key": form_key()})
        assert (answer.status_code, sentence in answer.text) == (422, True), change


def test_the_words_and_a_parcels_values_on_the_page(
    signed_in: Client, form_key: Key, december: Shipment
) -> None:
    page = signed_in.get(at("customs-words")).text
    assert "Taken from its outline; say it yourself." in page
    form = row(december).pieces[0].piece.form
    sent = {f"purpose-{form.id}": "for tea", "body-0": "earthenware", "form_key": form_key()}
    assert signed_in.post(at("customs-words"), sent).status_code == 302
    parcel = row(december).parcel
    page = signed_in.get(at("parcel", parcel.id)).text
    assert "handmade glazed earthenware mug, for tea" in page
    assert "looked up on Wed 25 Nov" in page
    assert "No rate of the SDR is entered." in page
    id_ = row(december).pieces[0].id
    value = {"kind": "sample", f"value-{id_}": "12.50", "form_key": form_key()}
    signed_in.post(at("declare", parcel.id), value)
    assert "£12.50" in signed_in.get(at("parcel", parcel.id)).text
    for bad, sentence in (("0", "never nothing"), ("much", "much")):
        value = {"kind": "", f"value-{id_}": bad, "form_key": form_key()}
        answer = signed_in.post(at("declare", parcel.id), value)
        assert (answer.status_code, sentence in answer.text) == (422, True)
    paper = signed_in.get(at("customs", december.id) + f"?parcel={parcel.id}")
    assert paper["Content-Type"] == "application/pdf"
    assert paper["Content-Disposition"] == 'attachment; filename="customs-2026-12-2.pdf"'
