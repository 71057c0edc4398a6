"""How worn is a part of a kiln, and when is it to be looked at or changed?

Elements wear by heat more than by count. Two sums are made and the worse one counts: firings since
the change over a plain count, and for each firing one over the life at its cone.

Sources of the lives (start values; the studio's own replace them): 1500 at cone 04, 200 at cone 6
and 35 to 40 at cone 10 in a kiln of 2 1/2 in brick: a maker's figures as quoted by a repairer
(kilnrepair.blogspot.com, 22 Oct 2010). 150 firings of cone 04 and 6 mixed: a repairer's own record
(N. Estrick, forum post, 7 Apr 2017: 150 to 160). Cones 7 and 8 lie between and are our own
reckoning. Thermocouple: look at 50, change by 150 (from a supplier's note, 2022: about 150 firings
low, 50 at cone 6). Relays, shelves and vent: common practice, no source.

Heating that takes 15 % longer than the median of the last ten like firings is a better sign than
any count: our own judgement, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Final

from studio.craft.cones import cone_order

ELEMENT_LIVES: Final[dict[str, int]] = {"04": 1500, "6": 200, "7": 150, "8": 110, "10": 37}
COUNT_LIFE: Final = 150
WARN_PERCENT: Final = 80
LONGER_PERCENT: Final = 15
LIKE_FIRINGS: Final = 10
LEAST_LIKE: Final = 3


@dataclass(frozen=True, kw_only=True, slots=True)
class Wear:
    """The elements' wear since they were new: ``by_count`` and ``by_cone`` are shares of a life."""

    firings: int
    by_count: float
    by_cone: float

    @property
    def share(self) -> float:
        """The worse of the two."""
        return max(self.by_count, self.by_cone)

    @property
    def percent(self) -> int:
        """The worse of the two in whole percent, rounded down."""
        return math.floor(100 * self.share + 1e-9)


@dataclass(frozen=True, kw_only=True, slots=True)
class Longer:
    """Heating that took longer than before [h]: this time, and the median of the like firings."""

    hours: float
    usual_h: float
    like: int

    @property
    def percent(self) -> int:
        """How much longer."""
        return round(100 * (self.hours / self.usual_h - 1))


def life_at(cone: str, lives: Mapping[str, int]) -> float:
    """How many firings at a cone wear elements out.

    Between two cones of the table straight over the logarithm of the lives; before the first and
    after the last it is theirs. Raises ``UnknownCone``; ``ValueError`` for an empty table or lives
    under 1.
    """
    if not lives or any(life < 1 for life in lives.values()):
        raise ValueError("a life is 1 firing or more")
    known = sorted((cone_order(name), math.log(life)) for name, life in lives.items())
    here = cone_order(cone)
    for (low, low_ln), (high, high_ln) in pairwise(known):
        if low <= here <= high:
            return math.exp(low_ln + (high_ln - low_ln) * (here - low) / (high - low))
    return math.exp(known[0][1] if here < known[0][0] else known[-1][1])


def element_wear(
    cones: Iterable[str],
    *,
    lives: Mapping[str, int] = ELEMENT_LIVES,
    count_life: int = COUNT_LIFE,
) -> Wear:
    """The wear of elements by the cones they were fired to since they were new.

    Raises ``UnknownCone``; ``ValueError`` for lives under 1.
    """
    if count_life < 1:
        raise ValueError("a life is 1 firing or more")
    fired = list(cones)
    return Wear(
        firings=len(fired),
        by_count=len(fired) / count_life,
        by_cone=math.fsum(1 / life_at(cone, lives) for cone in fired),
    )


def took_longer(hours: float, before: Sequence[float]) -> Longer | None:
    """Whether heating took at least 15 % longer than the last ten like firings; None if not.

    ``before`` [h] the latest last; fewer than three say nothing.
    """
    last = list(before)[-LIKE_FIRINGS:]
    if len(last) < LEAST_LIKE:
        return None
    usual = median(last)
    if usual <= 0 or hours < usual * (1 + LONGER_PERCENT / 100) - 1e-9:
        return None
    return Longer(hours=hours, usual_h=usual, like=len(last))


@dataclass(frozen=True, kw_only=True, slots=True)
class Interval:
    """After how many firings or days a part is looked at, and after how many firings changed;
    None is never."""

    look_firings: int | None = None
    look_days: int | None = None
    change_firings: int | None = None

    def __post_init__(self) -> None:
        for value in (self.look_firings, self.look_days, self.change_firings):
            if value is not None and value < 1:
                raise ValueError("an interval is 1 or more")


@dataclass(frozen=True, kw_only=True, slots=True)
class Used:
    """How much a part was used: firings since it was changed, firings and days since it was last
    looked at or changed (days None: never recorded)."""

    since_change: int
    since_look: int
    days_since_look: int | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Due:
    """Whether a part is due: to be changed or to be looked at, now or soon.

    ``change`` and ``look`` are shares of their intervals, 1 is due, None where there is none.
    """

    change: float | None
    look: float | None

    @property
    def asks(self) -> str:
        """'change', 'look', 'soon' (to be changed), or ''."""
        if self.change is not None and self.change >= 1 - 1e-9:
            return "change"
        if self.change is not None and self.change >= WARN_PERCENT / 100 - 1e-9:
            return "soon"
        return "look" if self.look is not None and self.look >= 1 - 1e-9 else ""


def due(interval: Interval, used: Used, *, wear: Wear | None = None) -> Due:
    """How near a part is to its intervals; of elements ``wear`` counts instead of the firings."""
    change = None
    if wear is not None:
        change = wear.share
    elif interval.change_firings is not None:
        change = used.since_change / interval.change_firings
    looks = []
    if interval.look_firings is not None:
        looks.append(used.since_look / interval.look_firings)
    if interval.look_days is not None and used.days_since_look is not None:
        looks.append(used.days_since_look / interval.look_days)
    return Due(change=change, look=max(looks, default=None))
