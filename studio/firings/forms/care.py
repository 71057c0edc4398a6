"""What was done to a kiln, and when is each part of it due?"""

from __future__ import annotations

from typing import Any

from django import forms

from studio.craft.cones import cone_choices
from studio.craft.wear import Interval
from studio.firings.models import Care, Part
from studio.firings.rules.care import MOST, parts_of

LIFE_ROWS = 6
TITLES = (
    ("look_firings", "Look after, firings"),
    ("look_days", "Look after, days"),
    ("change_firings", "Change after, firings"),
)


class CareForm(forms.Form):
    """A part was changed or looked at on a day."""

    part = forms.ChoiceField(label="What", choices=Part.choices)
    did = forms.ChoiceField(
        label="It was", choices=[(Care.Did.LOOKED, "looked at"), (Care.Did.CHANGED, "changed")]
    )
    on_date = forms.DateField(label="On", widget=forms.DateInput(attrs={"type": "date"}))
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, fuel: str = "electric", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"] = forms.ChoiceField(
            label="What", choices=[(part, Part(part).label) for part in parts_of(fuel)]
        )


class CareRulesForm(forms.Form):
    """Intervals by part and lives by cone; an empty box is never."""

    def __init__(
        self,
        *args: Any,
        intervals: dict[str, Interval],
        lives: dict[str, int],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        for part in Part.values:
            for name, title in TITLES:
                self.fields[f"{name}_{part}"] = _count(
                    getattr(intervals[part], name), f"{Part(part).label}: {title}"
                )
        known = list(lives.items())
        for row in range(LIFE_ROWS):
            cone, life = known[row] if row < len(known) else ("", None)
            self.fields[f"cone_{row}"] = forms.ChoiceField(
                choices=[("", "none"), *cone_choices()],
                required=False,
                initial=cone,
                widget=forms.Select(attrs={"aria-label": f"Cone of life {row + 1}"}),
            )
            self.fields[f"life_{row}"] = _count(life, f"Firings of life {row + 1}")

    @property
    def part_rows(self) -> list[tuple[str, list[forms.BoundField]]]:
        """By part: its name and its three boxes."""
        return [
            (str(Part(part).label), [self[f"{name}_{part}"] for name, _ in TITLES])
            for part in Part.values
        ]

    @property
    def life_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """The boxes of a cone and its life."""
        return [(self[f"cone_{row}"], self[f"life_{row}"]) for row in range(LIFE_ROWS)]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        seen: set[str] = set()
        for row in range(LIFE_ROWS):
            cone, life = values.get(f"cone_{row}"), values.get(f"life_{row}")
            if cone and life is None and f"life_{row}" not in self.errors:
                self.add_error(f"life_{row}", f"Row {row + 1}: write how many firings.")
            if life is not None and not cone:
                self.add_error(f"cone_{row}", f"Row {row + 1}: choose the cone.")
            if cone and cone in seen:
                self.add_error(f"cone_{row}", f"Row {row + 1}: cone {cone} stands above already.")
            seen.add(cone or "")
        return values

    @property
    def intervals(self) -> dict[str, Interval]:
        """What was typed, by part."""
        return {
            part: Interval(**{name: self.cleaned_data[f"{name}_{part}"] for name, _ in TITLES})
            for part in Part.values
        }

    @property
    def lives(self) -> dict[str, int]:
        """What was typed, by cone."""
        rows = (
            (self.cleaned_data[f"cone_{row}"], self.cleaned_data[f"life_{row}"])
            for row in range(LIFE_ROWS)
        )
        return {cone: life for cone, life in rows if cone and life}


def _count(initial: int | None, name: str) -> forms.IntegerField:
    return forms.IntegerField(
        required=False,
        min_value=1,
        max_value=MOST,
        initial=initial,
        error_messages={
            "min_value": f"{name}: write 1 to {MOST}, or leave it empty.",
            "max_value": f"{name}: write 1 to {MOST}, or leave it empty.",
            "invalid": f"{name}: write a whole number, or leave it empty.",
        },
        widget=forms.TextInput(attrs={"size": 4, "inputmode": "numeric", "aria-label": name}),
    )
