"""What does a file of readings say a firing did, and which of its rows say nothing?

A file is read as a potter finds it: any sensible header, times since the start or by a clock,
°C or °F, several sensors, gaps, rows out of order, a clock that changed, words between numbers.

Laws (a rejected example each):

1. Every row after the header is kept or named with its number in the file and the reason (a row
   that silently vanishes could be the peak).
2. Nothing is invented: a gap stays a gap and is named, and the line across it is straight.
3. What had to be guessed is told: the unit of temperatures, hours or minutes, day before month.
4. A reading that no kiln gives (an open thermocouple's 9999, one leap of 100 °C and back within
   minutes) is named and left out.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Final

import numpy as np
import numpy.typing as npt

from studio.craft.log_columns import BadLogFile, Columns, SensorColumn, Unit, find_columns, rows_of
from studio.craft.log_times import Times, read_times, settle, span_words

__all__ = ["BadLogFile", "Gap", "Named", "ReadLog", "Sensor", "Unit", "read_log"]

MOST_BYTES: Final = 20_000_000
MOST_ROWS: Final = 1_000_000
LONGEST_H: Final = 400.0
LOWEST_C, HIGHEST_C = -50.0, 1500.0
HIGHEST_KILN_C: Final = 1400.0
"""Readings over this in a file without a unit are °F: no studio's kiln is that hot in °C."""
LEAP_C, LEAP_H = 100.0, 1 / 6

_Numbers = npt.NDArray[np.float64]
_UNITED = re.compile(r"\s*([-+]?\d[\d.,]*)\s*[°º]?\s*([CFcf])?\s*")


@dataclass(frozen=True, kw_only=True, slots=True)
class Named:
    """A row of the file with what was found in it; ``kept`` when its reading stays all the same."""

    row: int
    reason: str
    kept: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Gap:
    """A stretch without readings: the row after it, when it began [h] and how long it is [h]."""

    row: int
    from_h: float
    hours: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Sensor:
    """The readings of one thermocouple: ``times_h`` [h] from the file's first, ``temps_c`` [°C]."""

    name: str
    unit: Unit
    times_h: _Numbers
    temps_c: _Numbers


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadLog:
    """What was read.

    ``rows`` is how many rows follow the header, ``kept`` how many of them gave a reading of the
    first sensor or another. ``started_at`` is the first reading's clock: in UTC when the file
    says its offset, else without a zone. ``taken_as`` says what was understood, what guessed.
    """

    sensors: tuple[Sensor, ...]
    rows: int
    kept: int
    named: tuple[Named, ...]
    gaps: tuple[Gap, ...]
    taken_as: tuple[str, ...]
    started_at: datetime | None

    @property
    def left_out(self) -> int:
        """How many rows gave no reading."""
        return self.rows - self.kept

    def sensor(self, name: str) -> Sensor:
        """The sensor of this name; the first for ''. Raises ``BadLogFile`` for another."""
        if not name:
            return self.sensors[0]
        for one in self.sensors:
            if one.name.lower() == name.strip().lower():
                return one
        names = ", ".join(f"“{one.name}”" for one in self.sensors)
        raise BadLogFile(f"The file has no sensor “{name}”. It has {names}.")


def read_log(data: bytes, *, unit: Unit | None = None, zone: tzinfo | None = None) -> ReadLog:
    """Read a file of readings.

    ``unit`` is meant where the header and the cells name none; ``zone`` is where its clock hung,
    to know when summer time began. Files up to 20 MB and a million rows.

    Raises ``BadLogFile`` with what to do.
    """
    if len(data) > MOST_BYTES:
        raise BadLogFile(
            f"The file is {len(data) / 1e6:.0f} MB; at most {MOST_BYTES // 1_000_000} MB are read."
            " Save the readings of one firing only."
        )
    cells, delimiter = rows_of(data)
    if len(cells) > MOST_ROWS:
        raise BadLogFile(f"The file has {len(cells)} rows; at most {MOST_ROWS} are read.")
    columns = find_columns(cells, delimiter=delimiter)
    body: list[list[str]] = cells[columns.first_reading :]
    while body and not any(cell.strip() for cell in body[-1]):
        body = body[:-1]
    return _Reading(columns=columns, body=body, unit=unit, zone=zone).log()


