"""How does this kiln cool, by its own logs?

A kiln left to itself falls by T = room + A exp(-t / tau), with one constant above the knee of
``CoolingLaw`` and a longer one below (one alone comes out 8 to 9 % too early, and one from the
first four hours 17 to 22 %: own simulation of soft brick walls, see ``studio.craft.programme``).

Laws (a rejected example each):

1. Only the time without power counts: what a programme cools slowly says nothing of the kiln.
2. A constant is fitted where the log spans enough of its part: the lower one needs a log that goes
   under 200 °C (a log that ends at 400 °C would promise the kiln hours too early).
3. The spread stays wide while there are few logs: a quarter without any, 15 % from one, from
   several what they differ by, never under 5 % (the model's own error; own judgement, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from studio.craft.programme import SPREAD_PERCENT, CoolingLaw
from studio.craft.spread import of_next

LOW_ENOUGH_C: Final = 204.0
"""400 °F: a log must go below it to tell the lower constant."""
LEAST_FALL_C: Final = 150.0
LEAST_READINGS: Final = 8
ONE_LOG_PERCENT: Final = 15
LEAST_PERCENT: Final = 5
_REHEATED_C: Final = 25.0
_GRID: Final = 200

_Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Constant:
    """A cooling constant fitted to one part of one log: ``tau_h`` [h], and how far the fitted
    curve misses the readings (root mean square) [°C]."""

    tau_h: float
    miss_c: float


@dataclass(frozen=True, kw_only=True, slots=True)
class CoolingFit:
    """A kiln's own law: fitted from so many logs above and below the knee, good to
    ``spread_percent`` either way."""

    law: CoolingLaw
    logs_above: int
    logs_below: int
    spread_percent: int


def free_part(
    times: _Numbers, temps: _Numbers, *, end_c: float | None = None
) -> tuple[_Numbers, _Numbers]:
    """The part of a log where the kiln was left to itself.

    ``times`` [h], ``temps`` [°C], shape (n,). ``end_c`` is where its programme ends [°C]: what
    lies above it on the way down was led. Cut where the kiln was heated again.
    """
    after = int(np.flatnonzero(temps >= temps.max() - 2)[-1])
    if end_c is not None and end_c < temps.max() - 10:
        below = np.flatnonzero(temps[after:] < end_c - 2)
        if not len(below):
            return times[:0], temps[:0]
        after += int(below[0])
    t, c = times[after:], temps[after:]
    heated = np.flatnonzero(c > np.minimum.accumulate(c) + _REHEATED_C)
    if len(heated):
        t, c = t[: heated[0]], c[: heated[0]]
    return t, c


def fit_constant(times: _Numbers, temps: _Numbers, *, room_c: float) -> Constant | None:
    """One constant of one stretch of free cooling; None when the stretch tells too little.

    ``times`` [h] and ``temps`` [°C], shape (n,). Least squares in degrees over times evenly
    spaced (Gauss and Newton from the straight line through the logarithms).
    """
    if len(times) < LEAST_READINGS or temps[0] - temps[-1] < LEAST_FALL_C:
        return None
    t = np.linspace(0.0, float(times[-1] - times[0]), _GRID)
    above = np.interp(t, times - times[0], temps) - room_c
    if above.min() < 1:
        t, above = t[above >= 1], above[above >= 1]
    slope, _ = np.polyfit(t, np.log(above), 1)
    start, speed = float(above[0]), float(-slope)
    if not 0.005 < speed < 20:
        return None
    for _ in range(30):
        falling = np.exp(-speed * t)
        sides = np.stack([falling, -start * t * falling], axis=1)
        step, *_ = np.linalg.lstsq(sides, above - start * falling, rcond=None)
        start, speed = start + float(step[0]), speed + float(step[1])
        if not 0.005 < speed < 20:
            return None
        if abs(step[1]) < 1e-9 * speed:
            break
    miss = above - start * np.exp(-speed * t)
    return Constant(tau_h=1 / speed, miss_c=float(np.sqrt((miss**2).mean())))


def constants_of(
    times: _Numbers, temps: _Numbers, *, room_c: float, knee_c: float
) -> tuple[Constant | None, Constant | None]:
    """The constants above and below the knee that one log's free part tells."""
    high, low = temps >= knee_c, temps < knee_c
    above = fit_constant(times[high], temps[high], room_c=room_c) if high.sum() > 2 else None
    below = None
    if low.any() and temps.min() <= LOW_ENOUGH_C:
        below = fit_constant(times[low], temps[low], room_c=room_c)
    return above, below


def fit_cooling(
    found: Sequence[tuple[Constant | None, Constant | None]], *, default: CoolingLaw
) -> CoolingFit:
    """A kiln's law from the constants of its logs (above, below); the default where none speaks.

    A side that no log tells keeps the proportion that the default has between its two.
    """
    above = [one.tau_h for one, _ in found if one is not None]
    below = [one.tau_h for _, one in found if one is not None]
    above_h, below_h = default.above_h, default.below_h
    if above:
        above_h = sum(above) / len(above)
    if below:
        below_h = sum(below) / len(below)
    if above and not below:
        below_h = above_h * default.below_h / default.above_h
    if below and not above:
        above_h = below_h * default.above_h / default.below_h
    law = CoolingLaw(above_h=_held(above_h), below_h=_held(below_h), knee_c=default.knee_c)
    return CoolingFit(
        law=law,
        logs_above=len(above),
        logs_below=len(below),
        # Most of the wait is below the knee, so its logs decide how sure the hours are.
        spread_percent=spread_percent(below),
    )


def spread_percent(constants_h: Sequence[float]) -> int:
    """How far the next cooling may be off, either way [%]; law 3."""
    if not constants_h:
        return SPREAD_PERCENT
    if len(constants_h) == 1:
        return ONE_LOG_PERCENT
    mean, spread = of_next(constants_h)
    return max(LEAST_PERCENT, min(SPREAD_PERCENT, round(100 * spread / mean)))


def _held(tau_h: float) -> float:
    return min(max(tau_h, 0.1), 100.0)
