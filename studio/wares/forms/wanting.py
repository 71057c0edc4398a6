"""How many of a line does somebody want by a date?"""

from __future__ import annotations

from django import forms

from studio.wares.models import Line


class WantForm(forms.Form):
    """So many of a line, for a sale day or a month's parcels."""

    line = forms.ModelChoiceField(
        label="Line",
        queryset=Line.objects.select_related("form", "clay_lot", "coats", "schedule"),
        empty_label="Choose a line",
    )
    count = forms.IntegerField(
        label="How many good pieces",
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "min": 1}),
    )
