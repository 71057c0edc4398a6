"""What was seen of a firing, and what does one kWh cost?"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from studio.firings import rules
from studio.firings.models import FuelPrice, Place
from studio.firings.selectors import Kin


class ManyFiles(forms.ClearableFileInput):
    """Several pictures at once, straight from the phone."""

    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """A list of files; every one is cleaned as a file of its own."""

    widget = ManyFiles

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        """The files that were sent, none is an empty list."""
        sent = data if isinstance(data, (list, tuple)) else [data] if data else []
        return [super(ManyFilesField, self).clean(one, initial) for one in sent]


class ResultForm(forms.Form):
    """Photographs and words, of the whole load or of one ware in it."""

    photos = ManyFilesField(
        label="Photographs", required=False,
        widget=ManyFiles(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text=f"up to {rules.MOST_PHOTOS} at once; turned upright, and where they were taken"
        " is left out",
    )  # fmt: skip
    of = forms.ChoiceField(label="Of what", required=False)
    words = forms.CharField(
        label="What you saw", required=False, max_length=rules.MOST_WORDS,
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def __init__(self, *args: Any, kin: Sequence[Kin], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kin = {str(one.place.pk): one.place for one in kin}
        of: Any = self.fields["of"]
        of.choices = [("", "the whole load"), *((str(k.place.pk), k.words) for k in kin)]

    @property
    def place(self) -> Place | None:
        """The place that stands for the chosen ware; None for the whole load."""
        return self.kin.get(self.cleaned_data["of"])


class FuelPriceForm(forms.Form):
    """In which unit gas or wood is bought, and what one costs, in the smallest coin."""

    unit = forms.ChoiceField(label="Bought by", choices=FuelPrice.Unit.choices)
    price = forms.DecimalField(
        label="One costs", min_value=Decimal("0.01"), max_value=Decimal(100_000),
        decimal_places=2, help_text="in pence, cents or the like, such as 210",
    )  # fmt: skip

    @property
    def price_hundredths(self) -> int:
        """In hundredths of the smallest coin."""
        return int(self.cleaned_data["price"] * 100)


class TariffForm(forms.Form):
    """What one kWh costs, in the smallest coin."""

    price = forms.DecimalField(
        label="One kWh costs", min_value=Decimal("0.01"), max_value=Decimal(10_000),
        decimal_places=2, help_text="in pence, cents or the like, such as 28.5",
    )  # fmt: skip

    @property
    def price_hundredths(self) -> int:
        """In hundredths of the smallest coin."""
        return int(self.cleaned_data["price"] * 100)
