"""How did a firing follow its programme: when did it reach the end of each row?

The log's hours are counted from where its heating began, so that readings of a cold kiln before
it do not shift the two curves. A row is reached at the first reading within ``NEAR_C`` of its
target, in the row's own direction; its end is so much later as it holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from studio.craft.programme import CoolingLaw, Programme, curve

NEAR_C: Final = 3.0
"""A controller is content a few degrees off; our own measure, no source."""

_Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class RowReached:
    """One row: its number and target [°C], when the programme and the log reach it [h]; None when
    the log does not."""

    row: int
    target_c: float
    planned_h: float
    logged_h: float | None

    @property
    def late_h(self) -> float | None:
        """How much later than planned [h]; negative is earlier."""
        return None if self.logged_h is None else self.logged_h - self.planned_h

    @property
    def words(self) -> str:
        """'0.4 h later', '0.2 h sooner', 'as planned' within 0.1 h, 'not reached'."""
        late = self.late_h
        if late is None:
            return "not reached"
        if abs(late) < 0.1:
            return "as planned"
        return f"{abs(late):.1f} h {'later' if late > 0 else 'sooner'}"


def heating_starts(times: Sequence[float], temps: Sequence[float]) -> float:
    """When heating began [h]: the last reading at the lowest before the peak, within 3 °C."""
    t, c = np.asarray(times), np.asarray(temps)
    peak = int(c.argmax())
    before = c[: peak + 1]
    return float(t[np.flatnonzero(before <= before.min() + 3.0)[-1]])


def rows_reached(
    programme: Programme,
    *,
    times: Sequence[float],
    temps: Sequence[float],
    law: CoolingLaw,
) -> tuple[RowReached, ...]:
    """When each row's target was reached, planned and logged.

    ``times`` [h] and ``temps`` [°C] of the log, two readings or more, joined by straight lines.
    Raises ``BadProgramme`` as ``curve`` does.
    """
    t, c = np.asarray(times), np.asarray(temps)
    t = t - heating_starts(times, temps)
    found, at_h, before_c, missed = [], 0.0, programme.start_c, False
    for number, segment in enumerate(programme.segments, 1):
        one = Programme(segments=programme.segments[:number], start_c=programme.start_c)
        planned = curve(one, law=law)[-1][0] - segment.hold_min / 60
        rising = segment.target_c >= before_c
        logged = None if missed else _crossing(t, c, segment.target_c, at_h, rising=rising)
        found.append(
            RowReached(row=number, target_c=segment.target_c, planned_h=planned, logged_h=logged)
        )
        missed = missed or logged is None
        if logged is not None:
            at_h = logged + segment.hold_min / 60 * 0.5
        before_c = segment.target_c
    return tuple(found)


def _crossing(
    t: _Numbers, c: _Numbers, target_c: float, from_h: float, *, rising: bool
) -> float | None:
    """The first moment from ``from_h`` on at which the log comes within reach of a target."""
    goal = target_c - NEAR_C if rising else target_c + NEAR_C
    met = (c >= goal) if rising else (c <= goal)
    after = np.flatnonzero(met & (t >= from_h))
    if not len(after):
        return None
    i = int(after[0])
    if i == 0 or met[i - 1]:
        return float(t[i])
    share = (goal - c[i - 1]) / (c[i] - c[i - 1])
    return max(float(t[i - 1] + share * (t[i] - t[i - 1])), from_h)
