"""Plan a firing, load a board, say when something happened."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.firings.models import Kiln, Schedule
from studio.wares.models import ClayLot, Coats, Form

WARE_ROWS = 4


def moment_field(*, label: str, required: bool = True, help_text: str = "") -> forms.DateTimeField:
    """A day and an hour, as a phone offers them."""
    return forms.DateTimeField(
        label=label,
        required=required,
        help_text=help_text,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )


class PlanForm(forms.Form):
    """A kiln, a schedule, a first day, and perhaps what it is for."""

    kiln = forms.ModelChoiceField(queryset=Kiln.objects.all(), empty_label=None)
    schedule = forms.ModelChoiceField(queryset=Schedule.objects.all(), empty_label=None)
    start_date = forms.DateField(
        label="First day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    note = forms.CharField(required=False, max_length=500)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for row in range(1, WARE_ROWS + 1):
            self.fields[f"count_{row}"] = forms.IntegerField(
                label="How many", required=False, min_value=1, max_value=999
            )
            self.fields[f"form_{row}"] = forms.ModelChoiceField(
                label="Form", queryset=Form.objects.all(), required=False, empty_label="none"
            )
            self.fields[f"clay_{row}"] = forms.ModelChoiceField(
                label="Clay", queryset=ClayLot.objects.all(), required=False, empty_label="none"
            )
            self.fields[f"coats_{row}"] = forms.ModelChoiceField(
                label="Coats", queryset=Coats.objects.all(), required=False,
                empty_label="none (bisque)",
            )  # fmt: skip

    @property
    def rows(self) -> list[dict[str, forms.BoundField]]:
        """The rows of wares, for the page."""
        return [
            {name: self[f"{name}_{row}"] for name in ("count", "form", "clay", "coats")}
            for row in range(1, WARE_ROWS + 1)
        ]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        wares = []
        for row in range(1, WARE_ROWS + 1):
            count, form, clay = (values.get(f"{name}_{row}") for name in ("count", "form", "clay"))
            if f"count_{row}" in self.errors or not (count or form):
                continue
            if not (count and form and clay):
                self.add_error(
                    f"count_{row}", f"Row {row}: give the count, the form and the clay, or none."
                )
                continue
            wares.append((form, clay, values.get(f"coats_{row}"), count))
        values["wares"] = wares
        return values


class ShiftForm(forms.Form):
    """Another first day."""

    start_date = forms.DateField(
        label="New first day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


class NoteForm(forms.Form):
    """Whatever should be remembered of a firing."""

    text = forms.CharField(
        label="Note", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )


class LoadForm(forms.Form):
    """A board, whole or so many of it; ``seen`` is what the page showed."""

    count = forms.IntegerField(required=False, min_value=1, max_value=999)
    seen = forms.CharField(required=False, max_length=40)

    @property
    def sentence(self) -> str:
        """The first error as one sentence, for a form that has no page of its own."""
        return str(next(iter(self.errors.values()))[0]) if self.errors else ""


class WhenForm(forms.Form):
    """When did it happen? Empty is now."""

    at = moment_field(label="When", required=False, help_text="Leave empty for now.")
