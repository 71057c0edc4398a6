"""How do two or three schedules differ, in one picture and in a table?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Final

from studio.craft import programme as craft
from studio.drawing.curve import Curve
from studio.firings.models import Kiln, Schedule
from studio.firings.selectors.heat import (
    Hours,
    StepRow,
    cooling_law,
    hours_of,
    programme_of,
    steps_of,
)
from studio.web.fields import row_number
from studio.web.selectors import temperature_unit

LEAST, MOST = 2, 3
ASK_MORE: Final = "Tick two or three schedules to compare them."


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """One schedule of the table."""

    schedule: Schedule
    steps: list[StepRow]
    peak_c: float | None
    heating_h: float | None
    hours: Hours | None
    pattern: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Comparison:
    """Schedules side by side, cooling as one kiln does."""

    kiln: Kiln | None
    columns: tuple[Column, ...]
    curve: Curve | None

    @property
    def rows(self) -> list[tuple[int, tuple[StepRow | None, ...]]]:
        """Row by row: its number and the step of each schedule, None where it has ended."""
        lists = [column.steps for column in self.columns]
        return list(enumerate(zip_longest(*lists), 1))


def chosen_schedules(asked: Sequence[str]) -> tuple[list[Schedule], str]:
    """The schedules that an address names, in its order, and why they cannot be compared."""
    numbers = (row_number(one) for one in asked)
    keys = list(dict.fromkeys(number for number in numbers if number is not None))
    found = Schedule.objects.prefetch_related("segments").in_bulk(keys)
    schedules = [found[key] for key in keys if key in found]
    return schedules, "" if LEAST <= len(schedules) <= MOST else ASK_MORE


def compare(schedules: Sequence[Schedule], *, kiln: Kiln | None) -> Comparison:
    """Two or three schedules in one kiln; without one, cooling by the usual law."""
    columns, named = [], []
    law = cooling_law(kiln) if kiln is not None else craft.THICK_KILN
    for pattern, schedule in enumerate(schedules, 1):
        programme = programme_of(schedule)
        heating = None
        if programme is not None:
            try:
                heating = craft.heating_h(programme)
                named.append((schedule.name, craft.whole_curve(programme, law=law)))
            except craft.BadProgramme:
                programme = None
        columns.append(
            Column(
                schedule=schedule,
                steps=steps_of(schedule),
                peak_c=programme.peak_c if programme else None,
                heating_h=heating,
                hours=hours_of(kiln=kiln, schedule=schedule) if kiln is not None else None,
                pattern=pattern,
            )
        )
    picture = None
    if len(named) >= LEAST:
        picture = Curve.compared(named, unit=temperature_unit(), title="Schedules compared")
    return Comparison(kiln=kiln, columns=tuple(columns), curve=picture)
