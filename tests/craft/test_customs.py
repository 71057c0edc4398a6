"""Customs data: limits to the penny and the gram, headings, and what may not be declared."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.craft.customs import (
    HEADINGS,
    BadDeclaration,
    Contents,
    Declaration,
    Limits,
    declare,
    gather,
    guess_body,
    heading_for,
    in_sdr,
    needs_declaration,
    which_form,
)

MUG = Contents(
    description="handmade glazed stoneware mug, for drinks",
    count=1,
    net_weight_g=360,
    value_pence=3200,
    heading="6912.00",
    origin="GB",
)
# 300 SDR and 2 kg are the UPU's; 1.07 is an invented rate that makes the sums easy to follow.
LIMITS = Limits(sdr=Decimal(300), weight_g=2000, rate=Decimal("1.07"))


@pytest.mark.parametrize(
    ("pence", "grams", "form"),
    [
        (32_100, 2000, "CN 22"),  # 321.00 / 1.07 = 300.00 SDR and 2 kg: both limits exactly
        (32_101, 2000, "CN 23"),  # a penny more
        (32_100, 2001, "CN 23"),  # a gram more
        (3200, 900, "CN 22"),  # 32.00 / 1.07 = 29.91 SDR
    ],
)
def test_the_smaller_form_holds_up_to_both_limits(pence: int, grams: int, form: str) -> None:
    got, why = which_form(value_pence=pence, gross_weight_g=grams, units=100, limits=LIMITS)
    assert got == form
    assert why


def test_why_it_is_that_form() -> None:
    def why(**change: object) -> str:
        values = {"value_pence": 3200, "gross_weight_g": 900, "units": 100, "limits": LIMITS}
        return which_form(**(values | change))[1]  # type: ignore[arg-type]

    assert why() == "Worth 29.91 SDR and 900 g, within 300 SDR and 2000 g."
    assert why(gross_weight_g=2400) == "2400 g is over 2000 g."
    assert why(value_pence=40_000) == "Worth 373.83 SDR, over 300 SDR."
    assert why(limits=replace(LIMITS, rate=None)) == (
        "No rate of the SDR is entered, so the fuller form is the safe one."
    )
    assert why(limits=replace(LIMITS, parcel_post=True)) == (
        "Sent as a postal parcel, which always takes CN 23."
    )
    # A yen has no smaller coin: 4500 yen at 200 yen an SDR are 22.50 SDR.
    assert in_sdr(value_pence=4500, units=1, rate=Decimal(200)) == Decimal("22.50")


def test_the_heading_goes_by_body_and_use() -> None:
    # Harmonized System, chapter 69: 6911 porcelain ware, 6912 other ware, 6913 ornaments
    assert heading_for(body="porcelain", ornament=False) == "6911.10"
    assert heading_for(body="stoneware", ornament=False) == "6912.00"
    assert heading_for(body="earthenware", ornament=False) == "6912.00"
    assert heading_for(body="porcelain", ornament=True) == "6913.10"
    assert heading_for(body="stoneware", ornament=True) == "6913.90"
    assert set(HEADINGS) == {"6911.10", "6912.00", "6913.10", "6913.90"}


@pytest.mark.parametrize(
    ("name", "body"),
    [
        ("Limoges-type Porcelain", "porcelain"),
        ("Bone china", "porcelain"),
        ("Harbour", "stoneware"),
        ("Red Earthenware", "earthenware"),
        ("Terracotta, smooth", "earthenware"),
        ("White stoneware with china clay", "stoneware"),
    ],
)
def test_what_a_bodys_name_says(name: str, body: str) -> None:
    assert guess_body(name) == body


def test_at_home_nothing_is_declared() -> None:
    assert not needs_declaration(origin="GB", destination="GB")
    assert needs_declaration(origin="GB", destination="FR")
    assert needs_declaration(origin="GB", destination="JE", without=("IM",))
    assert not needs_declaration(origin="DE", destination="FR", without=("FR", "NL"))


def test_lines_of_one_kind_are_gathered_and_the_sums_hold() -> None:
    bowl = replace(
        MUG, description="handmade glazed stoneware bowl, for food", net_weight_g=500,
        value_pence=4500,
    )  # fmt: skip
    made = declare(
        pieces=[MUG, bowl, replace(MUG, net_weight_g=350)],
        gross_weight_g=1900,
        kind="goods",
        units=100,
        limits=LIMITS,
    )
    assert [(one.count, one.net_weight_g, one.value_pence) for one in made.lines] == [
        (2, 360 + 350, 3200 + 3200),
        (1, 500, 4500),
    ]
    assert (made.count, made.net_weight_g, made.value_pence) == (3, 1210, 10_900)
    assert made.form == "CN 22"


@given(
    st.lists(
        st.tuples(st.integers(1, 9), st.integers(1, 4000), st.integers(1, 90_000), st.booleans()),
        min_size=1,
        max_size=12,
    )
)
def test_gathering_loses_nothing(rows: list[tuple[int, int, int, bool]]) -> None:
    pieces = [
        replace(
            MUG, count=count, net_weight_g=grams, value_pence=pence,
            heading="6913.90" if ornament else "6912.00",
        )
        for count, grams, pence, ornament in rows
    ]  # fmt: skip
    lines = gather(pieces)
    assert len(lines) == len({row[3] for row in rows})
    assert sum(one.count for one in lines) == sum(row[0] for row in rows)
    assert sum(one.net_weight_g for one in lines) == sum(row[1] for row in rows)
    assert sum(one.value_pence for one in lines) == sum(row[2] for row in rows)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"description": "pottery"}, "tells a customs officer too little"),
        ({"description": ""}, "tells a customs officer too little"),
        ({"count": 0}, "the number of pieces is missing"),
        ({"net_weight_g": 0}, "the weight is missing"),
        ({"value_pence": 0}, "Declare what it would sell for or what it cost to make"),
        ({"heading": "6914.90"}, "6914.90 is not one of"),
        ({"heading": ""}, "no heading is not one of"),
        ({"origin": ""}, "the country it was made in is missing"),
    ],
)
def test_what_may_not_be_declared(change: dict[str, object], sentence: str) -> None:
    with pytest.raises(BadDeclaration, match=sentence):
        replace(MUG, **change)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"lines": ()}, "There is nothing in the parcel to declare"),
        ({"kind": ""}, "Choose the kind of item"),
        ({"gross_weight_g": 360}, "weighs 360 g, and what is in it 360 g already"),
    ],
)
def test_what_no_declaration_is(change: dict[str, object], sentence: str) -> None:
    good = Declaration(lines=(MUG,), gross_weight_g=900, kind="goods", form="CN 22", why="small")
    with pytest.raises(BadDeclaration, match=sentence):
        replace(good, **change)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "change", [{"sdr": Decimal(0)}, {"weight_g": 0}, {"rate": Decimal(0)}, {"rate": Decimal(-1)}]
)
def test_limits_are_above_nothing(change: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="above 0"):
        replace(LIMITS, **change)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="above 0"):
        in_sdr(value_pence=1, units=100, rate=Decimal(0))
