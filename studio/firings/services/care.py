"""Write down what was changed or looked at in a kiln, and when it is due again."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.craft.wear import Interval
from studio.firings import rules, selectors
from studio.firings.models import Care, CareRule, ElementLife, Kiln, Part
from studio.firings.services.logs import refit
from studio.firings.services.writing import hold_kiln
from studio.wares.selectors import fired_in
from studio.wares.services.standing import restand
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record


@transaction.atomic
def record_care(
    *, kiln: Kiln, part: str, did: str, on_date: date, note: str = "", by: User, at: datetime
) -> Change:
    """Record that a part of a kiln was changed or looked at. Raises Refusal."""
    hold_kiln(kiln.pk)
    twice = kiln.cares.filter(part=part, did=did, on_date=on_date).exists()
    refuse(
        rules.can_record_care(
            part=part,
            did=did,
            on_date=on_date,
            today_date=timezone.localdate(at),
            twice=twice,
            fuel=kiln.fuel,
        )
    )
    care = Care.objects.create(
        kiln=kiln, part=part, did=did, on_date=on_date, note=note.strip()[:200], by=by, kept_at=at
    )
    care.refresh_from_db()
    if part == Part.THERMOCOUPLE:
        refit(kiln, at=at)
    word = "Changed" if did == Care.Did.CHANGED else "Looked at"
    change = record(
        room="firings",
        action="record_care",
        said=f"{word} the {Part(part).label.lower()} of {kiln}, {on_date:%d %b %Y}",
        by=by,
        at=at,
        subject="kiln",
        subject_id=kiln.pk,
        undo={"row": care.pk, "was": None, "now": selectors.values_of(care)},
    )
    if rules.moves_heat(part=part, did=did):
        restand(fired_in(kiln.pk), change=change)
    return change


@transaction.atomic
def set_care(
    *,
    kiln: Kiln,
    intervals: Mapping[str, Interval],
    lives: Mapping[str, int],
    by: User,
    at: datetime,
) -> Change:
    """Say when a kiln's parts are due and how long its elements last. Raises Refusal."""
    hold_kiln(kiln.pk)
    refuse(rules.life_missing(cones=list(lives)))
    numbers: dict[str, int | None] = {f"Cone {cone}": life for cone, life in lives.items()}
    refuse(rules.can_set_care(numbers=numbers))
    before = _numbers(kiln)
    _write(kiln, {part: _of(one) for part, one in intervals.items()}, lives)
    return record(
        room="firings",
        action="set_care",
        said=f"Set when the parts of {kiln} are due",
        by=by,
        at=at,
        subject="kiln",
        subject_id=kiln.pk,
        undo={"row": kiln.pk, "was": before, "now": _numbers(kiln)},
    )


def unset_care(kept: Mapping[str, Any]) -> None:
    """The way back from ``set_care``, within the caller's transaction. Raises Refusal."""
    kiln = Kiln.objects.select_for_update().filter(pk=kept["row"]).first()
    refuse(rules.can_undo(kiln is not None, now="the kiln is gone"))
    assert kiln is not None
    refuse(rules.can_undo(_numbers(kiln) == kept["now"], now="they were set again since"))
    _write(kiln, kept["was"]["intervals"], kept["was"]["lives"])


def _of(interval: Interval) -> list[int | None]:
    return [interval.look_firings, interval.look_days, interval.change_firings]


def _numbers(kiln: Kiln) -> dict[str, Any]:
    """A kiln's own numbers; what it has none of is left out."""
    return {
        "intervals": {
            rule.part: [rule.look_firings, rule.look_days, rule.change_firings]
            for rule in CareRule.objects.filter(kiln=kiln)
        },
        "lives": {life.cone: life.firings for life in ElementLife.objects.filter(kiln=kiln)},
    }


def _write(kiln: Kiln, intervals: Mapping[str, list[int | None]], lives: Mapping[str, int]) -> None:
    CareRule.objects.filter(kiln=kiln).delete()
    CareRule.objects.bulk_create(
        CareRule(kiln=kiln, part=part, look_firings=looks, look_days=days, change_firings=changes)
        for part, (looks, days, changes) in intervals.items()
    )
    ElementLife.objects.filter(kiln=kiln).delete()
    ElementLife.objects.bulk_create(
        ElementLife(kiln=kiln, cone=cone, firings=firings) for cone, firings in lives.items()
    )
