"""How is a file of supporters read and written, and what is wrong with one that is refused?

Laws (a rejected example each):

1. Only known headers are read; another is refused with the nearest known one and the list
   (``Post Code 2`` is not silently left out).
2. Every wrong row is named with its field and what to write; one wrong row refuses the file.
3. A cell is text. One that a spreadsheet would run as a formula is written with a ' before it, and
   read back without.
4. A column that is missing leaves what is there; an empty cell in a column empties it.
"""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from studio.parcels.roll_row import RowReader, guard

HEADERS = (
    "number",
    "name",
    "email",
    "tier",
    "joined_month",
    "paused",
    "country",
    "street_address",
    "city_area",
    "city",
    "country_area",
    "postal_code",
    "sorting_code",
    "address_confirmed_date",
    "gift_from",
    "takes_seconds",
    "packing_note",
    "please_no",
    "paid_months",
)
"""Every field a file may have, in the order in which they are written."""

MEANINGS = {
    "number": "supporter's number; a new one is given when it is empty",
    "name": "needed",
    "email": "needed for those without a number",
    "tier": "the name of a tier; needed",
    "joined_month": "such as 2026-03; this month when it is empty",
    "paused": "yes or no",
    "country": "a name or a two-letter code; needed",
    "street_address": "several lines are fine",
    "city_area": "district",
    "city": "",
    "country_area": "state, province or county",
    "postal_code": "",
    "sorting_code": "",
    "address_confirmed_date": "such as 2026-11-30",
    "gift_from": "who gives it, when it is a gift",
    "takes_seconds": "yes or no",
    "packing_note": "allergy, no tape ...",
    "please_no": "forms, with ; between",
    "paid_months": "such as 2026-01..2026-06, 2026-08; added to those there",
}

_OTHER_NAMES = {
    "e_mail": "email",
    "mail": "email",
    "postcode": "postal_code",
    "post_code": "postal_code",
    "zip": "postal_code",
    "zip_code": "postal_code",
    "state": "country_area",
    "province": "country_area",
    "county": "country_area",
    "region": "country_area",
    "town": "city",
    "address": "street_address",
    "street": "street_address",
    "country_code": "country",
    "no": "number",
}
MOST_BYTES = 2 * 1024 * 1024
MOST_ROWS = 2_000


class BadRoll(ValueError):
    """The file is refused; ``causes`` are sentences, each with its row and field."""

    def __init__(self, *causes: str) -> None:
        self.causes = causes
        super().__init__(" ".join(causes))


@dataclass(frozen=True, kw_only=True, slots=True)
class RollRow:
    """One supporter of the file. ``values`` holds the fields the file has, read and checked."""

    row: int
    values: Mapping[str, Any]


def read_roll(
    data: bytes, *, tiers: Collection[str], forms: Collection[str], this_month: int
) -> tuple[RollRow, ...]:
    """Read a file of supporters: UTF-8 (with or without a mark), UTF-16 or Windows-1252.

    ``tiers`` and ``forms`` are the names known here. Cells are separated by commas, semicolons or
    tabs. Row 1 is the header, as a spreadsheet counts.

    Raises: BadRoll with every cause.
    """
    table = _table(data)
    fields = _fields(table[0])
    known_tiers = {name.casefold(): name for name in tiers}
    known_forms = {name.casefold(): name for name in forms}
    causes: list[str] = []
    found: list[RollRow] = []
    for number, cells in enumerate(table[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) > len(fields) and any(cell.strip() for cell in cells[len(fields) :]):
            causes.append(
                f"Row {number} has {len(cells)} cells, the header {len(fields)}. A comma inside an"
                " address needs quotation marks around that cell."
            )
            continue
        texts = dict(zip(fields, [*cells, *[""] * len(fields)], strict=False))
        reader = RowReader(number, texts, known_tiers, known_forms, this_month)
        causes += reader.causes
        found.append(RollRow(row=number, values=reader.values))
    causes += _twice(found, "number") + _twice(found, "email")
    if not found and not causes:
        causes.append("The file has a header and no rows below it.")
    if causes:
        raise BadRoll(*causes)
    return tuple(found)


def write_roll(rows: Iterable[Mapping[str, str]]) -> str:
    """The supporters as a file that ``read_roll`` reads, safe to open in a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADERS)
    for row in rows:
        writer.writerow([guard(row.get(field, "")) for field in HEADERS])
    return "\ufeff" + out.getvalue()


def _table(data: bytes) -> list[list[str]]:
    if len(data) > MOST_BYTES:
        raise BadRoll(f"The file is larger than {MOST_BYTES // 1024 // 1024} MB.")
    text = _text(data)
    first = text.lstrip("\r\n").partition("\n")[0]
    mark = max(",;\t", key=first.count)
    try:
        table = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True))
    except csv.Error as problem:
        raise BadRoll(f"The file is no CSV file ({problem}). Save the sheet as CSV.") from None
    while table and not any(cell.strip() for cell in table[0]):
        table.pop(0)
    if not table:
        raise BadRoll("The file is empty.")
    if len(table) > MOST_ROWS + 1:
        raise BadRoll(f"The file has more than {MOST_ROWS} rows. Cut it into several files.")
    return table


def _text(data: bytes) -> str:
    """The text of a file as spreadsheets save it; Windows-1252 where it is no UTF-8."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ("utf-16",)
    else:
        encodings = ("utf-8-sig", "cp1252")  # type: ignore[assignment]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" in text:
            break
        return text
    raise BadRoll("The file is no text. Save the sheet as CSV, in UTF-8.")


def _fields(header: list[str]) -> list[str]:
    while header and not header[-1].strip():
        header = header[:-1]
    causes = []
    fields = []
    for cell in header:
        plain = "_".join(cell.strip().casefold().replace("-", " ").replace("_", " ").split())
        field = _OTHER_NAMES.get(plain, plain)
        if field not in HEADERS:
            near = difflib.get_close_matches(plain, [*HEADERS, *_OTHER_NAMES], n=1, cutoff=0.5)
            meant = f" The nearest is '{_OTHER_NAMES.get(near[0], near[0])}'." if near else ""
            causes.append(
                f"Row 1: '{cell.strip()}' is no field known here.{meant}"
                f" Known: {', '.join(HEADERS)}."
            )
        elif field in fields:
            causes.append(f"Row 1: the field '{field}' stands twice.")
        fields.append(field)
    for needed in ("name", "tier", "country"):
        if needed not in fields and not causes:
            causes.append(f"Row 1: the field '{needed}' is missing. Every supporter needs one.")
    if "number" not in fields and "email" not in fields and not causes:
        causes.append(
            "Row 1: the file needs the field 'number' or 'email', so that a second import knows"
            " each person again."
        )
    if causes:
        raise BadRoll(*causes)
    return fields


def _twice(rows: Iterable[RollRow], field: str) -> list[str]:
    """Rows that stand for the same person as a row before them."""
    first: dict[Any, int] = {}
    causes = []
    for row in rows:
        value = row.values.get(field)
        key = value.casefold() if isinstance(value, str) else value
        if not key:
            continue
        if key in first:
            causes.append(
                f"Row {row.row}, {field}: '{value}' stands in row {first[key]} already."
                " Leave one of the two."
            )
        first.setdefault(key, row.row)
    return causes
