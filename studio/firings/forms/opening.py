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
from studio.firings.selectors import PlaceOf, Standing
from studio.firings.services import Energy, Seen, Witness
from studio.wares.rules import FAULTS
from studio.web.fields import MoneyField, TemperatureField
from studio.web.selectors import temperature_unit

CONE_ROWS = ("top", "middle", "bottom", "", "")
"""Where the rows for witness cones start out; the last two are for guide and guard cones."""


PLACE_ROWS = 4
"""Faults that can be told by their place on the load sheet in one go."""

Fields = list[forms.BoundField]


ELECTRIC = ("meter_before_kwh", "meter_after_kwh", "energy_kwh")
"""What only an electric kiln is asked."""


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
    is_failed = forms.BooleanField(
        required=False, label="It did not reach its cone: the ware stays as it was"
    )
    failed_why = forms.CharField(
        label="What happened", required=False, max_length=rules.MOST_WHY,
        help_text="a fuse, a stuck relay, the wrong programme",
    )  # fmt: skip
    peak_c = TemperatureField(
        label="Highest temperature", required=False, help_text="as the controller showed it"
    )
    meter_before_kwh = forms.DecimalField(
        label="Meter before, kWh", required=False, min_value=0, max_value=9_999_999,
        decimal_places=3,
    )  # fmt: skip
    meter_after_kwh = forms.DecimalField(
        label="Meter after, kWh", required=False, min_value=0, max_value=9_999_999,
        decimal_places=3,
    )  # fmt: skip
    energy_kwh = forms.DecimalField(
        label="Energy used, kWh", required=False, min_value=0, max_value=9999, decimal_places=3,
        help_text="Only where the controller shows it and no meter was read.",
    )  # fmt: skip
    fuel_used = forms.DecimalField(
        label="Fuel used", required=False, min_value=0, max_value=99_999, decimal_places=3,
        help_text="By the meter, the scale or the stack: before less after.",
    )  # fmt: skip
    cost_pence = MoneyField(
        label="Cost", required=False,
        help_text="Leave empty: it is reckoned by the tariff, or as usual.",
    )  # fmt: skip
    note = forms.CharField(
        required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(
        self,
        *args: Any,
        boards: Sequence[Standing],
        cone: str,
        short: str = "",
        places: Sequence[PlaceOf] = (),
        fuel: str = "electric",
        unit: str = "",
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        for name in ELECTRIC if fuel != "electric" else ("fuel_used",):
            del self.fields[name]
        if fuel != "electric":
            self.fields["fuel_used"].label = f"{fuel.capitalize()} used, {unit or 'no unit yet'}"
        self.short = short
        self.boards = boards
        self.places = places
        for row in range(1, PLACE_ROWS + 1) if places else ():
            self.fields[f"place_{row}"] = forms.ChoiceField(
                label="Place", required=False,
                choices=[("", "choose"), *((str(one.place_id), one.words) for one in places)],
            )  # fmt: skip
            self.fields[f"seen_{row}"] = forms.ChoiceField(
                label="What was seen", required=False, choices=[("", "choose"), *FAULTS]
            )
            self.fields[f"gone_{row}"] = forms.BooleanField(label="It is lost", required=False)
        for standing in boards:
            self.fields[f"lost_{standing.board.pk}"] = forms.IntegerField(
                label=f"Lost of board {standing.board}", required=False, min_value=0
            )
            self.fields[f"cause_{standing.board.pk}"] = forms.ChoiceField(
                label=f"What happened on board {standing.board}", required=False,
                choices=[("", "choose"), *FAULTS],
            )  # fmt: skip
            self.fields[f"marked_{standing.board.pk}"] = forms.IntegerField(
                label=f"Came through with a fault, board {standing.board}",
                required=False, min_value=0,
            )  # fmt: skip
            self.fields[f"fault_{standing.board.pk}"] = forms.ChoiceField(
                label=f"Which fault on board {standing.board}", required=False,
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
    def board_rows(self) -> list[tuple[Standing, Fields, Fields]]:
        """A board of the load with its fields: what was lost, and what came through marked."""
        return [
            (
                one,
                [self[f"lost_{one.board.pk}"], self[f"cause_{one.board.pk}"]],
                [self[f"marked_{one.board.pk}"], self[f"fault_{one.board.pk}"]],
            )
            for one in self.boards
        ]

    @property
    def place_rows(self) -> list[Fields]:
        """A place of the load sheet, the fault seen there, and whether it is lost."""
        rows = range(1, PLACE_ROWS + 1) if self.places else ()
        return [[self[f"place_{n}"], self[f"seen_{n}"], self[f"gone_{n}"]] for n in rows]

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
        fired, failed = values.get("is_fired"), values.get("is_failed")
        if fired and failed:
            self.add_error("is_failed", "It either reached its cone or it did not. Tick one.")
        elif self.short and not fired and not failed:
            self.add_error(
                None,
                f"{self.short} Tick that it reached its cone, if it did, or that it did not.",
            )
        if values.get("failed_why") and not failed:
            self.add_error("is_failed", "Tick this too, if it did not reach its cone.")
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
    def seen(self) -> list[Seen]:
        """The faults by place, and on what came through board by board."""
        typed = self.cleaned_data
        by_place = [
            Seen(
                place_id=int(typed[f"place_{row}"]),
                fault=typed[f"seen_{row}"],
                is_lost=typed[f"gone_{row}"],
            )
            for row in range(1, PLACE_ROWS + 1)
            if typed.get(f"place_{row}")
        ]
        return by_place + [
            Seen(board_id=one.board.pk, count=count, fault=typed.get(f"fault_{one.board.pk}") or "")
            for one in self.boards
            if (count := typed.get(f"marked_{one.board.pk}") or 0)
        ]

    @property
    def why_failed(self) -> str | None:
        """Why the firing failed; None when it did not."""
        return self.cleaned_data["failed_why"] if self.cleaned_data["is_failed"] else None

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
    def energy(self) -> Energy:
        """What it used and cost, as far as it was written."""
        typed = self.cleaned_data
        wh = {
            name: None if typed.get(name) is None else int(typed[name] * 1000)
            for name in (*ELECTRIC, "fuel_used")
        }
        return Energy(
            used_wh=wh["energy_kwh"],
            meter_before_wh=wh["meter_before_kwh"],
            meter_after_wh=wh["meter_after_kwh"],
            fuel_thousandths=wh["fuel_used"],
            cost_pence=typed["cost_pence"],
        )
