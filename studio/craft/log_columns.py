"""Which columns of a file of readings are times, and which are temperatures?

A kiln's controller, a logger and a spreadsheet each write their own header. The words of the
header are believed first; a file without a header is read as times, then temperatures. What is
plainly something else (a set point, power, a segment's number) is told apart by its word and not
read as a sensor.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

Unit = Literal["C", "F"]
MOST_SENSORS: Final = 8
_DELIMITERS: Final = ",;\t|"
_SAMPLE: Final = 60

_TIME = re.compile(
    r"\b(time|date|datetime|timestamp|stamp|clock|elapsed|hours?|hrs?|mins?|minutes?|secs?|seconds?"
    r"|zeit|uhrzeit|datum|stunden?|minuten|sekunden|heure|jour|tid|tijd|h|s|ms|hh|mm|epoch)\b"
)
_TEMPERATURE = re.compile(
    r"\b(temp(erature)?s?|temperatur|température|deg(rees)?|celsius|fahrenheit|thermocouple"
    r"|tc ?\d*|sensor ?\d*|probe ?\d*|zone ?\d*|channel ?\d*|ch ?\d+|actual|measured|pv"
    r"|process value|top|middle|bottom|kiln|chamber|average|mean)\b|°|º|(?<![a-z])[cf](?![a-z])"
)
_OTHER = re.compile(
    r"\b(set ?points?|sp|target|soll|power|output|duty|watts?|kwh?|amps?|volts?|current|segment|seg"
    r"|step|program(me)?|ambient|board|room|cold junction|cj|humidity|pressure|relay|error|alarm"
    r"|note|comment|rate|ramp|index|row|no|id)\b|%"
)
_FAHRENHEIT = re.compile(r"fahrenheit|°\s*f\b|º\s*f\b|\bdeg\w*\.?\s*f\b|(?<![a-z])f(?![a-z])")
_CELSIUS = re.compile(r"celsius|centigrade|°\s*c\b|º\s*c\b|\bdeg\w*\.?\s*c\b|(?<![a-z])c(?![a-z])")
_NUMBER = re.compile(r"\s*[-+]?\d[\d.,]*\s*(?:[°º]?\s*[CFcf])?\s*")


class BadLogFile(ValueError):
    """A file that is no file of readings; the text says why and what to do."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SensorColumn:
    """A column of temperatures: where it stands, what it is called, its unit if the header says."""

    at: int
    name: str
    unit: Unit | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Columns:
    """How a file is laid out. ``times`` are one column, or a date's and a clock's together."""

    times: tuple[int, ...]
    time_words: str
    sensors: tuple[SensorColumn, ...]
    first_reading: int
    """Index of the first row after the header."""
    decimal_comma: bool


def rows_of(data: bytes) -> tuple[list[list[str]], str]:
    """The cells of a file and what parts them.

    Raises ``BadLogFile`` for a file that is empty or no text.
    """
    text = _text(data)
    lines = [line for line in text.splitlines()[: 4 * _SAMPLE] if line.strip()][:_SAMPLE]
    if not lines:
        raise BadLogFile("The file is empty. Choose the file with the readings of the firing.")
    delimiter = _delimiter(lines)
    csv.field_size_limit(100_000)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)), delimiter
    except csv.Error as problem:
        raise BadLogFile(
            "The file cannot be read as rows of text. Save it as CSV and choose it again."
        ) from problem


def find_columns(rows: Sequence[Sequence[str]], *, delimiter: str) -> Columns:
    """Where times and temperatures stand.

    Raises ``BadLogFile`` when no row holds a time and a temperature.
    """
    first = next((i for i, row in enumerate(rows[:400]) if _looks_read(row)), None)
    if first is None:
        raise BadLogFile(
            "No row of the file holds a time and a temperature. Save the readings as CSV: a column"
            " of times and a column of temperatures, with a header."
        )
    header = _header(rows[:first], width=len(rows[first]))
    body = [row for row in rows[first : first + 10 * _SAMPLE] if any(row)]
    names = [cell.strip() for cell in header] if header else []
    times = _time_columns(names, body)
    sensors = _sensor_columns(names, body, times)
    if not sensors:
        raise BadLogFile(
            "No column of the file holds temperatures. Name it in the header, such as"
            " “Temperature °C”."
        )
    return Columns(
        times=times,
        time_words=" ".join(names[at] for at in times if at < len(names)).lower(),
        sensors=tuple(sensors[:MOST_SENSORS]),
        first_reading=first,
        decimal_comma=delimiter != "," and _has_decimal_comma(body, sensors),
    )


