"""What does a firing's log say, how did it follow its programme, what does it tell of the kiln?"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

import numpy as np
from django.utils import timezone

from studio.craft import programme as craft
from studio.craft.compared import RowReached, heating_starts, rows_reached
from studio.craft.cooling import Constant, CoolingFit, constants_of, fit_cooling, free_part
from studio.craft.heat_work import ConeReached, cone_reached
from studio.craft.kiln_fit import Fired, OffsetFit, Seen, fit_offset
from studio.craft.wear import LIKE_FIRINGS, Longer, took_longer
from studio.drawing.curve import Curve
from studio.firings import rules
from studio.firings.models import Firing, FiringLog, Kiln
from studio.firings.selectors.heat import cooling_law, default_law, own_fit, programme_of
from studio.firings.selectors.log_time import learnt_points, part_of, points_of
from studio.web.selectors import temperature_unit

ROOM_C: Final = 20.0
"""The kiln room, common practice, no source: nobody writes it down, and 5 °C matter little."""
FIT_FIRINGS: Final = 20
"""So many of the latest firings with a log tell what is a kiln's own."""

Points = list[tuple[float, float]]


@dataclass(frozen=True, kw_only=True, slots=True)
class SensorLog:
    """One thermocouple of a log, and the cone by it."""

    name: str
    points: Points
    error_c: float
    reached: ConeReached

    @property
    def error(self) -> str:
        """How far the kept line misses a reading at most, in the studio's unit."""
        return degrees(self.error_c, digits=1)

    @property
    def high_c(self) -> float:
        """The highest reading, without the kiln's offset."""
        return max(c for _, c in self.points)


@dataclass(frozen=True, kw_only=True, slots=True)
class LogView:
    """A firing's log as its page shows it.

    ``at_peak`` and ``with_cooling`` are told between two ends when the kiln's offset has a spread;
    ``offset_c`` was added to every reading.
    """

    log: FiringLog
    sensors: tuple[SensorLog, ...]
    main: SensorLog
    offset_c: float
    spread: str
    curve: Curve | None
    rows: tuple[RowReached, ...]
    longer: Longer | None
    named: tuple[tuple[int, str, bool], ...]
    gaps: tuple[tuple[int, float, float], ...]

    @property
    def offset(self) -> str:
        """The kiln's own offset in the studio's unit; '' when none is fixed."""
        return degrees(self.offset_c, signed=True) if self.offset_c else ""

    @property
    def reached(self) -> ConeReached:
        """The cone by the sensor that counts."""
        return self.main.reached


def cone_of(firing: Firing, log: FiringLog) -> ConeReached:
    """The cone by the sensor that counts, with the kiln's own offset."""
    return _reached(points_of(log), own_offset_c(firing.kiln))


def own_offset_c(kiln: Kiln) -> float:
    """What is added to a kiln's readings [°C]: 0 until its witness cones have fixed it."""
    fit = own_fit(kiln)
    return fit.offset_c if fit is not None and fit.offset_spread_c is not None else 0.0


def degrees(step_c: float, *, signed: bool = False, digits: int = 0) -> str:
    """A difference of temperatures in the studio's unit: '12 °C', '+22 °F'."""
    unit = temperature_unit()
    step = step_c if unit == "C" else step_c * 1.8
    return f"{step:{'+' if signed else ''}.{digits}f} °{unit}"


def offset_words(kiln: Kiln) -> str:
    """What is known of a kiln's thermocouple, in a sentence."""
    fit = own_fit(kiln)
    if fit is None or fit.offset_spread_c is None:
        read = fit.cones if fit is not None else 0
        return f"not fixed: {read} of 3 witness cones read beside a log; meant to half a cone"
    way = "low" if fit.offset_c > 0 else "high"
    return (
        f"reads {degrees(abs(fit.offset_c))} {way}, give or take {degrees(fit.offset_spread_c)},"
        f" by {fit.cones} witness cones of {fit.cone_firings} firings"
    )


def log_of(firing: Firing) -> FiringLog | None:
    """The log of a firing; None when it has none."""
    return firing.logs.filter(is_away=False).first()


