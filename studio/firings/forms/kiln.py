"""Write a kiln down: its inside, its room, how it runs each schedule."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from studio.craft.cones import cone_choices
from studio.craft.load import BadLoad, bisque_places, glaze_places
from studio.craft.quantities import nearest
from studio.firings.models import Circuit, Kiln, Schedule
from studio.web.fields import LengthField, MoneyField

ROOM_HELP = "Room for how many mugs, by your own count. Empty: a guess from the sizes."


class KilnForm(forms.Form):
    """A kiln. Sizes are typed in the studio's unit, room in mug places."""

    name = forms.CharField(max_length=40)
    sides = forms.TypedChoiceField(
        label="Inside, seen from above",
        coerce=int,
        choices=[(0, "round"), (4, "a box"), (6, "6 sides"), (8, "8 sides"), (10, "10 sides"),
                 (12, "12 sides"), (14, "14 sides"), (16, "16 sides")],
    )  # fmt: skip
    inside_width_mm = LengthField(label="Inside width", help_text="across the flats")
    inside_depth_mm = LengthField(
        label="Inside depth", required=False, help_text="front to back, for a box"
    )
    inside_height_mm = LengthField(label="Inside height")
    shelf_count = forms.IntegerField(label="Shelves", min_value=1, max_value=40, initial=4)
    top_cone = forms.ChoiceField(label="Hottest cone", choices=cone_choices, initial="8")
    fuel = forms.ChoiceField(choices=Kiln.Fuel.choices)
    power_kw = forms.DecimalField(
        label="Power, kW", required=False, min_value=0, max_value=999, decimal_places=3
    )
    circuit = forms.ModelChoiceField(
        queryset=Circuit.objects.all(), required=False, empty_label="one of its own",
        help_text="The supply it shares with other kilns.",
    )  # fmt: skip
    glaze_places = forms.DecimalField(
        label="Mug places, glaze", required=False, min_value=1, max_value=5000, decimal_places=1,
        help_text=ROOM_HELP,
    )  # fmt: skip
    bisque_places = forms.DecimalField(
        label="Mug places, bisque", required=False, min_value=1, max_value=5000, decimal_places=1,
        help_text="Bisque may touch and stack. Empty: a guess.",
    )  # fmt: skip
    takes_trials = forms.BooleanField(label="Untried lines go in here first", required=False)

    @classmethod
    def first_values(cls, kiln: Kiln) -> dict[str, Any]:
        """What the form shows of a kiln."""
        return {
            "name": kiln.name,
            "sides": kiln.sides,
            "inside_width_mm": kiln.inside_width_mm,
            "inside_depth_mm": kiln.inside_depth_mm,
            "inside_height_mm": kiln.inside_height_mm,
            "shelf_count": kiln.shelf_count,
            "top_cone": kiln.top_cone,
            "fuel": kiln.fuel,
            "power_kw": Decimal(kiln.power_w) / 1000 if kiln.power_w else None,
            "circuit": kiln.circuit_id,
            "glaze_places": Decimal(kiln.glaze_room_tenths) / 10,
            "bisque_places": Decimal(kiln.bisque_room_tenths) / 10,
            "takes_trials": kiln.takes_trials,
        }

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if self.errors:
            return values
        for name in ("inside_width_mm", "inside_height_mm", "inside_depth_mm"):
            mm = values[name]
            values[name] = None if mm is None else nearest(mm)
            if mm is not None and not 100 <= mm <= 3000:
                self.add_error(name, "The inside of a kiln is 100 to 3000 mm (4 to 118 in).")
        if values["sides"] != 4:
            values["inside_depth_mm"] = None
        elif values["inside_depth_mm"] is None:
            self.add_error("inside_depth_mm", "A box has a depth: how far from front to back?")
        if not self.errors:
            self._guess_room(values)
        return values

    def _guess_room(self, values: dict[str, Any]) -> None:
        try:
            guess = glaze_places(
                sides=values["sides"],
                inside_width_mm=values["inside_width_mm"],
                inside_height_mm=values["inside_height_mm"],
                inside_depth_mm=values["inside_depth_mm"],
            )
        except BadLoad as problem:
            self.add_error(None, str(problem))
            return
        glaze = values["glaze_places"] or Decimal(max(guess, 1))
        values["glaze_places"] = glaze
        values["bisque_places"] = values["bisque_places"] or Decimal(
            bisque_places(glaze_places=int(glaze))
        )

    @property
    def values(self) -> dict[str, Any]:
        """The kiln's own fields, metric, from what was typed."""
        typed = dict(self.cleaned_data)
        kw = typed.pop("power_kw")
        typed["power_w"] = int(kw * 1000) if kw else None
        typed["glaze_room_tenths"] = int(typed.pop("glaze_places") * 10)
        typed["bisque_room_tenths"] = int(typed.pop("bisque_places") * 10)
        return typed


class CircuitForm(forms.Form):
    """A supply and how many of its kilns may heat at once."""

    name = forms.CharField(max_length=40)
    at_once = forms.IntegerField(
        label="Kilns heating at once", min_value=1, max_value=20, initial=1,
        help_text="What your electrician says it carries.",
    )  # fmt: skip


class RunForm(forms.Form):
    """How long a kiln is busy with a schedule, and what that costs."""

    schedule = forms.ModelChoiceField(queryset=Schedule.objects.all(), empty_label=None)
    busy_days = forms.IntegerField(
        label="Busy days", min_value=1, max_value=30,
        help_text="Heating, cooling and unloading, in whole days.",
    )  # fmt: skip
    energy_kwh = forms.DecimalField(
        label="Energy, kWh", required=False, min_value=0, max_value=9999, decimal_places=3,
        help_text="From the meter, before and after one firing.",
    )  # fmt: skip
    fuel_used = forms.DecimalField(
        label="Fuel", required=False, min_value=0, max_value=99_999, decimal_places=3,
        help_text="What one firing usually uses.",
    )  # fmt: skip
    cost_pence = MoneyField(label="Cost of one firing")

    def __init__(self, *args: Any, fuel: str = "electric", unit: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["fuel_used" if fuel == "electric" or not unit else "energy_kwh"]
        if "fuel_used" in self.fields:
            self.fields["fuel_used"].label = f"{fuel.capitalize()}, {unit}"

    @property
    def fuel_thousandths(self) -> int | None:
        """The gas or wood, in thousandths of its unit, when it was given."""
        used = self.cleaned_data.get("fuel_used")
        return int(used * 1000) if used is not None else None

    @property
    def energy_wh(self) -> int | None:
        """The energy [Wh], when it was given."""
        kwh = self.cleaned_data.get("energy_kwh")
        return int(kwh * 1000) if kwh is not None else None
