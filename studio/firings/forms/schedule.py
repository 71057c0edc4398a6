"""Write a schedule down, row by row, in the studio's unit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError

from studio.craft.cones import cone_choices
from studio.craft.programme import LOWEST_TARGET_C, MOST_ROWS
from studio.craft.quantities import BadQuantity, entry_rate, entry_temperature, read_rate
from studio.firings import rules
from studio.firings.models import Schedule
from studio.firings.rules import Step
from studio.web.fields import TemperatureField
from studio.web.selectors import temperature_unit

SPARE_ROWS = 3
FULL: Final = math.inf
OFF: Final = -math.inf
FIRST_ROWS = 6


WORDS: Final = {"full": FULL, "full power": FULL, "max": FULL, "off": OFF, "free": OFF}


class RateField(forms.CharField):
    """A rate [°C/h]; None when it is left empty: as fast as the kiln can. "full" and "off" say
    which way that is."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        if (word := WORDS.get(text.strip().lower())) is not None:
            return word
        try:
            return read_rate(text, unit=temperature_unit())
        except BadQuantity as problem:
            raise ValidationError(problem.sentence) from problem


class ScheduleForm(forms.Form):
    """A schedule and its rows. A row without a target counts as empty."""

    name = forms.CharField(max_length=60)
    kind = forms.ChoiceField(choices=Schedule.Kind.choices)
    cone = forms.ChoiceField(choices=cone_choices, initial="6")
    cooling = forms.ChoiceField(choices=Schedule.Cooling.choices)
    atmosphere = forms.ChoiceField(choices=Schedule.Atmosphere.choices)

    def __init__(
        self,
        *args: Any,
        schedule: Schedule | None = None,
        typed: Mapping[str, Any] | None = None,
        is_copy: bool = False,
        **kwargs: Any,
    ) -> None:
        """``is_copy``: ``schedule`` only lends its rows to a new one."""
        kwargs["initial"] = _first_values(schedule) if typed is None else dict(typed.items())
        if is_copy and typed is None:
            kwargs["initial"]["name"] = ""
        super().__init__(*args, **kwargs)
        rows = schedule.segments.count() + SPARE_ROWS if schedule else FIRST_ROWS
        if typed is not None:
            # Three more rows were asked for; what was typed stands where it stood.
            rows = sum(name.startswith("target_") for name in typed) + SPARE_ROWS
        sent = [name for name in self.data if name.startswith("target_")]
        self.row_count = min(max(rows, len(sent)), MOST_ROWS)
        for row in range(1, self.row_count + 1):
            self.fields[f"rate_{row}"] = RateField(
                required=False, max_length=20, widget=_cell(f"Rate of row {row}")
            )
            self.fields[f"target_{row}"] = TemperatureField(
                required=False, max_length=20, widget=_cell(f"Target of row {row}")
            )
            self.fields[f"hold_{row}"] = forms.IntegerField(
                required=False, widget=_cell(f"Hold of row {row}, minutes")
            )

    @property
    def rows(self) -> list[tuple[int, forms.BoundField, forms.BoundField, forms.BoundField]]:
        """The rows for the page: number, rate, target, hold."""
        return [
            (n, self[f"rate_{n}"], self[f"target_{n}"], self[f"hold_{n}"])
            for n in range(1, self.row_count + 1)
        ]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        numbers: list[int] = []
        steps: list[Step] = []
        before: float | None = None
        for row in range(1, self.row_count + 1):
            names = [f"{part}_{row}" for part in ("rate", "target", "hold")]
            if any(name in self.errors for name in names):
                self._name_the_row(row, names)
                continue
            step = self._step(row, *(values.get(name) for name in names), before_c=before)
            if step is not None:
                numbers.append(row)
                steps.append(step)
                before = step.target_c
        values["steps"] = steps
        if not self.errors:
            wrong = rules.wrong_steps(
                steps, cone=values["cone"], unit=temperature_unit(), numbers=numbers
            )
            for row, sentence in wrong:
                self.add_error(f"target_{row}" if row else None, sentence)
        return values

    def _step(
        self,
        row: int,
        rate: float | None,
        target: float | None,
        hold: int | None,
        *,
        before_c: float | None,
    ) -> Step | None:
        """The step of a row; None when it is empty or cannot be read. A hold alone stays where
        the row before it ended."""
        if target is None and rate is None and hold and before_c is not None:
            target = before_c
        if target is None:
            if rate is not None or hold:
                self.add_error(f"target_{row}", f"Row {row}: write the temperature it goes to.")
            return None
        if rate in (FULL, OFF):
            wrong = rules.wrong_way(
                word="full" if rate == FULL else "off",
                before_c=LOWEST_TARGET_C if before_c is None else before_c,
                target_c=target,
                unit=temperature_unit(),
            )
            if wrong:
                self.add_error(f"rate_{row}", f"Row {row}: {wrong}")
            rate = None
        return Step(rate_c_per_h=rate, target_c=target, hold_min=hold or 0)

    def _name_the_row(self, row: int, names: list[str]) -> None:
        for name in names:
            if name in self.errors:
                sentences = [f"Row {row}: {sentence}" for sentence in self.errors.pop(name)]
                self.errors[name] = self.error_class(sentences)

    @property
    def values(self) -> dict[str, str]:
        """The schedule's own fields."""
        names = ("name", "kind", "cone", "cooling", "atmosphere")
        return {name: self.cleaned_data[name] for name in names}


def _cell(name: str) -> forms.TextInput:
    """A narrow box in a table, named for those who hear the page."""
    return forms.TextInput(attrs={"size": 5, "inputmode": "decimal", "aria-label": name})


def _first_values(schedule: Schedule | None) -> dict[str, Any]:
    if schedule is None:
        return {}
    unit = temperature_unit()
    values: dict[str, Any] = {
        "name": schedule.name,
        "kind": schedule.kind,
        "cone": schedule.cone,
        "cooling": schedule.cooling,
        "atmosphere": schedule.atmosphere,
    }
    for row, segment in enumerate(schedule.segments.all(), start=1):
        rate = segment.rate_c_per_h
        values[f"rate_{row}"] = "" if rate is None else entry_rate(rate, unit=unit)
        values[f"target_{row}"] = entry_temperature(segment.target_c, unit=unit)
        values[f"hold_{row}"] = segment.hold_min or ""
    return values
