"""How is a file of supporters read and written, and what is wrong with one that is refused?

Laws (a rejected example each):

1. Every column is matched to a field or left out on purpose: ``roll_columns`` guesses, a person
   corrects. A file read without that page (``read_roll``) is refused at an unknown header, with the
   nearest known one and the list (``Post Code 2`` is not silently left out).
2. Every wrong row is named with its field and what to write.
3. A cell is text. One that a spreadsheet would run as a formula is written with a ' before it, and
   read back without.
4. A column that is missing leaves what is there; an empty cell in a column empties it.
"""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from studio.parcels.roll_columns import HEADERS, JOINED, named
from studio.parcels.roll_row import Known, RowReader, guard
from studio.parcels.roll_words import field_words

MOST_BYTES = 24 * 1024 * 1024
MOST_ROWS = 100_000
MOST_COLUMNS = 200


class BadRoll(ValueError):
    """The file is refused; ``causes`` are sentences, each with its row and field."""

    def __init__(self, *causes: str) -> None:
        self.causes = causes
        super().__init__(" ".join(causes))


@dataclass(frozen=True, kw_only=True, slots=True)
class RollRow:
    """One supporter of the file. ``values`` holds the fields the file has, read and checked.

    With ``causes`` the row cannot be taken in, and says why.
    """

    row: int
    values: Mapping[str, Any]
    causes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """A file as a table: the cells of its header, and its rows, read anew each time."""

    header: tuple[str, ...]
    text: str
    mark: str

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """The rows below the header that are not empty, numbered as a spreadsheet does.

        Raises: BadRoll at a row that is no CSV, or beyond the most rows.
        """
        past_header = False
        for number, cells in _lines(self.text, self.mark):
            if not any(cell.strip() for cell in cells):
                continue
            if not past_header:
                past_header = True
                continue
            if number > MOST_ROWS + 1:
                raise BadRoll(
                    f"The file has more than {MOST_ROWS} rows. Cut it into several files."
                )
            yield number, cells


@dataclass(frozen=True, kw_only=True, slots=True)
class Matching:
    """Which field every column is ('' left out), and what stands where a cell is empty."""

    fields: tuple[str, ...]
    defaults: Mapping[str, str] = field(default_factory=dict)


def open_sheet(data: bytes) -> Sheet:
    """A file as spreadsheets save it: UTF-8 (with or without a mark), UTF-16 or Windows-1252.

    Cells are separated by commas, semicolons or tabs.

    Raises: BadRoll.
    """
    if len(data) > MOST_BYTES:
        raise BadRoll(f"The file is larger than {MOST_BYTES // 1024 // 1024} MB.")
    text = _text(data)
    first = text.lstrip("\r\n").partition("\n")[0]
    mark = max(",;\t", key=first.count)
    for _, cells in _lines(text, mark):
        if any(cell.strip() for cell in cells):
            while cells and not cells[-1].strip():
                cells.pop()
            if len(cells) > MOST_COLUMNS:
                raise BadRoll(f"The file has more than {MOST_COLUMNS} columns.")
            return Sheet(header=tuple(cell.strip() for cell in cells), text=text, mark=mark)
    raise BadRoll("The file is empty.")


def read_rows(
    *,
    sheet: Sheet,
    matching: Matching,
    known: Known,
    seen: dict[str, int] | None = None,
    after: int = 0,
) -> Iterator[RollRow]:
    """Every row of a sheet as its columns are matched, the wrong ones with their causes.

    A person who stands twice is refused the second time. To go on ``after`` a row, hand in what
    was ``seen`` up to it: in which row each person stood first.

    Raises: BadRoll as ``Sheet.rows`` does, or for a matching that ``cannot_match``.
    """
    cannot = cannot_match(matching.fields, matching.defaults)
    if cannot:
        raise BadRoll(*cannot)
    seen = {} if seen is None else seen
    for number, cells in sheet.rows():
        if number <= after:
            continue
        if any(cell.strip() for cell in cells[len(matching.fields) :]):
            wide = (
                f"Row {number} has {len(cells)} cells, the header {len(matching.fields)}."
                " A comma inside an address needs quotation marks around that cell."
            )
            yield RollRow(row=number, values={}, causes=(wide,))
            continue
        reader = RowReader(number, _texts(cells, matching), known)
        causes = [*reader.causes, *_twice(number, reader.values, seen)]
        yield RollRow(row=number, values=reader.values, causes=tuple(causes))