class _Reading:
    """The work of reading one file: columns to numbers, then into their order."""

    def __init__(
        self,
        *,
        columns: Columns,
        body: Sequence[Sequence[str]],
        unit: Unit | None,
        zone: tzinfo | None,
    ) -> None:
        self.columns, self.body, self.zone = columns, body, zone
        self.row0 = columns.first_reading + 1
        self.named: list[Named] = []
        self.cell_units: dict[int, Unit] = {}
        self.times = read_times(
            self._time_cells(), header=columns.time_words, decimal_comma=columns.decimal_comma
        )
        self.taken_as = [f"times taken as {self.times.words}"]
        self.raw = [self._numbers(sensor) for sensor in columns.sensors]
        self.units = [
            self._unit(sensor, values, unit)
            for sensor, values in zip(columns.sensors, self.raw, strict=True)
        ]

    def log(self) -> ReadLog:
        """Put everything in order and account for every row."""
        seconds = self.times.seconds
        temps = [
            (values - 32) / 1.8 if one == "F" else values
            for values, one in zip(self.raw, self.units, strict=True)
        ]
        for sensor, values in zip(self.columns.sensors, temps, strict=True):
            self._name_impossible(sensor, values)
        timed = np.isfinite(seconds)
        self._name_untimed(timed)
        warm = np.isfinite(np.stack(temps)).any(axis=0)
        usable = np.flatnonzero(timed & warm)
        if len(usable) < 2:
            raise BadLogFile(
                f"Of {len(self.body)} rows, {len(usable)} hold a time and a temperature; a firing"
                f" needs two or more. {self._first_reasons()}"
            )
        settled = settle(
            seconds[usable],
            _first_known(temps)[usable],
            is_wall=self.times.is_wall,
            zone=self.zone,
        )
        for i, reason in settled.named:
            self._name(int(usable[i]), reason, kept=True)
        for i, reason in settled.dropped:
            self._name(int(usable[i]), reason)
        index, moments = usable[settled.order], settled.seconds
        hours = _apart((moments - moments[0]) / 3600)
        if hours[-1] > LONGEST_H:
            raise BadLogFile(
                f"The readings span {hours[-1]:.0f} hours, more than {LONGEST_H:.0f}. Save the"
                " readings of one firing only, and look at the column of times."
            )
        sensors, kept = self._sensors(index, hours, temps)
        return ReadLog(
            sensors=sensors,
            rows=len(self.body),
            kept=int(kept.sum()),
            named=tuple(sorted(self.named, key=lambda one: (one.row, one.reason))),
            gaps=self._gaps(index, hours),
            taken_as=tuple(dict.fromkeys(self.taken_as)),
            started_at=_started(self.times, moments[0]),
        )

    def _time_cells(self) -> list[str]:
        if len(self.columns.times) == 1:
            (at,) = self.columns.times
            return [row[at] if len(row) > at else "" for row in self.body]
        at, clock = self.columns.times
        most = max(at, clock)
        return [
            f"{row[at].strip()} {row[clock].strip()}" if len(row) > most else ""
            for row in self.body
        ]

    def _numbers(self, sensor: SensorColumn) -> _Numbers:
        """A column in its own unit; NaN where there is no number, cells in the other turned."""
        at, comma = sensor.at, self.columns.decimal_comma
        out = np.full(len(self.body), np.nan)
        written: dict[int, Unit] = {}
        for i, row in enumerate(self.body):
            cell = row[at] if len(row) > at else ""
            try:
                out[i] = value = float(cell)
                if math.isnan(value):  # a logger's own word for a loose wire
                    self._name_no_number(i, sensor, cell)
            except ValueError:
                found = _slow_number(cell, comma=comma)
                if found is None:
                    self._name_no_number(i, sensor, cell)
                else:
                    out[i], unit = found
                    if unit:
                        written[i] = unit
        if written:
            own = sensor.unit or Counter(written.values()).most_common(1)[0][0]
            self.cell_units[at] = own
            for i, unit in written.items():
                if unit != own:
                    out[i] = out[i] * 1.8 + 32 if own == "F" else (out[i] - 32) / 1.8
        return out

    def _name_no_number(self, i: int, sensor: SensorColumn, cell: str) -> None:
        if not any(part.strip() for part in self.body[int(i)]):
            if sensor is self.columns.sensors[0]:
                self._name(i, "an empty row")
            return
        said = f"“{_short(cell)}” is no temperature" if cell.strip() else "no temperature"
        self._name(i, f"{sensor.name}: {said}")

    def _unit(self, sensor: SensorColumn, values: _Numbers, asked: Unit | None) -> Unit:
        if sensor.unit:
            self.taken_as.append(f"{sensor.name} in °{sensor.unit}, as its header says")
            return sensor.unit
        if cells := self.cell_units.get(sensor.at):
            self.taken_as.append(f"{sensor.name} in °{cells}, as its cells say")
            return cells
        if asked:
            self.taken_as.append(f"{sensor.name} in °{asked}, as you said")
            return asked
        known = values[np.isfinite(values) & (values < 5000)]
        # The hottest hundredth may be a loose wire; the rest tells the unit.
        high = float(np.quantile(known, 0.99)) if len(known) else 0.0
        guess: Unit = "F" if high > HIGHEST_KILN_C else "C"
        self.taken_as.append(f"{sensor.name} in °{guess}, guessed from its size")
        return guess

    def _name_impossible(self, sensor: SensorColumn, values: _Numbers) -> None:
        """Name and blank what no kiln gives, in place."""
        with np.errstate(invalid="ignore"):
            wrong = np.isinf(values) | (values < LOWEST_C) | (values > HIGHEST_C)
        for i in np.flatnonzero(wrong):
            self._name(int(i), f"{sensor.name}: {values[i]:g} °C is no temperature of a kiln")
        values[wrong] = np.nan
        known = np.flatnonzero(np.isfinite(values) & np.isfinite(self.times.seconds))
        if len(known) < 3:
            return
        v, t = values[known], self.times.seconds[known] / 3600
        rise, fall = v[1:-1] - v[:-2], v[1:-1] - v[2:]
        short = np.abs(t[2:] - t[:-2]) <= 2 * LEAP_H
        leap = (np.abs(rise) > LEAP_C) & (np.abs(fall) > LEAP_C) & (rise * fall > 0) & short
        for i in known[1:-1][leap]:
            self._name(int(i), f"{sensor.name}: {values[i]:.0f} °C leaps away and back")
            values[i] = np.nan

    def _name_untimed(self, timed: npt.NDArray[np.bool_]) -> None:
        cells = self._time_cells() if not timed.all() else []
        for i in np.flatnonzero(~timed):
            if any(part.strip() for part in self.body[int(i)]):
                said = (
                    f"“{_short(cells[int(i)])}” is no time" if cells[int(i)].strip() else "no time"
                )
                self._name(int(i), said)

    def _sensors(
        self, index: npt.NDArray[np.int64], hours: _Numbers, temps: Sequence[_Numbers]
    ) -> tuple[tuple[Sensor, ...], npt.NDArray[np.bool_]]:
        found, kept = [], np.zeros(len(self.body), dtype=bool)
        for column, unit, values in zip(self.columns.sensors, self.units, temps, strict=True):
            known = np.isfinite(values[index])
            if known.sum() < 2:
                continue
            kept[index[known]] = True
            found.append(
                Sensor(
                    name=column.name,
                    unit=unit,
                    times_h=hours[known],
                    temps_c=values[index][known],
                )
            )
        if not found:
            raise BadLogFile("No column of the file holds two temperatures with their times.")
        return tuple(found), kept

    def _gaps(self, index: npt.NDArray[np.int64], hours: _Numbers) -> tuple[Gap, ...]:
        steps = np.diff(hours)
        usual = float(np.median(steps)) if len(steps) else 0.0
        wide = np.flatnonzero(steps > max(10 * usual, 1 / 6))
        return tuple(
            Gap(
                row=self.row0 + int(index[int(i) + 1]),
                from_h=float(hours[i]),
                hours=float(steps[i]),
            )
            for i in wide
        )

    def _name(self, i: int, reason: str, *, kept: bool = False) -> None:
        self.named.append(Named(row=self.row0 + i, reason=reason, kept=kept))

    def _first_reasons(self) -> str:
        return " ".join(f"Row {one.row}: {one.reason}." for one in self.named[:3])


