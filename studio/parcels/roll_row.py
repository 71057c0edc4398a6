"""What does one row of a file of supporters say, field by field, and what is wrong with it?"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Self

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from studio.parcels import address, rules
from studio.parcels.roll_dates import BadDay, as_written, read_day, read_month_of
from studio.parcels.roll_words import field_words

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
    "household": 60,
}
_STATES = ("paid", "refunded", "failed")


def guard(cell: str) -> str:
    """A cell that a spreadsheet shows and does not run (OWASP ASVS 5.0, V1.2.10)."""
    return f"'{cell}" if cell.lstrip("'").startswith(_RUNS_AS_FORMULA) else cell


def unguard(cell: str) -> str:
    """The cell as it was before ``guard``."""
    runs = cell.lstrip("'").startswith(_RUNS_AS_FORMULA)
    return cell[1:] if cell[:1] == "'" and runs else cell


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """What a row may name: tiers, forms and glazes by their casefolded names; and the month now."""

    tiers: Mapping[str, str]
    forms: Mapping[str, str]
    glazes: Mapping[str, str]
    this_month: int

    @classmethod
    def of(
        cls,
        *,
        tiers: Iterable[str],
        forms: Iterable[str],
        glazes: Iterable[str] = (),
        this_month: int,
    ) -> Self:
        """These names, found however they are capitalised."""
        return cls(
            tiers={name.casefold(): name for name in tiers},
            forms={name.casefold(): name for name in forms},
            glazes={name.casefold(): name for name in glazes},
            this_month=this_month,
        )


class RowReader:
    """One row being read: ``values`` and the ``causes`` against it."""

    def __init__(self, number: int, texts: Mapping[str, str], known: Known) -> None:
        self.number = number
        self.texts = {field: unguard(text.strip()).strip() for field, text in texts.items()}
        self.known = known
        self.causes: list[str] = []
        self.values: dict[str, Any] = {}
        for field, text in self.texts.items():
            if field in _TEXTS:
                self._text(field, text)
            elif field != "country":
                getattr(self, f"_{field}")(text)
        self._address()
        states = {state: self.values.get(f"{state}_months", ()) for state in _STATES}
        sentence = rules.can_list_payments(states)
        if sentence:
            self._cause("paid_months", sentence)
        if not self.texts.get("number") and not self.texts.get("email"):
            self._cause("email", "a person without a number needs an e-mail address.")

    def _cause(self, field: str, sentence: str) -> None:
        self.causes.append(f"Row {self.number}, {field_words(field)}: {sentence}")

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
        if text and not (text.isascii() and text.isdigit() and len(text) < 10 and int(text)):
            self._cause(
                "number", f"'{text}' is no number. Write a whole number, or leave it empty."
            )
        elif text:
            self.values["number"] = int(text)

    def _tier(self, text: str) -> None:
        tier = self.known.tiers.get(text.casefold())
        if tier is None:
            known = ", ".join(self.known.tiers.values()) or "none yet; add one first"
            wrong = f"'{text}' is no tier" if text else "the tier is missing"
            self._cause("tier", f"{wrong}. Known: {known}.")
        self.values["tier"] = tier

    def _joined_month(self, text: str) -> None:
        month = self._month("joined_month", text)
        if month is None:
            return
        sentence = rules.can_join(joined_month=month, this_month=self.known.this_month)
        if sentence:
            self._cause("joined_month", sentence)
        self.values["joined_month"] = month

    def _left_month(self, text: str) -> None:
        self.values["left_month"] = self._month("left_month", text)

    def _month(self, field: str, text: str) -> int | None:
        """A month, also when a whole date or moment stands in the cell."""
        try:
            return read_month_of(text) if text else None
        except rules.BadMonth as problem:
            self._cause(field, str(problem))
            return None

    def _paused(self, text: str) -> None:
        """Yes, no, or the months of every pause."""
        if text.casefold() in _YES | _NO:
            self.values["pauses"] = text.casefold() in _YES
            return
        try:
            self.values["pauses"] = rules.read_spans(as_written(text))
        except rules.BadMonth as problem:
            self._cause("paused", f"{problem} Or write yes or no.")

    def _takes_seconds(self, text: str) -> None:
        self._yes_no("takes_seconds", text)

    def _yes_no(self, field: str, text: str) -> None:
        if text.casefold() not in _YES | _NO:
            self._cause(field, f"'{text}' is neither yes nor no.")
        self.values[field] = text.casefold() in _YES

    def _address_confirmed_date(self, text: str) -> None:
        try:
            self.values["address_confirmed_date"] = read_day(text) if text else None
        except BadDay as problem:
            self._cause("address_confirmed_date", str(problem))

    def _please_no(self, text: str) -> None:
        self._names("please_no", text, self.known.forms, "form")

    def _no_glazes(self, text: str) -> None:
        self._names("no_glazes", text, self.known.glazes, "glaze")

    def _names(self, field: str, text: str, known: Mapping[str, str], word: str) -> None:
        names = [name.strip() for name in text.replace("\n", ";").split(";") if name.strip()]
        for name in names:
            if name.casefold() not in known:
                near = difflib.get_close_matches(name.casefold(), known, n=1)
                meant = f" Did you mean {known[near[0]]}?" if near else ""
                self._cause(field, f"'{name}' is no {word} known here.{meant}")
        self.values[field] = tuple(sorted({known.get(name.casefold(), name) for name in names}))

    def _paid_months(self, text: str) -> None:
        self._months("paid_months", text)

    def _refunded_months(self, text: str) -> None:
        self._months("refunded_months", text)

    def _failed_months(self, text: str) -> None:
        self._months("failed_months", text)

    def _months(self, field: str, text: str) -> None:
        try:
            months = rules.read_months(as_written(text))
        except rules.BadMonth as problem:
            self._cause(field, str(problem))
            return
        if months and months[-1] > self.known.this_month:
            later = rules.month_name(months[-1])
            self._cause(field, f"{later} is still to come: a month is paid when it is.")
        self.values[field] = months

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
