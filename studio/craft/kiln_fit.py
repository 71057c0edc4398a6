"""How far is a kiln's thermocouple from what its witness cones say?

Every reading of a firing with a log is moved by the same offset until the heat work bends the
witness cone as it was found. A cone that is bending or down tells between which two offsets that
is; one still up, or flat, tells one side only.

Laws (a rejected example each):

1. A cone begins to bend when it has gathered 1/e of its heat work, is down at 1 and flat at 2: the
   chart's text gives 15 to 25 minutes from the first bend to down, which is one e-fold at 60 °C/h.
   "Flat at 2" is our own judgement, no source.
2. Fewer than three cones that tell both sides fix nothing: the offset stays 0 and an answer is
   meant to half a cone (two cones that happen to agree are no proof).
3. The offset is told with how far it may be off; what a cone's coarseness leaves open is part of
   that (three equal readings are not exact).

Source of the heat work: see ``studio.craft.heat_work``. The cones are read when all is cold, so the
cooling counts. Reduction and sulphur move cones 010 to 3 and would show as an offset.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np
import numpy.typing as npt

from studio.craft.cones import cone_named
from studio.craft.heat_work import RUNGS, BadLog, check_log, heat_work

Bend = Literal["up", "bending", "down", "flat"]
LEAST_CONES: Final = 3
MOST_OFFSET_C: Final = 100.0
_LN_WORK: Final[dict[str, tuple[float, float]]] = {
    "up": (-math.inf, -1.0),
    "bending": (-1.0, 0.0),
    "down": (0.0, math.log(2)),
    "flat": (math.log(2), math.inf),
}
_HALVINGS: Final = 18
_GRID_C: Final = 0.25
_PLACES_C: Final = (1.5, 2, 3, 4, 5, 6, 8, 10, 13, 17)
"""How far places may differ from a kiln's mean (deviation) [°C]."""
_USUAL_PLACE_C: Final = 5.0
"""As likely twice as much as half as much: our own judgement, no source."""

_Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Seen:
    """A witness cone as it was read when all was cold."""

    cone: str
    bend: Bend

    def __post_init__(self) -> None:
        cone_named(self.cone)
        if self.bend not in get_args(Bend):
            raise ValueError(f"a cone is up, bending, down or flat, not {self.bend}")


@dataclass(frozen=True, kw_only=True, slots=True)
class Fired:
    """A firing's readings, times [h] and temperatures [°C], and its witness cones."""

    times_h: tuple[float, ...]
    temps_c: tuple[float, ...]
    seen: tuple[Seen, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class OffsetFit:
    """What the witness cones of a kiln say of its thermocouple.

    ``offset_c`` [°C] is to be added to every reading, 0 until it is fixed; ``spread_c`` [°C] how
    far it may be off either way, None until then. ``cones`` tell both sides, in ``firings``.
    ``against`` counts cones still up or flat that the offset contradicts.
    """

    offset_c: float
    spread_c: float | None
    cones: int
    firings: int
    against: int


def offsets_for(fired: Fired, seen: Seen) -> tuple[float, float] | None:
    """Between which offsets [°C] the firing bends the cone as it was seen; None when no offset of
    -100 to 100 does. An open side is -inf or inf. Cones that are no rung (022, 021, halves) tell
    nothing.

    Raises ``BadLog`` as ``check_log`` does.
    """
    cone = cone_named(seen.cone)
    if cone not in RUNGS:
        return None
    check_log(fired.times_h, fired.temps_c)
    times, temps = np.asarray(fired.times_h), np.asarray(fired.temps_c)
    line = cone.bending_line()

    def ln_work(offset_c: float) -> float:
        work = float(heat_work(line, times=times, temps=temps + offset_c)[-1])
        return math.log(work) if work > 0 else -math.inf

    lowest, highest = ln_work(-MOST_OFFSET_C), ln_work(MOST_OFFSET_C)
    ends = []
    for bound in _LN_WORK[seen.bend]:
        if math.isinf(bound):
            ends.append(bound)
            continue
        if not lowest <= bound <= highest:
            return None
        low, high = -MOST_OFFSET_C, MOST_OFFSET_C
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if ln_work(middle) < bound else (low, middle)
        ends.append((low + high) / 2)
    return ends[0], ends[1]


def fit_offset(firings: Sequence[Fired]) -> OffsetFit:
    """The offset of a kiln's thermocouple from its firings with witness cones.

    Every cone bounds the offset of its own place; places differ from the kiln's mean by a logistic
    spread that is not known either. The offset is the mean of what is likely then, the spread
    holds 95 % of it. Cones still up and cones that are flat count too: without them, what is read
    would lean to the middle. Source: Bayes' rule on a grid; the prior of the places is our own.

    Raises ``BadLog`` as ``check_log`` does.
    """
    bands: list[tuple[float, float]] = []
    telling = 0
    for fired in firings:
        read = {seen: offsets_for(fired, seen) for seen in set(fired.seen)}
        found = [band for seen in fired.seen if (band := read[seen]) is not None]
        bands += found
        telling += any(_is_closed(band) for band in found)
    closed = [band for band in bands if _is_closed(band)]
    if len(closed) < LEAST_CONES:
        return OffsetFit(offset_c=0.0, spread_c=None, cones=len(closed), firings=telling, against=0)
    offset, spread = _likely(bands)
    sides = [band for band in bands if not _is_closed(band)]
    return OffsetFit(
        offset_c=offset,
        spread_c=spread,
        cones=len(closed),
        firings=telling,
        against=sum(not low - spread <= offset <= high + spread for low, high in sides),
    )


def _is_closed(band: tuple[float, float]) -> bool:
    return math.isfinite(band[0]) and math.isfinite(band[1])


def _likely(bands: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The mean of the likely offsets and how far 95 % of them lie from it [°C]."""
    offsets = np.arange(-MOST_OFFSET_C, MOST_OFFSET_C + _GRID_C, _GRID_C)
    places = np.array(_PLACES_C)[:, None]
    scale = places * math.sqrt(3) / math.pi
    ln_likely = -0.5 * (np.log(places / _USUAL_PLACE_C) / math.log(2)) ** 2 + 0 * offsets
    for low, high in bands:
        share = _below(high - offsets, scale) - _below(low - offsets, scale)
        ln_likely = ln_likely + np.log(np.maximum(share, 1e-12))
    likely = np.exp(ln_likely - ln_likely.max()).sum(axis=0)
    likely /= likely.sum()
    mean = float((offsets * likely).sum())
    summed = np.cumsum(likely)
    low_c, high_c = (float(offsets[np.searchsorted(summed, q)]) for q in (0.025, 0.975))
    return mean, max(mean - low_c, high_c - mean)


def _below(distance: _Numbers, scale: _Numbers) -> _Numbers:
    """The logistic share below a distance; 0 and 1 where it is endless."""
    with np.errstate(over="ignore"):
        share: _Numbers = 1 / (1 + np.exp(-distance / scale))
    return share


__all__ = ["BadLog", "Bend", "Fired", "OffsetFit", "Seen", "fit_offset", "offsets_for"]
