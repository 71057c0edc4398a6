"""Does a firing's log lie in its firing's time, and if not, what may be done about it?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from studio.craft.log_parts import Heating, Points, cut, heatings
from studio.firings import rules
from studio.firings.models import Firing, FiringLog

MOST_HEATINGS = 6
MOST_OTHERS = 3


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """A part of a log that may be this firing's, in hours of the log; ``high_c`` of a heating."""

    from_h: float
    until_h: float
    high_c: float | None = None

    @property
    def begins(self) -> str:
        """Its first hour as a form holds it."""
        return f"{self.from_h:.4f}"

    @property
    def ends(self) -> str:
        """Its last hour as a form holds it."""
        return f"{self.until_h:.4f}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Outside:
    """A log that lies wholly or partly outside its firing's time, and the ways to mend it."""

    said: str
    between: Part | None
    heatings: tuple[Part, ...]
    whole: Part
    others: tuple[Firing, ...]


def points_of(log: FiringLog, *, whole: bool = False) -> list[tuple[float, float]]:
    """The readings that count, of the sensor that counts; ``whole``: with what was cut away."""
    series = next((one for one in log.series if one["name"] == log.sensor), log.series[0])
    points = [(float(h), float(c)) for h, c in series["points"]]
    return points if whole else part_of(log, points)


def part_of(log: FiringLog, points: Points) -> list[tuple[float, float]]:
    """The part of a sensor's readings that is this firing's."""
    if log.from_h is None:
        return list(points)
    return cut(points, from_h=log.from_h, until_h=log.until_h)


def learnt_points(log: FiringLog) -> list[tuple[float, float]]:
    """What a kiln learns from: nothing outside the firing's time, until a person chose."""
    points, firing = points_of(log), log.firing
    if log.from_h is not None or log.started_at is None or firing.lit_at is None:
        return points
    between = _between(log, points, firing.lit_at, firing.opened_at)
    return cut(points, from_h=between.from_h, until_h=between.until_h) if between else []


def outside(firing: Firing, log: FiringLog) -> Outside | None:
    """How a log misses its firing's time; None when it does not, or a person chose its part."""
    if firing.lit_at is None or log.from_h is not None:
        return None
    points = points_of(log, whole=True)
    last_h = points[-1][0]
    how = rules.lies_outside(
        hours=last_h, started_at=log.started_at, lit_at=firing.lit_at, opened_at=firing.opened_at
    )
    if not how:
        return None
    found = heatings(points)
    if len(found) < 2 and how != "long":
        found = ()
    return Outside(
        said=_words(how, log.started_at, last_h, firing.lit_at, firing.opened_at),
        between=None if how == "all" else _between(log, points, firing.lit_at, firing.opened_at),
        heatings=tuple(_part(one) for one in found[:MOST_HEATINGS]),
        whole=Part(from_h=0, until_h=last_h),
        others=tuple(_others(firing, log, last_h)) if how != "long" else (),
    )


def _part(found: Heating) -> Part:
    return Part(from_h=found.from_h, until_h=found.until_h, high_c=found.high_c)


def _between(
    log: FiringLog, points: Points, lit_at: datetime, opened_at: datetime | None
) -> Part | None:
    """The hours from just before the lighting to the opening, by the log's own clock."""
    if log.started_at is None:
        return None
    low = (lit_at - rules.SLACK - log.started_at).total_seconds() / 3600
    high = points[-1][0]
    if opened_at is not None:
        high = min(high, (opened_at - log.started_at).total_seconds() / 3600)
    low = max(low, points[0][0])
    return Part(from_h=low, until_h=high) if high - low >= rules.LEAST_H else None


def _words(
    how: str,
    started_at: datetime | None,
    hours: float,
    lit_at: datetime,
    opened_at: datetime | None,
) -> str:
    if started_at is None:
        assert opened_at is not None
        took = (opened_at - lit_at).total_seconds() / 3600
        return (
            f"This log runs {hours:.0f} h, and this firing took {took:.0f} h from lighting to"
            " opening. Its file has no clock that says which part is this firing's."
        )
    shut = f" and opened on {_moment(opened_at)}" if opened_at else ""
    said = (
        f"This log begins on {_moment(started_at)} and ends on"
        f" {_moment(started_at + timedelta(hours=hours))}; this firing was lit on"
        f" {_moment(lit_at)}{shut}."
    )
    if how == "all":
        return f"{said} Nothing of it lies in this firing's time. Is it the right file?"
    early = (lit_at - started_at).total_seconds() / 3600
    late = hours - (opened_at - started_at).total_seconds() / 3600 if opened_at else 0.0
    parts = [f"{early:.0f} h before the lighting"] if early > 1 else []
    parts += [f"{late:.0f} h after the opening"] if late > 1 else []
    return f"{said} It holds {' and '.join(parts)}."


def _moment(moment: datetime) -> str:
    local = timezone.localtime(moment)
    return f"{local:%a %d %b %Y} at {local:%H:%M}"


def _others(firing: Firing, log: FiringLog, last_h: float) -> list[Firing]:
    """Firings without a log in whose time this one lies, this kiln's first."""
    if log.started_at is None:
        return []
    ends_at = log.started_at + timedelta(hours=last_h)
    rows = (
        Firing.objects.filter(lit_at__gte=log.started_at - rules.SLACK, lit_at__lt=ends_at)
        .exclude(pk=firing.pk)
        .exclude(logs__is_away=False)
        .select_related("kiln", "schedule")
    )
    return sorted(rows, key=lambda one: (one.kiln_id != firing.kiln_id, one.lit_at, one.pk))[
        :MOST_OTHERS
    ]
