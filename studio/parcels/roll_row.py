"""What does one row of a file of supporters say, field by field, and what is wrong with it?"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from studio.parcels import address, rules

_YES = frozenset({"yes", "y", "true", "1", "x"})
_NO = frozenset({"", "no", "n", "false", "0"})
_RUNS_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_TEXTS = {
    "name": 120,
    "email": 254,
    "gift_from": 120,
    "packing_note": 200,
    "city": 120,
    "city_area": 120,
    "country_area": 120,
    "postal_code": 20,
    "sorting_code": 20,
    "street_address": 400,
}


def guard(cell: str) -> str:
    """A cell that a spreadsheet shows and does not run (OWASP ASVS 5.0, V1.2.10)."""
    return f"'{cell}" if cell.startswith(_RUNS_AS_FORMULA) else cell


def unguard(cell: str) -> str:
    """The cell as it was before ``guard``."""
    return cell[1:] if cell[:1] == "'" and cell[1:].startswith(_RUNS_AS_FORMULA) else cell


def read_months(text: str) -> tuple[int, ...]:
    """Months and ranges: '2026-01..2026-06, 2026-08'.

    Raises: rules.BadMonth with a sentence.
    """
    found: set[int] = set()
    for part in text.replace(";", ",").replace(",", " ").split():
        first, dots, last = part.partition("..")
        start = rules.read_month(first)
        end = rules.read_month(last) if dots else start
        if end < start:
            raise rules.BadMonth(f"'{part}' runs backwards. Write the earlier month first.")
        found.update(range(start, end + 1))
    return tuple(sorted(found))


def write_months(months: Iterable[int]) -> str:
    """Months as ``read_months`` reads them, runs drawn together."""
    runs: list[list[int]] = []
    for month in sorted(set(months)):
        if runs and month == runs[-1][-1] + 1:
            runs[-1].append(month)
        else:
            runs.append([month])
    return ", ".join(
        rules.month_text(run[0])
        if len(run) == 1
        else f"{rules.month_text(run[0])}..{rules.month_text(run[-1])}"
        for run in runs
    )


class RowReader:
    """One row being read: ``values`` and the ``causes`` against it."""

    def __init__(
        self,
        number: int,
        texts: Mapping[str, str],
        tiers: Mapping[str, str],
        forms: Mapping[str, str],
        this_month: int,
    ) -> None:
        self.number = number
        self.texts = {field: unguard(text.strip()).strip() for field, text in texts.items()}
        self.tiers, self.forms, self.this_month = tiers, forms, this_month
        self.causes: list[str] = []
        self.values: dict[str, Any] = {}
        for field, text in self.texts.items():
            if field in _TEXTS:
                self._text(field, text)
            elif field != "country":
                getattr(self, f"_{field}")(text)
        self._address()
        if not self.texts.get("number") and not self.texts.get("email"):
            self._cause("email", "a person without a number needs an e-mail address.")

    def _cause(self, field: str, sentence: str) -> None:
        self.causes.append(f"Row {self.number}, {field}: {sentence}")

    def _text(self, field: str, text: str) -> None:
        most = _TEXTS[field]
        if len(text) > most:
            self._cause(field, f"{len(text)} characters are too many; {most} at most.")
        if field == "name" and not text:
            self._cause(field, "the name is missing.")
        if field == "email" and text:
            try:
                validate_email(text)
            except ValidationError:
                self._cause(field, f"'{text}' is no e-mail address.")
        if field == "gift_from":
            self.values["is_gift"] = bool(text)
        self.values[field] = text

    def _number(self, text: str) -> None:
        self.values["number"] = None
        if text and not (text.isascii() and text.isdigit() and 0 < int(text) < 10**9):
            self._cause(
                "number", f"'{text}' is no number. Write a whole number, or leave it empty."
            )
        elif text:
            self.values["number"] = int(text)

    def _tier(self, text: str) -> None:
        tier = self.tiers.get(text.casefold())
        if tier is None:
            known = ", ".join(self.tiers.values()) or "none yet; add one first"
            wrong = f"'{text}' is no tier" if text else "the tier is missing"
            self._cause("tier", f"{wrong}. Known: {known}.")
        self.values["tier"] = tier

    def _joined_month(self, text: str) -> None:
        if not text:
            return
        try:
            month = rules.read_month(text)
        except rules.BadMonth as problem:
            self._cause("joined_month", str(problem))
            return
        sentence = rules.can_join(joined_month=month, this_month=self.this_month)
        if sentence:
            self._cause("joined_month", sentence)
        self.values["joined_month"] = month

    def _paused(self, text: str) -> None:
        self._yes_no("paused", text)

    def _takes_seconds(self, text: str) -> None:
        self._yes_no("takes_seconds", text)

    def _yes_no(self, field: str, text: str) -> None:
        if text.casefold() not in _YES | _NO:
            self._cause(field, f"'{text}' is neither yes nor no.")
        self.values[field] = text.casefold() in _YES

    def _address_confirmed_date(self, text: str) -> None:
        try:
            self.values["address_confirmed_date"] = date.fromisoformat(text) if text else None
        except ValueError:
            self._cause("address_confirmed_date", f"'{text}' is no date. Write it as 2026-11-30.")

    def _please_no(self, text: str) -> None:
        names = [name.strip() for name in text.replace("\n", ";").split(";") if name.strip()]
        for name in names:
            if name.casefold() not in self.forms:
                near = difflib.get_close_matches(name.casefold(), self.forms, n=1)
                meant = f" Did you mean {self.forms[near[0]]}?" if near else ""
                self._cause("please_no", f"'{name}' is no form known here.{meant}")
        self.values["please_no"] = tuple(
            sorted({self.forms.get(name.casefold(), name) for name in names})
        )

    def _paid_months(self, text: str) -> None:
        try:
            months = read_months(text)
        except rules.BadMonth as problem:
            self._cause("paid_months", str(problem))
            return
        if months and months[-1] > self.this_month:
            later = rules.month_name(months[-1])
            self._cause("paid_months", f"{later} is still to come: a month is paid when it is.")
        self.values["paid_months"] = months

    def _address(self) -> None:
        """The country, and the address as far as the file has it."""
        text = self.texts.get("country", "")
        code = address.country_code_of(text) if text else None
        if code is None:
            self._cause("country", address.no_country(text))
            return
        self.values["country_code"] = code
        given = [field for field in address.FIELDS if field in self.values]
        if not given:
            return
        fields = {field: self.values.get(field, "") for field in address.FIELDS}
        for field, sentence in address.address_causes(country_code=code, fields=fields).items():
            self._cause(field, sentence)
        tidied = address.tidy_address(country_code=code, fields=fields)
        self.values.update({field: tidied[field] for field in address.FIELDS})
