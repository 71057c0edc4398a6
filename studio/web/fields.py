"""How does a person type a temperature, a length or an amount, in the units this studio chose?

The value of such a field is metric, or whole pence, whatever was typed ("2232 F" is 1222.2 °C); its
first value is shown in the studio's unit, and what was typed stays in the box when it is refused.
"""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.craft.money import BadMoney, decimals, read_money
from studio.craft.quantities import (
    BadQuantity,
    entry_length,
    entry_temperature,
    read_length,
    read_temperature,
)
from studio.web.selectors import length_unit, temperature_unit, the_studio


def row_number(text: str) -> int | None:
    """The number of a row as an address or a box names it; None for what names none.

    ``isdigit`` alone lets ² through, which is no number, and more digits than a database takes.
    """
    return int(text) if text.isascii() and text.isdigit() and len(text) < 12 else None


class TemperatureField(forms.CharField):
    """A temperature [°C]; None when it is not required and left empty."""

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float):
            return entry_temperature(float(value), unit=temperature_unit())
        return value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_temperature(text, unit=temperature_unit())
        except BadQuantity as problem:
            raise ValidationError(problem.sentence) from problem


class LengthField(forms.CharField):
    """A length [mm]; None when it is not required and left empty."""

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float):
            return entry_length(float(value), unit=length_unit())
        return value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_length(text, unit=length_unit())
        except BadQuantity as problem:
            raise ValidationError(problem.sentence) from problem


class MoneyField(forms.CharField):
    """An amount [pence, or the smallest coin]; None when it is not required and left empty."""

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int):
            places = decimals(the_studio().currency)
            whole, part = divmod(value, 10**places)
            return f"{whole}.{part:0{places}}" if places else str(whole)
        return value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_money(text, currency=the_studio().currency)
        except BadMoney as problem:
            raise ValidationError(str(problem)) from problem