def _text(data: bytes) -> str:
    text = _decoded(data)
    if "\x00" in text:  # anywhere: PostgreSQL keeps none
        raise BadLogFile(
            "The file is no text. Save the readings as CSV (not as a spreadsheet) and choose that."
        )
    return text


def _decoded(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _delimiter(lines: Sequence[str]) -> str:
    """What stands equally often on most lines; a comma when nothing does."""
    best, most = ",", 0
    for mark in _DELIMITERS:
        counts = Counter(line.count(mark) for line in lines)
        counts.pop(0, None)
        if counts:
            times, agreeing = counts.most_common(1)[0]
            # A comma inside numbers parts as many lines as a semicolon: the rarer mark wins ties.
            score = agreeing * 2 + (1 if mark != "," and times else 0)
            if score > most:
                best, most = mark, score
    return best


def _is_number(cell: str) -> bool:
    return bool(_NUMBER.fullmatch(cell))


def _looks_read(row: Sequence[str]) -> bool:
    """Whether a row could hold a reading: it begins with something of digits, and has a number."""
    filled = [cell for cell in row if cell.strip()]
    if len(filled) < 2 or not any(_is_number(cell) for cell in filled):
        return False
    return sum(any(c.isdigit() for c in cell) for cell in filled) >= 2 and not any(
        _TIME.search(cell.lower()) and not any(c.isdigit() for c in cell) for cell in filled
    )


def _header(above: Sequence[Sequence[str]], *, width: int) -> Sequence[str]:
    """The last row above the readings that has words and about as many cells."""
    for row in reversed(above):
        filled = [cell for cell in row if cell.strip()]
        if len(filled) >= 2 and len(row) >= min(width, 2):
            return row
    return ()


def _time_columns(names: Sequence[str], body: Sequence[Sequence[str]]) -> tuple[int, ...]:
    worded = [
        at
        for at, name in enumerate(names)
        if (low := name.lower()) and _TIME.search(low) and not _temperature_word(low)
    ]
    worded = [at for at in worded if _filled(body, at)]
    if not worded:
        return (0,)
    dates = [at for at in worded if re.search(r"\b(date|datum|jour)\b", names[at].lower())]
    clocks = [at for at in worded if _is_clock(body, at)]
    elapsed = [at for at in worded if re.search(r"\belapsed\b", names[at].lower())]
    if elapsed:
        return (elapsed[0],)
    if dates and clocks and dates[0] != clocks[0] and not _is_clock(body, dates[0]):
        return (dates[0], clocks[0])
    return (worded[0],)


def _temperature_word(low: str) -> bool:
    return bool(re.search(r"temp|thermo|celsius|fahrenheit|°", low))


def _is_clock(body: Sequence[Sequence[str]], at: int) -> bool:
    cells = [row[at] for row in body if len(row) > at and row[at].strip()]
    return bool(cells) and sum(":" in cell for cell in cells) * 2 > len(cells)


def _filled(body: Sequence[Sequence[str]], at: int) -> bool:
    return any(len(row) > at and any(c.isdigit() for c in row[at]) for row in body)


def _sensor_columns(
    names: Sequence[str], body: Sequence[Sequence[str]], times: tuple[int, ...]
) -> list[SensorColumn]:
    width = max(len(row) for row in body)
    numeric = [at for at in range(width) if at not in times and _mostly_numbers(body, at)]
    named = {at: names[at] if at < len(names) else "" for at in numeric}
    words = {at: name.lower() for at, name in named.items()}
    # The first column of times is not the only one: a clock beside the elapsed hours is no sensor.
    sure = [
        at
        for at in numeric
        if _TEMPERATURE.search(words[at])
        and not _OTHER.search(words[at])
        and not (_TIME.search(words[at]) and not _temperature_word(words[at]))
    ]
    maybe = [at for at in numeric if not _OTHER.search(words[at]) and not _TIME.search(words[at])]
    return [
        SensorColumn(at=at, name=named[at][:40] or f"column {at + 1}", unit=_unit(words[at]))
        for at in (sure or maybe)
    ]


def _mostly_numbers(body: Sequence[Sequence[str]], at: int) -> bool:
    cells = [row[at] for row in body if len(row) > at and row[at].strip()]
    return bool(cells) and sum(map(_is_number, cells)) * 2 > len(cells)


def _unit(low: str) -> Unit | None:
    if _FAHRENHEIT.search(low):
        return "F"
    return "C" if _CELSIUS.search(low) else None


def _has_decimal_comma(body: Sequence[Sequence[str]], sensors: Sequence[SensorColumn]) -> bool:
    return any(
        re.fullmatch(r"\s*-?\d+,\d+\s*", row[sensor.at])
        for row in body
        for sensor in sensors
        if len(row) > sensor.at
    )
