"""Say at which hours kilns are lit and when it is night, and when one firing is lit."""

from __future__ import annotations

from datetime import datetime, time

from django.contrib.auth.models import User
from django.db import transaction

from studio.firings import rules, selectors
from studio.firings.models import Firing
from studio.firings.services.writing import held
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record


@transaction.atomic
def set_start_time(*, firing: Firing, start_time: time | None, by: User, at: datetime) -> Change:
    """Say at which time of its day a firing is lit; None is the usual one. Raises Refusal."""
    now = held(firing)
    refuse(rules.can_set_start(state=now.state, kiln=now.kiln.name))
    was = now.start_time
    now.start_time = start_time
    now.save(update_fields=["start_time"])
    said = f"at {start_time:%H:%M}" if start_time else "at the usual time"
    return record(
        room="firings",
        action="set_start_time",
        said=f"{now} is lit {said}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"was": _said(was), "now": _said(start_time)},
    )


@transaction.atomic
def set_night_rule(
    *, usual_start: time, night_from: time, night_until: time, by: User, at: datetime
) -> Change:
    """Say when kilns are usually lit and when it is night. Raises Refusal."""
    refuse(rules.can_set_night(night_from=night_from, night_until=night_until))
    rule = selectors.night_rule()
    was = None if rule._state.adding else selectors.values_of(rule)
    rule.usual_start, rule.night_from, rule.night_until = usual_start, night_from, night_until
    rule.save()
    rule.refresh_from_db()
    return record(
        room="firings",
        action="save_night_rule",
        said=(
            f"Kilns are lit about {usual_start:%H:%M}; it is night from {night_from:%H:%M} to"
            f" {night_until:%H:%M}"
        ),
        by=by,
        at=at,
        subject="night rule",
        subject_id=rule.pk,
        undo={"row": rule.pk, "was": was, "now": selectors.values_of(rule)},
    )


def start_as_before(firing: Firing, kept: dict[str, str | None]) -> None:
    """The way back from choosing an hour, within the caller's transaction. Raises Refusal."""
    refuse(rules.can_undo(_said(firing.start_time) == kept["now"], now="its hour was set since"))
    refuse(rules.can_set_start(state=firing.state, kiln=firing.kiln.name))
    was = kept["was"]
    firing.start_time = time.fromisoformat(was) if was else None
    firing.save(update_fields=["start_time"])


def _said(at: time | None) -> str | None:
    return at.isoformat() if at else None
