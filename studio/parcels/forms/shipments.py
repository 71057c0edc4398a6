"""What does a person type about a month's parcels?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.drawing.labels import SHEETS
from studio.parcels import selectors
from studio.parcels.forms.fields import MonthField, day_field
from studio.parcels.models import Parcel, Shipment, Supporter


class ShipmentForm(forms.Form):
    """A month's parcels."""

    month = MonthField(label="Month")
    post_date = day_field("Posted on")
    parcel_count = forms.IntegerField(label="Parcels", min_value=1, max_value=500, initial=5)
    buffer_days = forms.IntegerField(
        label="Days in hand",
        min_value=0,
        max_value=60,
        initial=2,
        help_text="All should be graded so many days before posting.",
    )
    importance = forms.IntegerField(
        label="How much it matters",
        min_value=1,
        max_value=9,
        initial=3,
        help_text="1 to 9. When not everything can be made, the higher date is served first.",
    )

    def __init__(self, *args: Any, shipment: Shipment | None = None, **kwargs: Any) -> None:
        if shipment is not None:
            kwargs["initial"] = {name: getattr(shipment, name) for name in self.base_fields}
        super().__init__(*args, **kwargs)
        if shipment is not None:
            self.fields["month"].disabled = True


class SkipForm(forms.Form):
    """Whose turn is passed over, and why."""

    supporter = forms.ModelChoiceField(
        label="Who", queryset=Supporter.objects.all(), empty_label="Choose a supporter"
    )
    reason = forms.CharField(
        label="Why", max_length=200, help_text="They keep their place; the next turn moves up."
    )


class ParcelsForm(forms.Form):
    """Which parcels are meant, and what is done with them."""

    parcel = forms.TypedMultipleChoiceField(
        coerce=int,
        required=False,
        error_messages={
            "invalid_choice": "One of the parcels is not there any more. Look at the page again.",
        },
    )
    everyone = forms.BooleanField(required=False)
    do = forms.ChoiceField(choices=[("pack", "Packed"), ("post", "Posted"), ("arrive", "Arrived")])
    box = forms.CharField(required=False, max_length=40)

    def __init__(self, *args: Any, shipment: Shipment, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = self.fields["parcel"]
        assert isinstance(chosen, forms.TypedMultipleChoiceField)
        self.ids = list(shipment.parcels.values_list("id", flat=True))
        chosen.choices = [(id_, str(id_)) for id_ in self.ids]

    def clean(self) -> dict[str, Any]:
        """The parcels that are ticked, or all of the month."""
        cleaned = super().clean() or {}
        if cleaned.get("everyone"):
            cleaned["parcel"] = self.ids
        if not cleaned.get("parcel") and not self.errors:
            raise ValidationError("Choose at least one parcel.")
        return cleaned


@dataclass(frozen=True, kw_only=True, slots=True)
class MovedRow:
    """One parcel that is asked about: both addresses, and the box to choose by."""

    parcel: Parcel
    printed: tuple[str, ...]
    now: tuple[str, ...]
    mark: str
    box: Any


class MovedForm(forms.Form):
    """To which of two addresses each of these parcels goes. Nothing is chosen beforehand."""

    def __init__(self, *args: Any, parcels: Sequence[Parcel], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.parcels = parcels
        for parcel in parcels:
            name = parcel.supporter.name
            self.fields[f"address-{parcel.id}"] = forms.ChoiceField(
                label=f"The parcel of {name}",
                choices=[
                    ("printed", "post to the printed one"),
                    ("new", "take the new one and print again"),
                ],
                widget=forms.RadioSelect,
                error_messages={"required": f"Say to which address the parcel of {name} goes."},
            )

    def rows(self) -> list[MovedRow]:
        """Every parcel with both its addresses."""
        return [
            MovedRow(
                parcel=parcel,
                printed=selectors.locked_lines(parcel),
                now=selectors.address_lines(parcel.supporter),
                mark=selectors.address_mark(parcel.supporter),
                box=self[f"address-{parcel.id}"],
            )
            for parcel in self.parcels
        ]

    def saw_all(self) -> bool:
        """Whether the page that was sent showed every address as it stands now."""
        return all(
            self.data.get(f"seen-{one.id}") == selectors.address_mark(one.supporter)
            for one in self.parcels
        )

    def answers(self) -> dict[str, Any]:
        """What was chosen, as the service asks for it."""
        said = {one.id: self.cleaned_data[f"address-{one.id}"] for one in self.parcels}
        return {
            "as_printed": {
                id_: self.data[f"seen-{id_}"] for id_, way in said.items() if way == "printed"
            },
            "taken": [one for one in self.parcels if said[one.id] == "new"],
        }


class NoteForm(forms.Form):
    """The note on a slip."""

    note = forms.CharField(
        label="Note on the slip",
        required=False,
        max_length=200,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Empty leaves lines to write by hand.",
    )


class ChoosePieceForm(forms.Form):
    """Which piece goes in, instead of which."""

    piece = forms.IntegerField(error_messages={"required": "Choose a piece."})
    instead_of = forms.IntegerField(required=False)


class WeighForm(forms.Form):
    """What a parcel weighs on the scale, and the box it goes in."""

    box = forms.CharField(
        label="Box",
        required=False,
        max_length=40,
        help_text="A box of the table, or another by name.",
        widget=forms.TextInput(attrs={"list": "boxes", "autocomplete": "off"}),
    )
    weighed_g = forms.IntegerField(
        label="Weight on the scale (g)",
        required=False,
        min_value=1,
        help_text="Packed and closed. Empty goes by what is reckoned.",
    )


class TrackingForm(forms.Form):
    """The number on the post's receipt."""

    number = forms.CharField(
        label="Tracking number",
        required=False,
        max_length=60,
        help_text="Type or paste it with or without blanks.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )


class BrokenForm(forms.Form):
    """What arrived broken, and how."""

    note = forms.CharField(
        label="What happened",
        required=False,
        max_length=200,
        help_text="Such as: handle off, box dented at one corner.",
    )


class LabelsForm(forms.Form):
    """On which labels addresses are printed, and where the first free one is."""

    sheet = forms.ChoiceField(
        label="Labels", choices=[(key, sheet.name) for key, sheet in SHEETS.items()]
    )
    start = forms.IntegerField(
        label="First free label",
        min_value=1,
        max_value=8,
        initial=1,
        required=False,
        help_text="Counted along the rows of a sheet that is begun.",
    )
