"""Which cone has a firing reached, by its whole curve and not by its peak alone?

A cone bends by heat work: temperature and time together. On a steady ramp of r °C/h the chart says
at which temperature a cone is down; read the other way it says by which rate r(T) a cone would be
down exactly at T. So a cone gathers work at k(T) = dr/dT, and it is down when H, the integral of
k(T) over time, reaches 1. Between two cells of the chart T = a + b ln r, hence r(T) =
exp((T - a)/b) and k = r/b. Over a straight piece of the curve the integral is exact:

    dH = dt x (r(T2) - r(T1)) / (T2 - T1),   over a hold   dH = dt x k(T).

Laws (a rejected example each):

1. On a steady ramp the answer is the chart's own, to the cell (no fitted constant may move it).
2. More time or more heat never undoes a cone (a longer hold is never a cooler cone).
3. Two answers are given: at the end of heating, as the chart was made, and with the cooling, which
   is what a witness cone shows. One number would hide the difference.
4. Half cones (05.5, 5.5) are no rungs, or "one cone" would change its meaning; 022 and 021 have too
   few cells.
5. It is told to a tenth and meant to half a cone (``SPREAD_CONES``), until three witness cones have
   fixed the offset of a kiln's thermocouple.

Sources: the chart, see ``studio.craft.cones``; that the end point is heat work of time, temperature
and atmosphere: ASTM C24, section 5.1. The kernel and the place between two cones (by ln H) are our
own. Limits: steady clean air, 15 to 150 °C/h near the end; beyond is a continuation. Reduction and
sulphur shift cones 010 to 3. A class 2 type K thermocouple may be off by 9 °C at 1200 °C (IEC
60584-1, from memory), which is half a cone to a cone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from studio.craft.cones import CONES, BendingLine, cone_order

SPREAD_CONES: Final = 0.5
"""How far an answer may be off, either way, before a kiln's own offset is known."""
LOWEST_C: Final = -50.0
HIGHEST_C: Final = 1500.0
_SAME_C: Final = 2.0
"""Readings within this of the highest still stand at the peak."""
_FLAT_C: Final = 1e-6

_Numbers = npt.NDArray[np.float64]

RUNGS: Final = tuple(cone for cone in CONES if not cone.is_half and cone.order >= cone_order("020"))
"""The cones that an answer can name, coolest first: the whole cones from 020 to 14."""
_LINES: Final = tuple(cone.bending_line() for cone in RUNGS)


class BadLog(ValueError):
    """A curve that cannot be read; ``causes`` names the readings, one sentence each."""

    def __init__(self, *causes: str) -> None:
        self.causes = causes
        super().__init__(" ".join(causes))


@dataclass(frozen=True, kw_only=True, slots=True)
class Stand:
    """Where a curve stands among the cones.

    ``cone`` the hottest that is down (None: not even 020), ``next_cone`` the one after it (None:
    14 is down), ``part`` the way to it, 0 up to 1. ``from_memory``: a cell of grade D of one of
    the two is used.
    """

    cone: str | None
    next_cone: str | None
    part: float
    from_memory: bool

    def __str__(self) -> str:
        """'cone 6', 'cone 6 and 0.4 of the way to 7', 'below cone 020', 'cone 14 or hotter'."""
        if self.cone is None:
            return f"below cone {self.next_cone}"
        if self.next_cone is None:
            return f"cone {self.cone} or hotter"
        tenths = round(10 * self.part)
        if tenths == 10:
            return f"cone {self.next_cone}"
        if tenths == 0:
            return f"cone {self.cone}"
        return f"cone {self.cone} and 0.{tenths} of the way to {self.next_cone}"

    @property
    def rung(self) -> float | None:
        """The place among ``RUNGS`` as a number, so that two stands can be subtracted."""
        if self.cone is None:
            return None
        return [cone.name for cone in RUNGS].index(self.cone) + self.part


@dataclass(frozen=True, kw_only=True, slots=True)
class ConeReached:
    """The answer for a curve: at the end of heating, and with the cooling.

    ``peak_c`` [°C] the highest reading (with the offset), ``heated_h`` [h] when it was last held
    within 2 °C.
    """

    at_peak: Stand
    with_cooling: Stand
    peak_c: float
    heated_h: float

    @property
    def cone(self) -> str | None:
        """The hottest cone that is down when all is cold, as a witness cone shows it."""
        return self.with_cooling.cone

    def __str__(self) -> str:
        return f"{self.at_peak} at the end of heating, {self.with_cooling} with the cooling"


