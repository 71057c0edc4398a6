"""Open a kiln: what the lid showed, what was lost of each board, how the cones stood."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from studio.craft.cones import cone_choices
from studio.craft.quantities import nearest, show_temperature
from studio.firings import rules
from studio.firings.forms.firing import moment_field
from studio.firings.models import WitnessCone
from studio.firings.selectors import Standing
from studio.firings.services import Witness
from studio.wares.rules import FAULTS
from studio.web.fields import MoneyField, TemperatureField
from studio.web.selectors import temperature_unit

CONE_ROWS = ("top", "middle", "bottom", "", "")
"""Where the rows for witness cones start out; the last two are for guide and guard cones."""


class OpenForm(forms.Form):
    """All of it may be left empty: then all came through, now."""

    opened_at = moment_field(label="Opened", required=False, help_text="Leave empty for now.")
    opened_c = TemperatureField(
        label="Temperature inside", required=False, help_text="when the lid was lifted"
    )
    hot_anyway = forms.BooleanField(
        required=False, label="It is open already, or I accept the risk"
    )
    is_cool = forms.BooleanField(
        required=False,
        label="I have read the cautions; it is cool enough by the kiln's own reading",
    )
    is_fired = forms.BooleanField(required=False, label="It reached its cone all the same")
    peak_c = TemperatureField(
        label="Highest temperature", required=False, help_text="as the controller showed it"
    )
    energy_kwh = forms.DecimalField(
        label="Energy used, kWh", required=False, min_value=0, max_value=9999, decimal_places=3,
        help_text="The meter now less the meter before.",
    )  # fmt: skip
    cost_pence = MoneyField(
        label="Cost", required=False, help_text="Leave empty for the kiln's usual cost."
    )
    note = forms.CharField(
        required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(
        self, *args: Any, boards: Sequence[Standing], cone: str, short: str = "", **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.short = short
        self.boards = boards
        for standing in boards:
            self.fields[f"lost_{standing.board.pk}"] = forms.IntegerField(
                label=f"Lost of board {standing.board}", required=False, min_value=0
            )
            self.fields[f"cause_{standing.board.pk}"] = forms.ChoiceField(
                label=f"What happened on board {standing.board}", required=False,
                choices=[("", "choose"), *FAULTS],
            )  # fmt: skip
        for row, where in enumerate(CONE_ROWS, start=1):
            shelf, cones, bends = (
                forms.Select(attrs={"aria-label": f"{what} of cone {row}"})
                for what in ("Shelf", "Number", "Bend")
            )
            self.fields[f"where_{row}"] = forms.ChoiceField(
                choices=[("", "shelf"), *WitnessCone.Where.choices],
                required=False, initial=where, widget=shelf,
            )  # fmt: skip
            self.fields[f"cone_{row}"] = forms.ChoiceField(
                choices=cone_choices, required=False, initial=cone, widget=cones
            )
            self.fields[f"bend_{row}"] = forms.ChoiceField(
                choices=[("", "not read"), *WitnessCone.Bend.choices], required=False, widget=bends
            )

    @property
    def board_rows(self) -> list[tuple[Standing, forms.BoundField, forms.BoundField]]:
        """A board of the load with its two fields."""
        return [
            (one, self[f"lost_{one.board.pk}"], self[f"cause_{one.board.pk}"])
            for one in self.boards
        ]

    @property
    def cone_rows(self) -> list[tuple[forms.BoundField, forms.BoundField, forms.BoundField]]:
        """Shelf, cone and bend of each witness cone."""
        rows = range(1, len(CONE_ROWS) + 1)
        return [(self[f"where_{n}"], self[f"cone_{n}"], self[f"bend_{n}"]) for n in rows]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        for name in ("opened_c", "peak_c"):
            c = values.get(name)
            if c is not None and c < 0:
                self.add_error(name, "A kiln at work is not below freezing.")
            elif c is not None:
                values[name] = nearest(c)
        c = values.get("opened_c")
        if c is not None and c >= 0 and not values.get("hot_anyway"):
            shown = show_temperature(c, unit=temperature_unit())
            if caution := rules.hot_to_open(opened_c=c, shown=shown):
                self.add_error("hot_anyway", f"{caution} Tick this if it is open already.")
        if self.short and not values.get("is_fired"):
            self.add_error(None, f"{self.short} Tick that it reached its cone, if it did.")
        self._clean_cones(values)
        return values

    def _clean_cones(self, values: dict[str, Any]) -> None:
        seen: set[tuple[str, str]] = set()
        for row in range(1, len(CONE_ROWS) + 1):
            bend, where, cone = (values.get(f"{name}_{row}") for name in ("bend", "where", "cone"))
            if not bend:
                continue
            if not where or not cone:
                self.add_error(f"where_{row}", f"Cone row {row}: say on which shelf it stood.")
            elif (cone, where) in seen:
                self.add_error(
                    f"cone_{row}", f"Cone row {row}: cone {cone} {where} is there twice."
                )
            seen.add((str(cone), str(where)))

    @property
    def lost(self) -> dict[int, tuple[int, str]]:
        """Board id -> how many were lost and why."""
        typed = self.cleaned_data
        counts = {one.board.pk: typed.get(f"lost_{one.board.pk}") or 0 for one in self.boards}
        return {
            board: (count, typed.get(f"cause_{board}") or "")
            for board, count in counts.items()
            if count
        }

    @property
    def witness(self) -> list[Witness]:
        """The cones that were read."""
        typed = self.cleaned_data
        return [
            Witness(
                cone=typed[f"cone_{row}"], where=typed[f"where_{row}"], bend=typed[f"bend_{row}"]
            )
            for row in range(1, len(CONE_ROWS) + 1)
            if typed[f"bend_{row}"]
        ]

    @property
    def energy_wh(self) -> int | None:
        """The energy [Wh], when it was given."""
        kwh = self.cleaned_data["energy_kwh"]
        return int(kwh * 1000) if kwh is not None else None