def cannot_match(fields: Sequence[str], defaults: Mapping[str, str]) -> tuple[str, ...]:
    """What is wrong with a matching of columns; empty when rows can be read by it."""
    causes = []
    for name in sorted({name for name in fields if name and name not in JOINED}):
        if fields.count(name) > 1:
            causes.append(f"Row 1: the field '{field_words(name)}' stands twice.")
    for needed in ("name", "tier", "country"):
        if needed not in fields and not defaults.get(needed) and not causes:
            causes.append(f"Row 1: the field '{needed}' is missing. Every supporter needs one.")
    if "number" not in fields and "email" not in fields and not causes:
        causes.append(
            "Row 1: the file needs the field 'number' or 'e-mail', so that a second import knows"
            " each person again."
        )
    return tuple(causes)


def read_roll(
    data: bytes,
    *,
    tiers: Collection[str],
    forms: Collection[str],
    glazes: Collection[str] = (),
    this_month: int,
) -> tuple[RollRow, ...]:
    """Read a whole file whose headers are the known ones, or refuse it.

    ``tiers``, ``forms`` and ``glazes`` are the names known here.

    Raises: BadRoll with every cause.
    """
    sheet = open_sheet(data)
    matching = Matching(fields=_exact(sheet.header))
    known = Known.of(tiers=tiers, forms=forms, glazes=glazes, this_month=this_month)
    rows = tuple(read_rows(sheet=sheet, matching=matching, known=known))
    causes = [cause for row in rows for cause in row.causes]
    if not rows:
        causes.append("The file has a header and no rows below it.")
    if causes:
        raise BadRoll(*causes)
    return rows


def write_roll(rows: Iterable[Mapping[str, str]]) -> Iterator[str]:
    """The supporters as lines of a file that ``read_roll`` reads and a spreadsheet only shows."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    out.write("\ufeff")
    writer.writerow(HEADERS)
    for row in rows:
        writer.writerow([guard(row.get(name, "")) for name in HEADERS])
        yield out.getvalue()
        out.seek(0)
        out.truncate()
    yield out.getvalue()


def _lines(text: str, mark: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    number = 0
    try:
        for number, cells in enumerate(reader, start=1):
            yield number, cells
    except csv.Error as problem:
        raise BadRoll(
            f"The file is no CSV file (row {number + 1}: {problem}). Save the sheet as CSV."
        ) from None


def _texts(cells: Sequence[str], matching: Matching) -> dict[str, str]:
    """The text of every field of a row; several columns of one field are joined."""
    found: dict[str, str] = dict.fromkeys(matching.defaults, "")
    for name, cell in zip(matching.fields, [*cells, *[""] * len(matching.fields)], strict=False):
        if name in found and cell.strip() and found[name]:
            found[name] += JOINED[name] + cell.strip()
        elif name:
            found[name] = found.get(name) or cell.strip(" ")
    for name, text in matching.defaults.items():
        found[name] = found[name] if found[name].strip() else text
    return found


def _text(data: bytes) -> str:
    """The text of a file as spreadsheets save it; Windows-1252 where it is no UTF-8."""
    encodings = ("utf-8-sig", "cp1252")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ("utf-16", "utf-16")
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" in text:
            break
        return text
    raise BadRoll("The file is no text. Save the sheet as CSV, in UTF-8.")


def _exact(header: Sequence[str]) -> tuple[str, ...]:
    """The fields that the header names. Raises BadRoll at a header that names none."""
    causes = []
    fields = []
    for cell in header:
        name = named(cell)
        if name is None:
            plain = "_".join(cell.casefold().split())
            near = difflib.get_close_matches(plain, HEADERS, n=1, cutoff=0.5)
            meant = f" The nearest is '{near[0]}'." if near else ""
            causes.append(
                f"Row 1: '{cell}' is no field known here.{meant} Known: {', '.join(HEADERS)}."
            )
        fields.append(name or "")
    if causes:
        raise BadRoll(*causes)
    return tuple(fields)


def _twice(number: int, values: Mapping[str, Any], seen: dict[str, int]) -> list[str]:
    """Say that a row stands for the same person as a row before it."""
    causes = []
    for name in ("number", "email"):
        value = values.get(name)
        key = f"{name} {str(value).casefold()}"
        if not value:
            continue
        if key in seen:
            causes.append(
                f"Row {number}, {field_words(name)}: '{value}' stands in row {seen[key]} already."
                " Leave one of the two."
            )
        seen.setdefault(key, number)
    return causes
