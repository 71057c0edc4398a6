"""Which part of a long log is one firing's, and what is left of it when the rest is cut away?

A logger that nobody stops runs on: its file holds days of a cold kiln, or two firings. A heating is
where the kiln is over ``HOT_C``; its part begins where the heating begins and ends at the coldest
reading before the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from studio.craft.compared import heating_starts

HOT_C: Final = 250.0
"""Under the lowest cone, over what a kiln falls to before it is opened; our own measure."""

Points = Sequence[tuple[float, float]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Heating:
    """One heating of a log and its cooling: hours of the log [h], the highest reading [°C]."""

    from_h: float
    until_h: float
    high_c: float


def heatings(points: Points) -> tuple[Heating, ...]:
    """The heatings of a log, in order; none when it never is over ``HOT_C``.

    ``points``: hours [h] in order and readings [°C], two or more.
    """
    hours, temps = (np.asarray(column, dtype=np.float64) for column in zip(*points, strict=True))
    hot = np.flatnonzero(temps >= HOT_C)
    if not len(hot):
        return ()
    breaks = np.flatnonzero(np.diff(hot) > 1)
    firsts, lasts = hot[np.r_[0, breaks + 1]], hot[np.r_[breaks, len(hot) - 1]]
    found, begin = [], 0
    for i, (first, last) in enumerate(zip(firsts, lasts, strict=True)):
        end = len(temps) - 1
        if i + 1 < len(firsts):
            between = temps[last : firsts[i + 1]]
            end = int(last + np.flatnonzero(between <= between.min())[0])
        part = slice(begin, last + 1)
        found.append(
            Heating(
                from_h=heating_starts(list(hours[part]), list(temps[part])),
                until_h=float(hours[end]),
                high_c=float(temps[first : last + 1].max()),
            )
        )
        begin = end
    return tuple(found)


def cut(
    points: Points, *, from_h: float | None, until_h: float | None
) -> list[tuple[float, float]]:
    """A log between two of its hours, with a reading of its line at each cut; None is no cut.

    Hours stay those of the log. Fewer than two points are left when nothing lies between.
    """
    hours, temps = (np.asarray(column, dtype=np.float64) for column in zip(*points, strict=True))
    low = float(hours[0]) if from_h is None else max(from_h, float(hours[0]))
    high = float(hours[-1]) if until_h is None else min(until_h, float(hours[-1]))
    if high <= low:
        return []
    inside = [(float(h), float(c)) for h, c in points if low < h < high]
    ends = np.interp([low, high], hours, temps)
    return [(low, float(ends[0])), *inside, (high, float(ends[1]))]
