"""Which readings of a log must be kept so that the line through them is the log?

A log is kept as a line through some of its own readings: the turning points exactly, and of the
rest so few that no reading left out lies farther from the line than the stated error. So a
hundred thousand readings become some hundreds, and what is reckoned from the line is bounded.

Laws: every point kept is a reading; the first, the last, the highest and every turn of
``TURN_C`` or more are among them; the error answered is the true one, looked up afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

ERROR_C: Final = 1.0
MOST_POINTS: Final = 2000
TURN_C: Final = 5.0
"""A fall or a rise smaller than this is no turn, but a thermocouple's noise."""

_Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Thinned:
    """Which readings stay (indices) and how far the line misses the others at most [°C]."""

    kept: npt.NDArray[np.int64]
    error_c: float


def thin(
    times: _Numbers,
    temps: _Numbers,
    *,
    error_c: float = ERROR_C,
    most: int = MOST_POINTS,
) -> Thinned:
    """Choose the readings that stay.

    ``times`` rising, no two alike [h], ``temps`` [°C], shape (n,), n >= 2.
    When more than ``most`` would stay, the allowed error is doubled until they do not (the turns
    of a log that turns more often than that are kept all the same, being fewest then).
    Source: splitting at the farthest point, Douglas and Peucker, "Algorithms for the reduction of
    the number of points required to represent a digitized line", Cartographica 10 (1973), with the
    distance measured in °C at the same time.
    """
    turn, allowed = TURN_C, error_c
    while True:
        kept = _split(times, temps, turning_points(temps, turn_c=turn), allowed)
        if len(kept) <= most or allowed > 500:
            break
        allowed, turn = 2 * allowed, 2 * turn
    off = np.abs(np.interp(times, times[kept], temps[kept]) - temps)
    return Thinned(kept=kept, error_c=float(off.max()))


def turning_points(temps: _Numbers, *, turn_c: float = TURN_C) -> list[int]:
    """The first and the last reading, the highest, and where the line turns by ``turn_c``."""
    found = [0]
    high = low = 0
    going = 0
    values = temps.tolist()
    for i, value in enumerate(values):
        if value > values[high]:
            high = i
        if value < values[low]:
            low = i
        if going >= 0 and value <= values[high] - turn_c:
            found.append(high)
            going, low = -1, i
            high = i
        elif going <= 0 and value >= values[low] + turn_c:
            found.append(low)
            going, high = 1, i
            low = i
    return sorted({*found, int(np.argmax(temps)), len(values) - 1})


def _split(
    times: _Numbers, temps: _Numbers, forced: list[int], error_c: float
) -> npt.NDArray[np.int64]:
    kept = set(forced)
    waiting = list(pairwise(forced))
    while waiting:
        a, b = waiting.pop()
        if b - a < 2:
            continue
        span = times[b] - times[a]
        inner = slice(a + 1, b)
        share = (times[inner] - times[a]) / span if span > 0 else np.zeros(b - a - 1)
        off = np.abs(temps[a] + share * (temps[b] - temps[a]) - temps[inner])
        worst = int(off.argmax())
        if off[worst] > error_c:
            middle = a + 1 + worst
            kept.add(middle)
            waiting += [(a, middle), (middle, b)]
    return np.array(sorted(kept), dtype=np.int64)
