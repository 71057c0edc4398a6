"""Say what the hands of a week give, which days are off, and what plans reckon with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

import studio.firings.services as firings
from studio.craft.calendar import say_date
from studio.firings.selectors import trial_rule
from studio.planning import rules
from studio.planning.models import DayOff, Hands, PlanRule
from studio.planning.selectors import plan_rule
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, kw_only=True, slots=True)
class DayHands:
    """Minutes of one weekday; 0 is Monday."""

    weekday: int
    throwing_min: int
    glazing_min: int
    finishing_min: int
    may_start: bool


@transaction.atomic
def set_hands(*, week: Sequence[DayHands], by: User, at: datetime) -> Change:
    """Say how many minutes each weekday gives. Raises ``Refusal`` for more than a day has."""
    for day in week:
        for minutes in (day.throwing_min, day.glazing_min, day.finishing_min):
            sentence = rules.minutes_out_of_range(weekday=WEEKDAYS[day.weekday], minutes=minutes)
            if sentence:
                raise Refusal(sentence)
    before = [hands_row(hands) for hands in Hands.objects.all()]
    write_hands([[d.weekday, d.throwing_min, d.glazing_min, d.finishing_min, d.may_start]
                  for d in week])  # fmt: skip
    return record(
        room="planning",
        action="hands",
        said="Changed the hands of the week.",
        by=by,
        at=at,
        undo={"week": before, "set": [hands_row(hands) for hands in Hands.objects.all()]},
    )


def hands_row(hands: Hands) -> list[int | bool]:
    return [
        hands.weekday,
        hands.throwing_min,
        hands.glazing_min,
        hands.finishing_min,
        hands.may_start,
    ]


def write_hands(rows: Sequence[Sequence[Any]]) -> None:
    Hands.objects.exclude(weekday__in=[row[0] for row in rows]).delete()
    for weekday, throwing_min, glazing_min, finishing_min, may_start in rows:
        Hands.objects.update_or_create(
            weekday=weekday,
            defaults={
                "throwing_min": throwing_min,
                "glazing_min": glazing_min,
                "finishing_min": finishing_min,
                "may_start": may_start,
            },
        )


@transaction.atomic
def take_day_off(*, day: date, why: str = "", by: User, at: datetime) -> Change:
    """Mark a day on which nobody works. Raises ``Refusal`` for a past day or one that is off."""
    may_take_day_off(day=day, at=at)
    DayOff.objects.create(date=day, why=why)
    return record(
        room="planning",
        action="day_off",
        said=f"Marked {say_date(day)} as a day off.",
        by=by,
        at=at,
        undo={"date": day.isoformat()},
    )


def may_take_day_off(*, day: date, at: datetime) -> None:
    """Raise ``Refusal`` when a day cannot be taken off."""
    refuse(
        rules.why_not_day_off(
            day=day,
            today_date=timezone.localtime(at).date(),
            off_already=DayOff.objects.filter(date=day).exists(),
        )
    )


@transaction.atomic
def work_day_after_all(*, day_off: DayOff, by: User, at: datetime) -> Change:
    """Take a day off out of the list again."""
    day, why = day_off.date, day_off.why
    if not DayOff.objects.filter(pk=day_off.pk).delete()[0]:
        raise Refusal(f"{say_date(day)} is no day off any more.")
    return record(
        room="planning",
        action="day_on",
        said=f"{say_date(day)} is a working day again.",
        by=by,
        at=at,
        undo={"date": day.isoformat(), "why": why},
    )


RULE_FIELDS = ("drying_percent", "bisque_percent", "glaze_percent", "is_learnt", "sure_percent")


@transaction.atomic
def set_rule(
    *,
    drying_percent: int,
    bisque_percent: int,
    glaze_percent: int,
    is_learnt: bool = True,
    sure_percent: int | None = 90,
    by: User,
    at: datetime,
) -> Change:
    """State the yields. Raises ``Refusal`` when one is out of range.

    ``is_learnt``: the studio's own records go before them once there are enough. ``sure_percent``:
    chances in 100 that enough come for a date; none reckons as the mean says.
    """
    sentences = [
        rules.yield_out_of_range(step="Drying", percent=drying_percent),
        rules.yield_out_of_range(step="Bisque", percent=bisque_percent),
        rules.yield_out_of_range(step="Glaze firing", percent=glaze_percent),
        rules.sure_out_of_range(percent=sure_percent),
    ]
    refuse(" ".join(sentence for sentence in sentences if sentence))
    was = _yields()
    now = {
        "drying_percent": drying_percent,
        "bisque_percent": bisque_percent,
        "glaze_percent": glaze_percent,
        "is_learnt": is_learnt,
        "sure_percent": sure_percent,
    }
    PlanRule.objects.update_or_create(pk=1, defaults=now)
    return record(
        room="planning",
        action="rule",
        said="Changed the yields that plans reckon with.",
        by=by,
        at=at,
        undo={"was": was, "now": now},
    )


def _yields() -> dict[str, Any]:
    rule = plan_rule()
    return {name: getattr(rule, name) for name in RULE_FIELDS}


@transaction.atomic
def set_reckoning(
    *,
    drying_percent: int,
    bisque_percent: int,
    glaze_percent: int,
    is_learnt: bool = True,
    sure_percent: int | None = 90,
    least_pieces: int,
    most_pieces: int,
    by: User,
    at: datetime,
) -> list[Change]:
    """State the yields, and the trial sizes that the kilns keep too; answers what changed.

    Raises ``Refusal`` when a number is out of range; then neither is changed.
    """
    changes = []
    yields: dict[str, Any] = {
        "drying_percent": drying_percent,
        "bisque_percent": bisque_percent,
        "glaze_percent": glaze_percent,
        "is_learnt": is_learnt,
        "sure_percent": sure_percent,
    }
    if yields != _yields():
        changes.append(set_rule(**yields, by=by, at=at))
    trials = trial_rule()
    if (least_pieces, most_pieces) != (trials.least_pieces, trials.most_pieces):
        changes.append(
            firings.set_trial_rule(least_pieces=least_pieces, most_pieces=most_pieces, by=by, at=at)
        )
    return changes
