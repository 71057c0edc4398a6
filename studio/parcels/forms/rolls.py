"""Which file of supporters, which field is each of its columns, and which rows are taken in?"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.parcels import address, roll
from studio.parcels.models import Tier
from studio.parcels.roll_columns import HEADERS
from studio.parcels.roll_words import field_words

_ROW = re.compile(r"[0-9]{1,6}")
_ROWS = re.compile(r"([0-9]{1,6})(?:\.\.([0-9]{1,6}))?")


class RollForm(forms.Form):
    """A file of supporters."""

    file = forms.FileField(
        label="CSV file",
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv"}),
    )

    def clean_file(self) -> Any:
        """Refuse a file that is too large before it is read."""
        file = self.cleaned_data["file"]
        if file.size > roll.MOST_BYTES:
            raise ValidationError(f"The file is larger than {roll.MOST_BYTES // 1024 // 1024} MB.")
        return file


class MatchingForm(forms.Form):
    """Which field every column is, and what stands where a cell is empty."""

    tier = forms.ModelChoiceField(
        label="Tier of a row that names none",
        queryset=Tier.objects.all(),
        required=False,
        to_field_name="name",
        empty_label="Refuse such a row",
    )
    country = forms.ChoiceField(label="Country of a row that names none", required=False)

    def __init__(
        self, *args: Any, header: Sequence[str], guessed: Sequence[str], **kw: Any
    ) -> None:
        super().__init__(*args, **kw)
        self.header = header
        country = self.fields["country"]
        assert isinstance(country, forms.ChoiceField)
        country.choices = [("", "Refuse such a row"), *address.countries()]
        known = [("", "leave out"), *((name, field_words(name)) for name in HEADERS)]
        for index, field in enumerate(guessed):
            self.fields[f"c{index}"] = forms.ChoiceField(
                label=header[index] or f"column {index + 1}",
                choices=known,
                required=False,
                initial=field,
            )

    def columns(self) -> list[Any]:
        """The bound boxes of the columns, in the file's order."""
        return [self[f"c{index}"] for index in range(len(self.header))]

    def matching(self) -> roll.Matching:
        """What was chosen."""
        tier = self.cleaned_data["tier"]
        defaults = {"tier": tier.name if tier else "", "country": self.cleaned_data["country"]}
        return roll.Matching(
            fields=tuple(self.cleaned_data[f"c{index}"] for index in range(len(self.header))),
            defaults={name: value for name, value in defaults.items() if value},
        )


class TicksField(forms.Field):
    """Row numbers, as many as are ticked; what is no number is no row."""

    widget = forms.SelectMultiple

    def clean(self, value: Any) -> set[int]:
        """The numbers."""
        return {
            int(text)
            for text in value or []
            if text.isascii() and text.isdigit() and len(text) <= 6
        }


class ChosenRowsForm(forms.Form):
    """All rows that can be taken in, or those that are ticked or named."""

    which = forms.ChoiceField(choices=[("all", "all"), ("chosen", "chosen")])
    row = TicksField(required=False)
    rows = forms.CharField(required=False, max_length=500)

    def clean_rows(self) -> set[int]:
        """Read row numbers and ranges of them."""
        found: set[int] = set()
        for part in self.cleaned_data["rows"].replace(",", " ").split():
            span = _ROWS.fullmatch(part)
            if span is None:
                raise ValidationError(f"'{part}' is no row. Write rows such as 2..40, 57.")
            first, last = int(span[1]), int(span[2] or span[1])
            if last < first:
                raise ValidationError(f"'{part}' runs backwards. Write the lower row first.")
            found.update(range(first, last + 1))
        return found

    def clean(self) -> dict[str, Any]:
        """What is chosen, as ``chosen``: row numbers, or None for all."""
        cleaned = super().clean() or {}
        chosen = set(cleaned.get("row", ())) | set(cleaned.get("rows", ()))
        if cleaned.get("which") == "chosen" and not chosen and not self.errors:
            raise ValidationError("Choose at least one row, by its tick or by its number.")
        return {**cleaned, "chosen": chosen if cleaned.get("which") == "chosen" else None}