def log_view(firing: Firing, log: FiringLog) -> LogView:
    """A firing's log with its cones, its curve over the programme, and how it followed it."""
    fit = own_fit(firing.kiln)
    offset = own_offset_c(firing.kiln)
    sensors = tuple(_sensor(one, log, offset) for one in log.series)
    main = next((one for one in sensors if one.name == log.sensor), sensors[0])
    programme = programme_of(firing.schedule)
    law = cooling_law(firing.kiln)
    return LogView(
        log=log,
        sensors=sensors,
        main=main,
        offset_c=offset,
        spread=_spread(main.points, offset, fit.offset_spread_c if fit is not None else None),
        curve=_curve(firing, programme, main, law),
        rows=_rows(programme, main, law),
        longer=longer_heating(firing, log),
        named=tuple((row, reason, kept) for row, reason, kept in log.named),
        gaps=tuple((row, start, hours) for row, start, hours in log.gaps),
    )


def _sensor(series: dict[str, Any], log: FiringLog, offset_c: float) -> SensorLog:
    points = part_of(log, [(float(h), float(c)) for h, c in series["points"]])
    return SensorLog(
        name=series["name"],
        points=points,
        error_c=series["error_c"],
        reached=_reached(points, offset_c),
    )


def _reached(points: Points, offset_c: float) -> ConeReached:
    hours, temps = zip(*points, strict=True)
    return cone_reached(times_h=hours, temps_c=temps, offset_c=offset_c)


def _spread(points: Points, offset_c: float, spread_c: float | None) -> str:
    """How far the cone may be off, in words."""
    if spread_c is None:
        return (
            "Meant to half a cone either way: fewer than three witness cones of this kiln, read"
            " beside a log, have fixed how far its thermocouple is off."
        )
    low, high = (_reached(points, offset_c + way).with_cooling for way in (-spread_c, spread_c))
    return f"With the cooling from {low} to {high}, as far as this kiln's witness cones tell."


def _curve(
    firing: Firing,
    programme: craft.Programme | None,
    main: SensorLog,
    law: craft.CoolingLaw,
) -> Curve | None:
    start = heating_starts(*zip(*main.points, strict=True))
    measured = [(h - start, c) for h, c in main.points if h >= start]
    title = f"{firing}: planned and logged"
    if programme is None:
        return Curve.of(measured, unit=temperature_unit(), title=title)
    try:
        points = list(craft.curve(programme, law=law))
    except craft.BadProgramme:
        return Curve.of(measured, unit=temperature_unit(), title=title)
    return Curve.of(points, unit=temperature_unit(), title=title, measured=measured)


def _rows(
    programme: craft.Programme | None, main: SensorLog, law: craft.CoolingLaw
) -> tuple[RowReached, ...]:
    if programme is None:
        return ()
    hours, temps = zip(*main.points, strict=True)
    try:
        return rows_reached(programme, times=hours, temps=temps, law=law)
    except craft.BadProgramme:
        return ()


def longer_heating(firing: Firing, log: FiringLog) -> Longer | None:
    """Whether heating took longer than in the last ten firings of this kiln and schedule."""
    if firing.lit_at is None:
        return None
    before = FiringLog.objects.filter(
        is_away=False,
        firing__kiln=firing.kiln_id,
        firing__schedule=firing.schedule_id,
        firing__lit_at__lt=firing.lit_at,
    ).order_by("-firing__lit_at")
    hours = list(before.values_list("heated_h", flat=True)[:LIKE_FIRINGS])
    return took_longer(log.heated_h, hours[::-1])


@dataclass(frozen=True, kw_only=True, slots=True)
class LongerNow:
    """A kiln's last logged firing, whose heating took longer than before."""

    firing_id: int
    longer: Longer


