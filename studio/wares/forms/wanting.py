"""How many of a line does somebody want by a date?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from django import forms

from studio.wares.models import Line

if TYPE_CHECKING:
    ChoiceOfLine = forms.ModelChoiceField[Line]
else:
    ChoiceOfLine = forms.ModelChoiceField


class LineField(ChoiceOfLine):
    """A line by its name, its lot and how it stands: two lots may be called the same."""

    def label_from_instance(self, obj: Line) -> str:
        """'Mug in Sky on Stoneware, lot S-2 (proven)'."""
        return f"{obj}, lot {obj.clay_lot.lot} ({obj.get_standing_display().lower()})"


class WantForm(forms.Form):
    """So many of a line, for a sale day or a month's parcels."""

    line = LineField(
        label="Line",
        queryset=Line.objects.select_related("form", "clay_lot", "coats", "schedule"),
        empty_label="Choose a line",
    )
    count = forms.IntegerField(
        label="How many good pieces",
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "min": 1}),
    )