def cone_reached(
    *, times_h: Sequence[float], temps_c: Sequence[float], offset_c: float = 0
) -> ConeReached:
    """The cone that a firing reached, from its readings.

    ``times_h`` [h] never going back, ``temps_c`` [°C] -50 to 1500, two readings or more, joined by
    straight lines; ``offset_c`` [°C] is added to every reading (what witness cones say of this
    kiln's thermocouple). Good to about half a cone, see the module.

    Raises ``BadLog`` with every cause (the first ten). Source: see the module.
    """
    check_log(times_h, temps_c, offset_c)
    times = np.asarray(times_h, dtype=np.float64)
    temps = np.asarray(temps_c, dtype=np.float64) + offset_c
    peak_c = float(temps.max())
    heated = int(np.flatnonzero(temps >= peak_c - _SAME_C)[-1])
    work = np.stack([heat_work(line, times=times, temps=temps) for line in _LINES])
    return ConeReached(
        at_peak=_stand(work[:, heated]),
        with_cooling=_stand(work[:, -1]),
        peak_c=peak_c,
        heated_h=float(times[heated]),
    )


def heat_work(line: BendingLine, *, times: _Numbers, temps: _Numbers) -> _Numbers:
    """How far a cone is down at each reading: 0 at the first, 1 is down.

    ``times`` [h] and ``temps`` [°C], shape (n,) each -> shape (n,). Exact for straight pieces.
    Source: see the module.
    """
    spans, rises = np.diff(times), np.diff(temps)
    rates = _rates(line, temps)
    flat = np.abs(rises) < _FLAT_C
    slopes = np.diff(rates) / np.where(flat, 1.0, rises)
    held = _gathering(line, (temps[1:] + temps[:-1]) / 2)
    steps = np.where(flat, held, slopes) * spans
    return np.concatenate([[0.0], np.cumsum(steps)])


def _rates(line: BendingLine, temps: _Numbers) -> _Numbers:
    """r(T): the steady rate by which the cone would be down exactly at T [°C/h]."""
    piece = np.searchsorted(np.array(line.temps_c), temps, side="right")
    start = np.maximum(piece - 1, 0)
    slopes = np.array(line.slopes)[piece]
    rise = (temps - np.array(line.temps_c)[start]) / slopes
    rates: _Numbers = np.exp(np.array(line.ln_rates)[start] + rise)
    return rates


def _gathering(line: BendingLine, temps: _Numbers) -> _Numbers:
    """k(T) = dr/dT: the work gathered an hour [1/h]."""
    piece = np.searchsorted(np.array(line.temps_c), temps, side="right")
    gathering: _Numbers = _rates(line, temps) / np.array(line.slopes)[piece]
    return gathering


def _stand(work: _Numbers) -> Stand:
    """The place by the work of every rung: the share of ln H between the last down and the next.

    Far from the chart's rates two neighbours can cross by half a degree; a running minimum keeps
    a hotter cone from being down before a cooler one.
    """
    with np.errstate(divide="ignore"):
        ln_work = np.minimum.accumulate(np.log(work))
    down = int((ln_work >= -1e-12).sum())
    if down == 0:
        return Stand(cone=None, next_cone=RUNGS[0].name, part=0, from_memory=_leans(0))
    if down == len(RUNGS):
        return Stand(cone=RUNGS[-1].name, next_cone=None, part=0, from_memory=_leans(down - 1))
    last, after = max(float(ln_work[down - 1]), 0.0), float(ln_work[down])
    return Stand(
        cone=RUNGS[down - 1].name,
        next_cone=RUNGS[down].name,
        part=last / (last - after),
        from_memory=_leans(down - 1) or _leans(down),
    )


def _leans(rung: int) -> bool:
    return any(cell.grade == "D" for cell in RUNGS[rung].celsius_cells())


def check_log(times_h: Sequence[float], temps_c: Sequence[float], offset_c: float = 0) -> None:
    """Whether a curve can be read. Raises ``BadLog`` with every cause (the first ten)."""
    if len(times_h) != len(temps_c):
        raise BadLog(f"There are {len(times_h)} times and {len(temps_c)} temperatures.")
    if len(times_h) < 2:
        raise BadLog(f"A curve needs two readings or more, not {len(times_h)}.")
    causes = []
    if not -100 <= offset_c <= 100:
        causes.append(f"An offset is -100 to 100 °C, not {offset_c:g}.")
    before = -np.inf
    for reading, (hours, c) in enumerate(zip(times_h, temps_c, strict=True), 1):
        if not LOWEST_C <= c <= HIGHEST_C:
            causes.append(
                f"Reading {reading}: a temperature is {LOWEST_C:g} to {HIGHEST_C:g} °C, not {c:g}."
            )
        if not before <= hours < np.inf:
            causes.append(f"Reading {reading}: its time of {hours:g} h goes back or is no time.")
        else:
            before = hours
    if causes:
        raise BadLog(*causes[:10])
