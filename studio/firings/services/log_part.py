"""Say which part of a long log is its firing's, or give a log to the firing it is of.

Nothing is thrown away: the part is two hours beside the readings, a log that was moved stays as a
row where it was.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.forms.models import model_to_dict

from studio.craft.compared import heating_starts
from studio.craft.heat_work import cone_reached
from studio.firings import rules, selectors
from studio.firings.models import Firing, FiringLog
from studio.firings.services.logs import refit
from studio.firings.services.writing import held, hold_kiln
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record

PART = ("from_h", "until_h", "peak_c", "heated_h")


@transaction.atomic
def choose_log_part(
    *, firing: Firing, from_h: float, until_h: float, by: User, at: datetime
) -> Change:
    """Let the hours of a firing's log between two of them count. Raises Refusal."""
    now = held(firing)
    log = now.logs.filter(is_away=False).first()
    last_h = selectors.points_of(log, whole=True)[-1][0] if log else 0.0
    refuse(
        rules.can_choose_part(
            has_log=log is not None, from_h=from_h, until_h=until_h, last_h=last_h
        )
    )
    assert log is not None
    was = _part(log)
    log.from_h, log.until_h = from_h, min(until_h, last_h)
    hours, temps = zip(*selectors.points_of(log), strict=True)
    reached = cone_reached(times_h=hours, temps_c=temps)
    log.peak_c = reached.peak_c
    log.heated_h = reached.heated_h - heating_starts(hours, temps)
    log.save(update_fields=list(PART))
    refit(now.kiln, at=at)
    whole = from_h <= 0 and until_h >= last_h - 0.01
    part = f"all {last_h:.1f} h" if whole else f"{from_h:.1f} to {until_h:.1f} h of {last_h:.1f} h"
    return record(
        room="firings",
        action="choose_log_part",
        said=f"The log of {now}: {part} count",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"log": log.pk, "was": was, "now": _part(log)},
    )


@transaction.atomic
def move_log(*, firing: Firing, to: Firing, by: User, at: datetime) -> Change:
    """Give a firing's log to the firing it is of, whole. Raises Refusal."""
    for kiln_id in sorted({firing.kiln_id, to.kiln_id}):
        hold_kiln(kiln_id)
    now, other = held(firing), held(to)
    log = now.logs.filter(is_away=False).first()
    refuse(
        rules.can_move_log(
            has_log=log is not None,
            to=str(other),
            state=other.state,
            kiln=other.kiln.name,
            other_has_log=other.logs.filter(is_away=False).exists(),
            is_same=now.pk == other.pk,
        )
    )
    assert log is not None
    values = model_to_dict(log, exclude=["id", "firing", "is_away", *PART])
    points = selectors.points_of(log, whole=True)
    hours, temps = zip(*points, strict=True)
    reached = cone_reached(times_h=hours, temps_c=temps)
    log.is_away = True
    log.save(update_fields=["is_away"])
    copy = FiringLog.objects.create(
        firing=other,
        peak_c=reached.peak_c,
        heated_h=reached.heated_h - heating_starts(hours, temps),
        **values,
    )
    for kiln in {now.kiln, other.kiln}:
        refit(kiln, at=at)
    return record(
        room="firings",
        action="move_log",
        said=f"Moved the log of {now} to {other}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"back": log.pk, "to": other.pk, "copy": copy.pk},
    )


def unchoose_part(firing: Firing, kept: dict[str, Any], *, at: datetime) -> None:
    """The way back from choosing a part, within the caller's transaction. Raises Refusal."""
    log = firing.logs.filter(is_away=False, pk=kept["log"]).first()
    same = log is not None and _part(log) == kept["now"]
    refuse(rules.can_undo(same, now="its log was changed since"))
    assert log is not None
    for name, value in zip(PART, kept["was"], strict=True):
        setattr(log, name, value)
    log.save(update_fields=list(PART))
    refit(firing.kiln, at=at)


def move_log_back(firing: Firing, kept: dict[str, Any], *, at: datetime) -> None:
    """The way back from moving a log, within the caller's transaction. Raises Refusal."""
    other = Firing.objects.select_related("kiln").filter(pk=kept["to"]).first()
    copy = other.logs.filter(is_away=False, pk=kept["copy"]).first() if other else None
    refuse(rules.can_undo(copy is not None, now="the log was changed there since"))
    has_log = firing.logs.filter(is_away=False).exists()
    refuse(rules.can_undo(not has_log, now="it has another log now"))
    assert other is not None
    assert copy is not None
    copy.is_away = True
    copy.save(update_fields=["is_away"])
    FiringLog.objects.filter(pk=kept["back"]).update(is_away=False)
    for kiln in {firing.kiln, other.kiln}:
        refit(kiln, at=at)


def _part(log: FiringLog) -> list[float | None]:
    return [log.from_h, log.until_h, log.peak_c, log.heated_h]
