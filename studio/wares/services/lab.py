"""File what a laboratory measured. What it means for food is left to the laboratory and the law."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils import timezone

from studio.wares import rules
from studio.wares.models import LabResult, Line
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record


@transaction.atomic
def file_result(
    *,
    line: Line,
    lab: str,
    tested_date: date,
    method: str,
    measured: str,
    result: Decimal,
    is_below: bool = False,
    unit: str,
    limit: Decimal | None = None,
    limit_source: str = "",
    limit_date: date | None = None,
    note: str = "",
    by: User,
    at: datetime,
) -> Change:
    """File one measured value for a line's glaze on its clay, so fired. Raises Refusal."""
    refuse(
        rules.can_file(
            tested_date=tested_date,
            today_date=timezone.localdate(at),
            result=result,
            limit=limit,
            limit_source=limit_source,
            limit_date=limit_date,
        )
    )
    row = LabResult(
        coats_id=line.coats_id, clay_lot_id=line.clay_lot_id, schedule_id=line.schedule_id,
        lab=lab.strip(), tested_date=tested_date, method=method.strip(), measured=measured.strip(),
        result=result, is_below=is_below, unit=unit.strip(), limit=limit,
        limit_source=limit_source.strip(), limit_date=limit_date, note=note.strip(), by=by, at=at,
    )  # fmt: skip
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        raise Refusal(
            f"{measured} by {lab} of {tested_date:%d %b %Y} is on file already, or a field is"
            " empty."
        ) from None
    return record(
        room="wares",
        action="lab_result",
        said=f"Filed {measured} by {lab} for {line.coats} on {line.clay_lot}",
        by=by,
        at=at,
        subject="line",
        subject_id=line.pk,
        undo={"filed": row.pk},
    )


def take_off_file(result_id: int) -> None:
    """Undo a filing. Raises Refusal when it is gone."""
    gone, _ = LabResult.objects.filter(pk=result_id).delete()
    if not gone:
        raise Refusal(rules.too_late_to_undo("the result is gone already."))
