"""Keep the kilns, the circuits they hang on, the schedules, and how each kiln runs each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Model

from studio.firings import rules
from studio.firings.models import Circuit, Firing, Kiln, Run, Schedule, Segment
from studio.firings.rules import Step
from studio.firings.services.writing import refuse, write_down
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.selectors import temperature_unit

M = TypeVar("M", bound=Model)


@transaction.atomic
def save_kiln(*, kiln: Kiln | None, values: Mapping[str, Any], by: User, at: datetime) -> Change:
    """Add a kiln or change one; without a circuit it gets one of its own. Raises Refusal."""
    values = dict(values)
    if values.get("circuit") is None and (kiln is None or "circuit" in values):
        values["circuit"], _ = Circuit.objects.get_or_create(name=values["name"])
    saved = _save(kiln or Kiln(), values, what="kiln")
    refuse(rules.kiln_shape(sides=saved.sides, inside_depth_mm=saved.inside_depth_mm))
    word = "Added" if kiln is None else "Changed"
    return write_down(
        action="save_kiln",
        said=f"{word} {saved}",
        by=by,
        at=at,
        subject="kiln",
        subject_id=saved.pk,
    )


@transaction.atomic
def save_circuit(
    *, circuit: Circuit | None, values: Mapping[str, Any], by: User, at: datetime
) -> Change:
    """Add a circuit or change one. Raises Refusal."""
    saved = _save(circuit or Circuit(), values, what="circuit")
    kilns = "one kiln" if saved.at_once == 1 else f"{saved.at_once} kilns"
    return write_down(
        action="save_circuit",
        said=f"The circuit {saved} carries {kilns} heating at once",
        by=by,
        at=at,
        subject="circuit",
        subject_id=saved.pk,
    )


@transaction.atomic
def save_schedule(
    *,
    schedule: Schedule | None,
    values: Mapping[str, Any],
    steps: Sequence[Step],
    by: User,
    at: datetime,
) -> Change:
    """Add a schedule with its steps, or change one.

    What a schedule is stays as it is once a kiln was lit with it: its kind and cone are part of
    the record of every pot it fired. Raises Refusal.
    """
    cone = str(values.get("cone") or (schedule.cone if schedule else ""))
    wrong = rules.wrong_steps(steps, cone=cone, unit=temperature_unit())
    refuse(" ".join(sentence for _, sentence in wrong))
    if schedule is not None:
        before = Schedule.objects.select_for_update().get(pk=schedule.pk)
        lit = Firing.objects.filter(schedule=before, lit_at__isnull=False).exists()
        used = lit or before.line_set.exists() or before.piece_set.exists()
        refuse(
            rules.can_rewrite(
                schedule=before.name,
                used=used,
                same=(before.kind, before.cone)
                == (values.get("kind", before.kind), values.get("cone", before.cone)),
            )
        )
    saved = _save(schedule or Schedule(), values, what="schedule")
    saved.segments.all().delete()
    Segment.objects.bulk_create(
        Segment(
            schedule=saved,
            seq=seq,
            rate_c_per_h=step.rate_c_per_h,
            target_c=step.target_c,
            hold_min=step.hold_min,
        )
        for seq, step in enumerate(steps, start=1)
    )
    word = "Added" if schedule is None else "Changed"
    return write_down(
        action="save_schedule",
        said=f"{word} the schedule {saved}: cone {saved.cone}, {len(steps)} rows",
        by=by,
        at=at,
        subject="schedule",
        subject_id=saved.pk,
    )


@transaction.atomic
def save_run(
    *,
    kiln: Kiln,
    schedule: Schedule,
    busy_days: int,
    cost_pence: int,
    energy_wh: int | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Say how long a kiln is busy with a schedule and what that costs. Raises Refusal."""
    refuse(
        rules.fits_kiln(
            kiln=kiln.name,
            kiln_top_cone=kiln.top_cone,
            schedule=schedule.name,
            cone=schedule.cone,
            has_run=True,
        )
    )
    run = Run.objects.filter(kiln=kiln, schedule=schedule).first() or Run(
        kiln=kiln, schedule=schedule
    )
    values = {"busy_days": busy_days, "cost_pence": cost_pence, "energy_wh": energy_wh}
    _save(run, values, what="run")
    days = "1 day" if busy_days == 1 else f"{busy_days} days"
    return write_down(
        action="save_run",
        said=f"{schedule} keeps {kiln} busy for {days}",
        by=by,
        at=at,
        subject="kiln",
        subject_id=kiln.pk,
    )


def _save(row: M, values: Mapping[str, Any], *, what: str) -> M:
    for name, value in values.items():
        setattr(row, name, value)
    try:
        row.full_clean()
        with transaction.atomic():
            row.save()
    except ValidationError as problem:
        raise Refusal(" ".join(problem.messages)) from problem
    except IntegrityError as problem:
        raise Refusal(rules.NAME_TAKEN.format(what=what)) from problem
    return row
