"""Which field of a supporter is a column of somebody's file, by its header and by what is in it?"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from itertools import islice
from typing import TYPE_CHECKING

from studio.parcels import address
from studio.parcels.roll_row import Known
from studio.parcels.roll_words import WORDS, field_words

if TYPE_CHECKING:
    from studio.parcels.roll import Sheet

MEANINGS = {
    "number": "supporter's number; a new one is given when it is empty",
    "name": "needed; several columns are joined, such as first and last name",
    "email": "needed for those without a number",
    "tier": "the name of a tier; needed",
    "joined_month": "such as 2026-03, Mar 2026 or a day in it; else the first month paid, or this",
    "left_month": "the last month of their support",
    "paused": "yes, no, or months such as 2026-01..2026-03, 2026-09..",
    "country": "a name or a two-letter code; needed",
    "street_address": "several lines or several columns are fine",
    "city_area": "district",
    "city": "",
    "country_area": "state, province or county",
    "postal_code": "",
    "sorting_code": "",
    "address_confirmed_date": "such as 2026-11-30, 30/11/2026 or 30 Nov 2026",
    "gift_from": "who gives it, when it is a gift",
    "takes_seconds": "yes or no",
    "packing_note": "allergy, no tape ...",
    "please_no": "forms, with ; between",
    "no_glazes": "glazes, with ; between",
    "household": "one word for all who share an address",
    "paid_months": "such as 2026-01..2026-06, 2026-08; added to those there",
    "refunded_months": "paid and given back: they do not count",
    "failed_months": "never came in: they do not count",
}
"""Every field a file may have, in the order in which they are written, and what it means."""

HEADERS = tuple(MEANINGS)
JOINED = {"name": " ", "street_address": "\n"}
"""The fields that several columns may make up, and what stands between."""

SAMPLE = 50
ENOUGH = 0.8
"""So many of the sampled cells must look like a field before a column is taken for it."""

_OTHER_NAMES = {
    "address": "street_address",
    "address_1": "street_address",
    "address_2": "street_address",
    "address_line": "street_address",
    "address_line_1": "street_address",
    "address_line_2": "street_address",
    "amount_tier": "tier",
    "county": "country_area",
    "country_code": "country",
    "country_name": "country",
    "e_mail": "email",
    "e_mail_address": "email",
    "email_address": "email",
    "family_name": "name",
    "first_name": "name",
    "forename": "name",
    "full_name": "name",
    "given_name": "name",
    "joined": "joined_month",
    "last_name": "name",
    "level": "tier",
    "mail": "email",
    "member_since": "joined_month",
    "no": "number",
    "post_code": "postal_code",
    "postcode": "postal_code",
    "province": "country_area",
    "region": "country_area",
    "since": "joined_month",
    "state": "country_area",
    "street": "street_address",
    "street_1": "street_address",
    "street_2": "street_address",
    "supporter": "name",
    "supporter_since": "joined_month",
    "surname": "name",
    "town": "city",
    "zip": "postal_code",
    "zip_code": "postal_code",
}
_BY_WORDS = {re.sub(r"\W+", "_", words): field for field, words in WORDS.items()}
_EMAIL = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")
_MONTHS = re.compile(r"\d{4}-\d{2}(\.\.(\d{4}-\d{2})?)?([,; ]+\d{4}-\d{2}(\.\.(\d{4}-\d{2})?)?)+")


def named(cell: str) -> str | None:
    """The field that a header names, however it is written; None when it names none."""
    plain = "_".join(re.sub(r"[^\w]+|_", " ", cell.casefold()).split())
    plain = re.sub(r"(?<=[a-z])(?=\d$)", "_", plain)
    field = _OTHER_NAMES.get(plain) or _BY_WORDS.get(plain, plain)
    return field if field in MEANINGS else None


def guess(*, sheet: Sheet, known: Known) -> tuple[str, ...]:
    """A field for every column, '' where nothing says which. First by header, then by content."""
    fields = [named(cell) or "" for cell in sheet.header]
    for index, field in enumerate(fields):
        if field and field not in JOINED and field in fields[:index]:
            fields[index] = ""
    cells = samples(sheet)
    for index, values in enumerate(cells):
        if fields[index] or not values:
            continue
        field = _by_content(values, known)
        if field and field not in fields:
            fields[index] = field
    return tuple(fields)


def meanings() -> list[tuple[str, str]]:
    """Every field in words, and what it means."""
    return [(field_words(field), meaning) for field, meaning in MEANINGS.items()]


def left_out(header: Sequence[str], fields: Sequence[str]) -> list[str]:
    """The columns that are no field, by their headers."""
    return [
        name or f"column {number}"
        for number, (name, field) in enumerate(zip(header, fields, strict=True), start=1)
        if not field
    ]


def samples(sheet: Sheet, *, rows: int = SAMPLE) -> list[list[str]]:
    """The first cells of every column that are not empty."""
    found: list[list[str]] = [[] for _ in sheet.header]
    for _, cells in islice(sheet.rows(), rows):
        for column, cell in zip(found, cells, strict=False):
            if cell.strip():
                column.append(cell.strip())
    return found


def _by_content(values: Sequence[str], known: Known) -> str:
    tests: dict[str, Callable[[str], bool]] = {
        "email": lambda text: _EMAIL.fullmatch(text) is not None,
        "tier": lambda text: text.casefold() in known.tiers,
        "country": lambda text: address.country_code_of(text) is not None,
        "paid_months": lambda text: _MONTHS.fullmatch(text) is not None,
    }
    for field, looks in tests.items():
        if sum(map(looks, values)) >= ENOUGH * len(values):
            return field
    return ""
