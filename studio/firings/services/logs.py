"""Keep a firing's log, take it away, and learn from a kiln's logs what is its own.

A file is read and thinned before anything waits for the database (``prepare_log``); what is
written is small.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.craft.compared import heating_starts
from studio.craft.firing_log import BadLogFile, Sensor, Unit, read_log
from studio.craft.heat_work import cone_reached
from studio.craft.thinning import thin
from studio.firings import rules, selectors
from studio.firings.models import Firing, FiringLog, Kiln, KilnFit
from studio.firings.services.writing import held
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record

MOST_NAMED = 500


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadyLog:
    """A log that was read and thinned: the values of its row."""

    values: dict[str, Any]
    started_at: datetime | None
    left_out: int


def prepare_log(
    *, data: bytes, file_name: str, unit: Unit | None = None, sensor: str = ""
) -> ReadyLog:
    """Read a file of readings, outside any transaction. Raises Refusal with what to do."""
    try:
        log = read_log(data, unit=unit, zone=timezone.get_current_timezone())
        main = log.sensor(sensor)
    except BadLogFile as problem:
        raise Refusal(str(problem)) from problem
    series = [_series(one) for one in log.sensors]
    points = next(one["points"] for one in series if one["name"] == main.name)
    times, temps = zip(*points, strict=True)
    reached = cone_reached(times_h=times, temps_c=temps)
    started_at = log.started_at
    if started_at is not None and timezone.is_naive(started_at):
        started_at = timezone.make_aware(started_at)
    heated_h = reached.heated_h - heating_starts(times, temps)
    values = {
        "file_name": file_name[-120:],
        "sensor": main.name,
        "series": series,
        "started_at": started_at,
        "row_count": log.rows,
        "kept_count": log.kept,
        "named": [[one.row, one.reason, one.kept] for one in log.named[:MOST_NAMED]],
        "named_count": len(log.named),
        "gaps": [[gap.row, round(gap.from_h, 3), round(gap.hours, 3)] for gap in log.gaps[:50]],
        "taken_as": list(log.taken_as),
        "peak_c": reached.peak_c,
        "heated_h": heated_h,
    }
    return ReadyLog(values=values, started_at=started_at, left_out=log.left_out)


@transaction.atomic
def keep_log(*, firing: Firing, ready: ReadyLog, by: User, at: datetime) -> Change:
    """Keep a log with its firing, in place of one it has. Raises Refusal."""
    now = held(firing)
    refuse(rules.can_log(state=now.state, kiln=now.kiln.name))
    before = now.logs.filter(is_away=False).first()
    if before is not None:
        before.is_away = True
        before.save(update_fields=["is_away"])
    kept = FiringLog.objects.create(firing=now, **ready.values)
    refit(now.kiln, at=at)
    out = f", {ready.left_out} rows left out" if ready.left_out else ""
    return record(
        room="firings",
        action="keep_log",
        said=f"Kept the log of {now}: {kept.kept_count} readings{out}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"away": kept.pk, "back": before.pk if before else None},
    )


@transaction.atomic
def take_log_away(*, firing: Firing, by: User, at: datetime) -> Change:
    """Take a firing's log away; it can be brought back. Raises Refusal."""
    now = held(firing)
    log = now.logs.filter(is_away=False).first()
    refuse(rules.can_take_log_away(has_log=log is not None))
    assert log is not None
    log.is_away = True
    log.save(update_fields=["is_away"])
    refit(now.kiln, at=at)
    return record(
        room="firings",
        action="take_log_away",
        said=f"Took away the log of {now}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"away": None, "back": log.pk},
    )


def swap_logs(firing: Firing, kept: dict[str, Any], *, at: datetime) -> None:
    """The way back from keeping and from taking away, within the caller's transaction."""
    now = firing.logs.filter(is_away=False).first()
    same = (now.pk if now else None) == kept["away"]
    refuse(rules.can_undo(same, now="its log was changed since"))
    if now is not None:
        now.is_away = True
        now.save(update_fields=["is_away"])
    if kept["back"] is not None:
        FiringLog.objects.filter(pk=kept["back"]).update(is_away=False)
    refit(firing.kiln, at=at)


def refit(kiln: Kiln, *, at: datetime) -> KilnFit | None:
    """Learn a kiln's offset and cooling anew, within the caller's transaction; None without logs.

    To be called whenever a log, a witness cone or the thermocouple of the kiln changes.
    """
    found = selectors.fitted(kiln)
    KilnFit.objects.filter(kiln=kiln).delete()
    if found is None:
        return None
    offset, cooling = found
    return KilnFit.objects.create(
        kiln=kiln,
        offset_c=max(min(offset.offset_c, 100.0), -100.0),
        offset_spread_c=offset.spread_c,
        cones=offset.cones,
        cone_firings=offset.firings,
        against=offset.against,
        above_h=cooling.law.above_h,
        below_h=cooling.law.below_h,
        logs_above=cooling.logs_above,
        logs_below=cooling.logs_below,
        spread_percent=cooling.spread_percent,
        fitted_at=at,
    )


def _series(sensor: Sensor) -> dict[str, Any]:
    thinned = thin(sensor.times_h, sensor.temps_c)
    pairs = zip(sensor.times_h[thinned.kept], sensor.temps_c[thinned.kept], strict=True)
    return {
        "name": sensor.name,
        "error_c": round(thinned.error_c, 2),
        "points": [[round(float(h), 5), round(float(c), 2)] for h, c in pairs],
    }