def _first_known(temps: Sequence[_Numbers]) -> _Numbers:
    out = temps[0].copy()
    for values in temps[1:]:
        missing = ~np.isfinite(out)
        out[missing] = values[missing]
    return out


def _apart(hours: _Numbers) -> _Numbers:
    """Spread readings of one moment evenly until the next: a clock of whole minutes tells no more.

    The answer rises strictly.
    """
    distinct, first, counts = np.unique(hours, return_index=True, return_counts=True)
    if counts.max(initial=1) == 1:
        return hours
    steps = np.diff(distinct)
    usual = float(np.median(steps)) if len(steps) else 1 / 60
    room = np.minimum(np.append(steps, usual), usual)
    place = np.arange(len(hours)) - np.repeat(first, counts)
    spread: _Numbers = hours + np.repeat(room / counts, counts) * place
    return spread


def _slow_number(cell: str, *, comma: bool) -> tuple[float, Unit | None] | None:
    """A number with its unit, or with a comma; None when it is none."""
    match = _UNITED.fullmatch(cell)
    if match is None:
        return None
    digits = match[1]
    if comma:
        digits = digits.replace(".", "").replace(",", ".")
    elif re.fullmatch(r"[-+]?\d{1,3}(,\d{3})+(\.\d+)?", digits):
        digits = digits.replace(",", "")
    try:
        value = float(digits)
    except ValueError:
        return None
    written = (match[2] or "").upper()
    return value, "F" if written == "F" else "C" if written == "C" else None


def _short(cell: str) -> str:
    plain = " ".join(cell.split())
    return plain if len(plain) <= 30 else plain[:29] + "…"


def _started(times: Times, first_s: float) -> datetime | None:
    if not times.has_date:
        return None
    try:
        moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=first_s)
    except OverflowError:  # a count that only looks like a clock
        return None
    return moment.replace(tzinfo=None) if times.is_wall else moment


def gap_words(gap: Gap) -> str:
    """'no reading for 2 h 10 min from 5.3 h on'."""
    return f"no reading for {span_words(gap.hours * 3600)} from {gap.from_h:.1f} h on"
