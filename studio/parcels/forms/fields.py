"""How are a month and a day typed?"""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.parcels import rules
from studio.web.fields import LengthField
from studio.web.selectors import length_unit


class MonthField(forms.CharField):
    """A month typed as 2026-12; the value is its whole number."""

    widget = forms.TextInput(attrs={"type": "month", "placeholder": "2026-12"})

    def prepare_value(self, value: Any) -> Any:
        """Show a month as it is typed."""
        return rules.month_text(value) if isinstance(value, int) else value

    def clean(self, value: Any) -> Any:
        """Read the month. Raises ValidationError with the sentence."""
        if isinstance(value, int):
            return value  # the month of a form that may not change it
        text = super().clean(value)
        if not text:
            return None  # not required
        try:
            return rules.read_month(text)
        except rules.BadMonth as problem:
            raise ValidationError(str(problem)) from problem


def say_units(form: forms.BaseForm) -> None:
    """Put the studio's unit into the label of each length: 'Length inside (mm)'."""
    for field in form.fields.values():
        if isinstance(field, LengthField):
            field.label = f"{field.label} ({length_unit()})"


def day_field(label: str, *, required: bool = True, help_text: str = "") -> forms.DateField:
    """A day, typed as the browser offers it."""
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=required, help_text=help_text, widget=widget)