def longer_now(kilns: Iterable[Kiln]) -> dict[int, LongerNow]:
    """The kilns whose last logged heating took longer than before, by one question for all."""
    rows = FiringLog.objects.filter(
        is_away=False, firing__kiln__in=list(kilns), firing__lit_at__isnull=False
    ).order_by("firing__lit_at", "firing_id")
    before: dict[tuple[int, int], list[float]] = {}
    found: dict[int, LongerNow] = {}
    for firing_id, kiln_id, schedule_id, heated_h in rows.values_list(
        "firing_id", "firing__kiln_id", "firing__schedule_id", "heated_h"
    ):
        like = before.setdefault((kiln_id, schedule_id), [])
        longer = took_longer(heated_h, like)
        like.append(heated_h)
        found.pop(kiln_id, None)
        if longer is not None:
            found[kiln_id] = LongerNow(firing_id=firing_id, longer=longer)
    return found


def fitted(kiln: Kiln) -> tuple[OffsetFit, CoolingFit] | None:
    """What a kiln's latest logs and witness cones tell; None when it has no log.

    The offset counts only from the last change of the thermocouple on.
    """
    kept = (
        FiringLog.objects.filter(is_away=False, firing__kiln=kiln, firing__lit_at__isnull=False)
        .select_related("firing__schedule")
        .prefetch_related("firing__witness_cones", "firing__schedule__segments")
        .order_by("-firing__lit_at")[:FIT_FIRINGS]
    )
    logs = [log for log in kept if learnt_points(log)]
    if not logs:
        return None
    changed = kiln.cares.filter(part="thermocouple", did="changed").first()
    since = changed.on_date if changed else None
    fresh = [
        log
        for log in logs
        if since is None or (log.firing.lit_at and timezone.localdate(log.firing.lit_at) >= since)
    ]
    return (
        fit_offset([_fired(log) for log in fresh]),
        fit_cooling([_constants(log) for log in logs], default=default_law(kiln)),
    )


def _fired(log: FiringLog) -> Fired:
    hours, temps = zip(*learnt_points(log), strict=True)
    seen = tuple(
        Seen(cone=cone.cone, bend=cone.bend)  # type: ignore[arg-type]  # the database holds these
        for cone in log.firing.witness_cones.all()
    )
    return Fired(times_h=hours, temps_c=temps, seen=seen)


def _constants(log: FiringLog) -> tuple[Constant | None, Constant | None]:
    firing = log.firing
    times, temps = (np.array(column) for column in zip(*learnt_points(log), strict=True))
    began = _began(log)
    if firing.opened_at is not None and began is not None:
        # What was read with the lid open is no cooling of a closed kiln.
        shut = times <= (firing.opened_at - began).total_seconds() / 3600
        if shut.sum() >= 2:
            times, temps = times[shut], temps[shut]
    programme = programme_of(firing.schedule)
    times, temps = free_part(times, temps, end_c=programme.end_c if programme else None)
    if len(times) < 2:
        return None, None
    return constants_of(times, temps, room_c=ROOM_C, knee_c=craft.THICK_KILN.knee_c)


def _began(log: FiringLog) -> datetime | None:
    """When a log begins, by its clock; unknown where a person says that the clock is wrong."""
    lit_at, opened_at = log.firing.lit_at, log.firing.opened_at
    if log.started_at is None or lit_at is None:
        return lit_at
    ends_at = log.started_at + timedelta(hours=points_of(log, whole=True)[-1][0])
    far = ends_at <= lit_at or (opened_at is not None and log.started_at >= opened_at)
    return None if far else log.started_at


def why_no_log(firing: Firing) -> str:
    """Why a firing may not have a log; '' when it may."""
    return rules.can_log(state=firing.state, kiln=firing.kiln.name)


def log_rows(log: FiringLog) -> list[tuple[str, int, int]]:
    """The rows that were named, by reason: (reason, how many, the first row)."""
    counted: dict[str, list[int]] = {}
    said: dict[str, str] = {}
    for row, reason, _ in log.named:
        plain = re.sub(r"“[^”]*”|-?\d[\d.]*", "…", reason)
        counted.setdefault(plain, []).append(row)
        said.setdefault(plain, reason)
    by_count = sorted(counted.items(), key=lambda item: -len(item[1]))
    return [(said[plain], len(rows), rows[0]) for plain, rows in by_count]
