"""Make sure the studio knows a line."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib.auth.models import User
from django.db import transaction

from studio.wares import rules, selectors
from studio.wares.models import ClayLot, Coats, Form, Line
from studio.web.refusal import refuse
from studio.web.services import record

if TYPE_CHECKING:
    from studio.firings.models import Schedule


@transaction.atomic
def ensure_line(
    *,
    form: Form,
    clay_lot: ClayLot,
    coats: Coats,
    schedule: Schedule,
    standing: str = Line.Standing.UNTRIED,
    by: User,
    at: datetime,
) -> Line:
    """Answer the line of these four; a new one starts untried, or on trial when an
    earlier lot of its clay is proven. Raises Refusal for cones that clash.

    ``standing`` is that of a new line only.
    """
    refuse(
        rules.can_coat(
            coats=coats.name,
            coats_top_cone=coats.top_cone,
            clay_lot=str(clay_lot),
            clay_top_cone=clay_lot.top_cone,
            schedule=schedule.name,
            schedule_kind=schedule.kind,
            cone=schedule.cone,
        )
    )
    line, is_new = Line.objects.get_or_create(
        form=form,
        clay_lot=clay_lot,
        coats=coats,
        schedule=schedule,
        defaults={"standing": standing, "word_at": None if standing == "untried" else at},
    )
    if is_new and standing == Line.Standing.UNTRIED and selectors.proven_lot_before(line):
        line.standing, line.word, line.is_learnt = Line.Standing.TRIAL, standing, True
        line.save(update_fields=["standing", "word", "is_learnt"])
    if is_new:
        record(
            room="wares",
            action="line",
            said=f"New line: {line} to {schedule}, {line.get_standing_display().lower()}",
            by=by,
            at=at,
            subject="line",
            subject_id=line.id,
            undo=None,
        )
    return line
