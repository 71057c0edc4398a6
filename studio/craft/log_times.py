"""When was each reading taken, and is its clock to be believed?

Times come as hours, minutes or seconds since the start, as a clock, or as a date with a clock.
Laws (a rejected example each):

1. Every time is read or its row is named with the reason ("soon" is no time).
2. A few rows out of place are put into their place and named; a clock that was set back goes on
   from where it stood (an hour twice at the end of summer time must not fold a firing in two).
3. A clock that jumps while the kiln stays as hot was set (a kiln at 900 °C does not keep 900 °C
   through twelve hours without a reading); otherwise a jump is a gap, and is named as one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

HOUR, DAY = 3600.0, 86400.0
OUT_OF_PLACE_ROWS: Final = 5
"""So many rows behind the clock are rows out of place; more are a clock that was set back."""
MOST_JUMPS: Final = 100
RESET_S: Final = 12 * HOUR
HOT_C, SAME_C = 100.0, 30.0

_Numbers = npt.NDArray[np.float64]
_CLOCK = re.compile(
    r"(?:(?P<days>\d+)\s*d(?:ays?)?[ ,]*)?(?P<a>\d{1,5}):(?P<b>\d{2})(?::(?P<c>\d{2}(?:[.,]\d+)?))?"
    r"\s*(?P<half>[ap]\.?m\.?)?",
    re.IGNORECASE,
)
_STAMP = re.compile(
    r"(?P<a>\d{1,4})[./-](?P<b>\d{1,2})[./-](?P<c>\d{2,4})(?:[ T,]+(?P<h>\d{1,2}):(?P<m>\d{2})"
    r"(?::(?P<s>\d{2}(?:[.,]\d+)?))?\s*(?P<half>[ap]\.?m\.?)?)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Times:
    """Seconds for every cell, NaN where there is no time; what they were taken as.

    ``is_wall``: a clock on a wall without its offset, which summer time moves. ``has_date``: the
    seconds count from 1970 in that clock's own zone.
    """

    seconds: _Numbers
    words: str
    is_wall: bool
    has_date: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Settled:
    """Readings in the order of their times [s], with what was done: (index, reason, was kept)."""

    order: npt.NDArray[np.int64]
    seconds: _Numbers
    named: tuple[tuple[int, str], ...]
    dropped: tuple[tuple[int, str], ...]


def read_times(cells: Sequence[str], *, header: str, decimal_comma: bool = False) -> Times:
    """Read a column of times; ``header`` [lower case] may say the unit."""
    sample = [cell for cell in cells if any(c.isdigit() for c in cell)][:200]
    numbers = sum(_plain(cell, decimal_comma) is not None for cell in sample)
    clocks = sum(_CLOCK.fullmatch(cell.strip()) is not None for cell in sample)
    if sample and numbers * 2 > len(sample):
        return _elapsed(cells, header, decimal_comma)
    if sample and clocks * 2 > len(sample):
        return _clocks(cells, header)
    return _stamps(cells)


def _plain(cell: str, decimal_comma: bool) -> float | None:
    try:
        return float(cell.replace(",", ".") if decimal_comma else cell)
    except ValueError:
        return None


def _elapsed(cells: Sequence[str], header: str, decimal_comma: bool) -> Times:
    found = np.array([_nan(_plain(cell, decimal_comma)) for cell in cells])
    found[~np.isfinite(found)] = np.nan
    span = float(np.nanmax(found) - np.nanmin(found)) if np.isfinite(found).any() else 0.0
    high = float(np.nanmax(found)) if np.isfinite(found).any() else 0.0
    if high > 1e11:
        return Times(seconds=found / 1000, words="milliseconds since 1970", is_wall=False,
                     has_date=True)  # fmt: skip
    if high > 1e9:
        return Times(seconds=found, words="seconds since 1970", is_wall=False, has_date=True)
    factor, words = _unit_of(header) or _by_size(span)
    return Times(seconds=found * factor, words=words, is_wall=False, has_date=False)


def _unit_of(header: str) -> tuple[float, str] | None:
    for pattern, factor, words in (
        (r"\bms\b|milli", 0.001, "milliseconds"),
        (r"\bh\b|\bhrs?\b|\bhours?\b|stunden|heure", HOUR, "hours"),
        (r"\bmins?\b|minute", 60.0, "minutes"),
        (r"\bs\b|\bsecs?\b|second|sekund", 1.0, "seconds"),
    ):
        if re.search(pattern, header):
            return factor, words
    return None


def _by_size(span: float) -> tuple[float, str]:
    """The unit of times that name none: a firing with its cooling is 1 to 100 hours."""
    if span <= 100:
        return HOUR, "hours, by their size"
    return (60.0, "minutes, by their size") if span <= 6000 else (1.0, "seconds, by their size")


def _clocks(cells: Sequence[str], header: str) -> Times:
    matches = [_CLOCK.fullmatch(cell.strip()) for cell in cells]
    firsts = [int(m["a"]) for m in matches if m and m["c"] is None]
    two = re.search(r"mm:ss|min:s", header) is not None or (bool(firsts) and max(firsts) > 72)
    found = np.array([_clock_seconds(match, minutes_first=two) for match in matches])
    is_wall = not re.search(r"elapsed|since|duration", header)
    out, turned = found.copy(), 0.0
    known = np.flatnonzero(np.isfinite(found))
    for before, now in pairwise(known):
        # Past midnight a clock begins again.
        if found[now] - found[before] < -RESET_S:
            turned += DAY
        out[now] = found[now] + turned
    words = "minutes and seconds" if two else "a clock"
    return Times(seconds=out, words=words, is_wall=is_wall, has_date=False)


def _clock_seconds(match: re.Match[str] | None, *, minutes_first: bool) -> float:
    if match is None:
        return float("nan")
    a, b = int(match["a"]), int(match["b"])
    c = float(match["c"].replace(",", ".")) if match["c"] else 0.0
    if b > 59 or c >= 60:
        return float("nan")
    if minutes_first and match["c"] is None:
        return a * 60.0 + b
    if match["half"]:
        if not 1 <= a <= 12:
            return float("nan")
        a = a % 12 + (12 if match["half"][0] in "pP" else 0)
    return int(match["days"] or 0) * DAY + a * HOUR + b * 60 + c


def _stamps(cells: Sequence[str]) -> Times:
    sample = [cell.strip() for cell in cells if cell.strip()][:2000]
    iso = sum(_iso(cell) is not None for cell in sample[:200])
    if sample and iso * 2 > min(len(sample), 200):
        found = [_iso(cell.strip()) for cell in cells]
        seconds = np.array([_nan(None if one is None else _utc(one)) for one in found])
        first = next((one for one in found if one is not None), None)
        is_wall = first is not None and first.tzinfo is None
        return Times(seconds=seconds, words="date and clock", is_wall=is_wall, has_date=True)
    matches = [_STAMP.fullmatch(cell.strip()) for cell in cells]
    day_first, words = _day_first(matches)
    days: dict[tuple[str, str, str], float] = {}
    seconds = np.array([_stamp_seconds(match, day_first, days) for match in matches])
    return Times(seconds=seconds, words=f"date and clock, {words}", is_wall=True, has_date=True)


def _iso(cell: str) -> datetime | None:
    try:
        return datetime.fromisoformat(cell)
    except ValueError:
        return None


def _utc(moment: datetime) -> float:
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def _day_first(matches: Sequence[re.Match[str] | None]) -> tuple[bool, str]:
    firsts = [int(m["a"]) for m in matches if m and len(m["a"]) < 3]
    seconds = [int(m["b"]) for m in matches if m and len(m["a"]) < 3]
    if any(value > 12 for value in firsts):
        return True, "day before month"
    if any(value > 12 for value in seconds):
        return False, "month before day"
    # What does not change over a firing is the month; when both stay, nothing depends on it.
    if len(set(seconds)) > len(set(firsts)):
        return False, "month before day"
    return True, "day before month"


def _stamp_seconds(
    match: re.Match[str] | None, day_first: bool, days: dict[tuple[str, str, str], float]
) -> float:
    if match is None:
        return float("nan")
    key = (match["a"], match["b"], match["c"])
    if key not in days:
        days[key] = _day_seconds(*key, day_first=day_first)
    hour, half = int(match["h"] or 0), match["half"]
    if half:
        hour = hour % 12 + (12 if half[0] in "pP" else 0)
    if hour > 24 or int(match["m"] or 0) > 59:
        return float("nan")
    second = float(match["s"].replace(",", ".")) if match["s"] else 0.0
    return days[key] + hour * HOUR + int(match["m"] or 0) * 60 + second


def _day_seconds(a: str, b: str, c: str, *, day_first: bool) -> float:
    if len(a) == 4:
        year, month, day = int(a), int(b), int(c)
    else:
        year = int(c) + (2000 if len(c) == 2 else 0)
        day, month = (int(a), int(b)) if day_first else (int(b), int(a))
    try:
        return (date(year, month, day) - date(1970, 1, 1)).days * DAY
    except ValueError:
        return float("nan")


def _nan(value: float | None) -> float:
    return float("nan") if value is None else value


def settle(
    seconds: _Numbers, temps: _Numbers, *, is_wall: bool = False, zone: tzinfo | None = None
) -> Settled:
    """Put readings into the order in which they were taken.

    ``seconds`` [s] and ``temps`` [°C, NaN where unknown], shape (n,). ``zone`` is where the clock
    hung, to know when summer time began. Source: this module's laws, our own.
    """
    order = np.arange(len(seconds))
    named: list[tuple[int, str]] = []
    dropped: list[tuple[int, str]] = []
    steps = np.diff(seconds)
    if len(steps) and (steps < 0).mean() > 0.9:
        order = order[::-1]
        named.append((int(order[0]), "the newest reading stood first: the rows were turned round"))
    elif (steps < 0).sum() > MOST_JUMPS:
        order = np.argsort(seconds, kind="stable")
        named.append((int(order[0]), "the rows stood in no order: sorted by their time"))
    times, order = seconds[order].copy(), order.copy()
    usual = _usual_step(times)
    times, order = _without_strays(times, order, usual, dropped)
    times, order = _set_back(times, order, usual, named)
    _set_forward(times, order, temps, usual, named, zone=zone if is_wall else None)
    return Settled(order=order, seconds=times, named=tuple(named), dropped=tuple(dropped))


def _usual_step(times: _Numbers) -> float:
    steps = np.diff(times)
    steps = steps[steps > 0]
    return float(np.median(steps)) if len(steps) else 60.0


def _without_strays(
    times: _Numbers,
    order: npt.NDArray[np.int64],
    usual: float,
    dropped: list[tuple[int, str]],
) -> tuple[_Numbers, npt.NDArray[np.int64]]:
    """Take out single rows whose time is far from both neighbours, which agree."""
    if len(times) < 3:
        return times, order
    before, here, after = times[:-2], times[1:-1], times[2:]
    far = max(RESET_S, 20 * usual)
    agree = (after >= before) & (after - before <= far)
    stray = np.flatnonzero(agree & ((here - after > far) | (before - here > far))) + 1
    dropped += [(int(order[i]), "its time is far from the rows around it") for i in stray]
    return np.delete(times, stray), np.delete(order, stray)


def _set_back(
    times: _Numbers,
    order: npt.NDArray[np.int64],
    usual: float,
    named: list[tuple[int, str]],
) -> tuple[_Numbers, npt.NDArray[np.int64]]:
    """Find where times go back: rows out of place, or a clock set back."""
    at = 1
    falls = np.flatnonzero(np.diff(times) < 0) + 1
    while len(falls := falls[falls >= at]):
        fall = int(falls[0])
        reached = times[fall - 1]
        ahead = np.flatnonzero(times[fall:] >= reached)
        run = int(ahead[0]) if len(ahead) else len(times) - fall
        # One row that ran ahead of its neighbours is itself out of place.
        if fall >= 2 and run > 1 and times[fall - 2] <= times[fall]:
            early = times[fall - 1] - times[fall - 2]
            later = np.searchsorted(times[fall : fall + 50], reached)
            if early <= 50 * usual and later <= OUT_OF_PLACE_ROWS:
                run = int(later)
        if run <= OUT_OF_PLACE_ROWS:
            low = int(np.searchsorted(times[:fall], times[fall : fall + run].min(), side="right"))
            sort = low + np.argsort(times[low : fall + run], kind="stable")
            named += [
                (int(order[i]), "out of order: put into its place by its time")
                for i in range(fall, fall + run)
            ]
            times[low : fall + run], order[low : fall + run] = times[sort], order[sort]
            at = fall + run
        else:
            back = reached - times[fall]
            named.append((int(order[fall]), f"the clock was set back {span_words(back)}: read on"))
            times[fall:] += back + usual
            at = fall + 1
        falls = np.flatnonzero(np.diff(times) < 0) + 1
    return times, order


def _set_forward(
    times: _Numbers,
    order: npt.NDArray[np.int64],
    temps: _Numbers,
    usual: float,
    named: list[tuple[int, str]],
    *,
    zone: tzinfo | None,
) -> None:
    """Close the jumps of a clock that was set forward; real gaps stay and are named elsewhere."""
    jumps = np.flatnonzero(np.diff(times) > max(45 * 60.0, 3 * usual)) + 1
    for jump in jumps:
        span = float(times[jump] - times[jump - 1])
        was, now = temps[order[jump - 1]], temps[order[jump]]
        stayed_hot = min(was, now) > HOT_C and abs(now - was) < SAME_C
        summer = _summer_begins(times[jump - 1], times[jump], zone)
        if summer and abs(span - summer) <= max(300.0, 3 * usual):
            why = f"summer time began: the clock went forward {span_words(summer)}"
        elif span >= RESET_S and stayed_hot:
            why = f"the clock was set forward {span_words(span)}, the kiln as hot still: read on"
        else:
            continue
        named.append((int(order[jump]), why))
        times[jump:] -= span - usual


def _summer_begins(before: float, after: float, zone: tzinfo | None) -> float:
    """By how many seconds a zone's clock goes forward between two readings of a wall clock."""
    if zone is None or before < DAY:
        return 0.0
    first, last = (
        datetime(1970, 1, 1, tzinfo=zone) + timedelta(seconds=float(s)) for s in (before, after)
    )
    gain = (last.utcoffset() or timedelta()) - (first.utcoffset() or timedelta())
    return max(gain.total_seconds(), 0.0)


def span_words(seconds: float) -> str:
    """'1 h', '1 h 30 min', '2 days', '40 s'."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    if minutes >= 2 * 24 * 60:
        return f"{minutes / 1440:.0f} days"
    parts = [f"{minutes // 60} h" if minutes >= 60 else "", f"{minutes % 60} min"]
    return " ".join(part for part in parts if part and not part.startswith("0 "))
