"""Put a change of this room back, while nothing later depends on it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.craft.calendar import say_date
from studio.firings.models import Firing
from studio.planning import rules
from studio.planning.models import BackPlan, CalendarAddress, DayOff, Hands, PlanRule
from studio.planning.services.plans import hold_kilns, set_state, swap_plans
from studio.planning.services.rows import set_back, what_changed
from studio.planning.services.sort_out import taken_from
from studio.planning.services.week import RULE_FIELDS, hands_row, write_hands
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.selectors import offers_undo
from studio.web.services import record


@transaction.atomic
def undo(*, change: Change, by: User, at: datetime) -> Change:
    """Put one of this room's changes back. Raises ``Refusal`` when something depends on it."""
    back = {
        "accept": _undo_accept,
        "choose": _undo_choose,
        "put_aside": _undo_put_aside,
        "hands": _undo_hands,
        "day_off": _undo_day_off,
        "day_on": _undo_day_on,
        "rule": _undo_rule,
        "calendar": _undo_address,
    }.get(change.action)
    if back is None or change.undo is None:
        raise Refusal("This cannot be undone.")
    change = Change.objects.select_for_update(of=("self",)).get(pk=change.pk)
    if not offers_undo(change):
        raise Refusal("This was undone already.")
    said = back(change, dict(change.undo or {}))
    undoing = record(
        room="planning",
        action="undo",
        said=said,
        by=by,
        at=at,
        subject=change.subject,
        subject_id=change.subject_id,
    )
    undoing.undoes = change
    undoing.save(update_fields=["undoes"])
    return undoing


def _undo_accept(change: Change, kept: dict[str, Any]) -> str:
    """Take the new firings out, set the kept ones back, bring the plan before into force again."""
    mine = BackPlan.objects.select_for_update().get(pk=change.subject_id or 0)
    hold_kilns()
    made = [then["firing"] for then in kept["made"]]
    changed = [*made, *(was["firing"] for was in kept["kept"])]
    firings = Firing.objects.select_related("kiln", "schedule").in_bulk(changed)
    moved_on = [
        rules.moved_on(firing=str(firing), state=firing.state)
        for firing in firings.values()
        if firing.state != Firing.State.PLANNED or firing.places.exists()
    ]
    for then in (*kept["made"], *(was["now"] for was in kept["kept"])):
        firing = firings.get(then["firing"])
        if firing is not None and (parts := what_changed(firing, then)):
            moved_on.append(rules.changed_since(firing=str(firing), parts=parts))
    if len(firings) < len(changed):
        moved_on.append("A firing of this plan is not in the book any more")
    returning = list(
        Firing.objects.filter(pk__in=kept["called_off"]).select_related("kiln", "schedule")
    )
    for was in kept["kept"]:
        if was["firing"] in firings:
            firings[was["firing"]].start_date = date.fromisoformat(was["start_date"])
            returning.append(firings[was["firing"]])
    sentence = rules.why_not_undo(
        state=mine.state,
        moved_on=moved_on,
        taken=taken_from(
            firings=returning,
            but=[*changed, *kept["called_off"]],
            today_date=mine.today_date,
        ),
    )
    refuse(sentence)
    Firing.objects.filter(pk__in=made).delete()
    for was in kept["kept"]:
        set_back(was, firings[was["firing"]])
    Firing.objects.filter(pk__in=kept["called_off"], state=Firing.State.CALLED_OFF).update(
        state=Firing.State.PLANNED
    )
    mine.tasks.all().delete()
    mine.left_out = {}
    mine.save(update_fields=["left_out"])
    newer = BackPlan.objects.filter(state=BackPlan.State.PROPOSED).exists()
    set_state(mine, BackPlan.State.PUT_ASIDE if newer else BackPlan.State.PROPOSED)
    if kept["before"] is not None:
        set_state(BackPlan.objects.get(pk=kept["before"]), BackPlan.State.ACCEPTED)
        return "Took the plan out of force; the plan before it is in force again."
    return "Took the plan out of force; its firings are out of the kilns' book."


def _undo_choose(change: Change, kept: dict[str, Any]) -> str:
    mine = BackPlan.objects.select_for_update().get(pk=change.subject_id or 0)
    refuse(
        rules.why_not_choose(state=mine.state, has_other=mine.other is not None)
        or rules.why_not_choose_back(same=mine.plan["cost_pence"] == kept["cost_pence"])
    )
    swap_plans(mine)
    return "The plan that was proposed before is proposed again."


def _undo_put_aside(change: Change, kept: dict[str, Any]) -> str:
    mine = BackPlan.objects.select_for_update().get(pk=change.subject_id or 0)
    if BackPlan.objects.filter(state=BackPlan.State.PROPOSED).exists():
        raise Refusal("There is a newer proposal. Put that one aside first.")
    if mine.state != BackPlan.State.PUT_ASIDE:
        raise Refusal("This plan is not aside any more.")
    set_state(mine, BackPlan.State.PROPOSED)
    return f"Brought the plan of {say_date(mine.today_date)} back as a proposal."


def _undo_hands(change: Change, kept: dict[str, Any]) -> str:
    if [hands_row(hands) for hands in Hands.objects.all()] != kept["set"]:
        raise Refusal("The hands were changed again since. Change them on their page.")
    write_hands(kept["week"])
    return "Set the hands of the week back."


def _undo_day_off(change: Change, kept: dict[str, Any]) -> str:
    day = date.fromisoformat(kept["date"])
    if not DayOff.objects.filter(date=day).delete()[0]:
        raise Refusal(f"{say_date(day)} is no day off any more.")
    return f"{say_date(day)} is a working day again."


def _undo_day_on(change: Change, kept: dict[str, Any]) -> str:
    day = date.fromisoformat(kept["date"])
    if not DayOff.objects.get_or_create(date=day, defaults={"why": kept["why"]})[1]:
        raise Refusal(f"{say_date(day)} is a day off again already.")
    return f"{say_date(day)} is a day off again."


def _undo_address(change: Change, kept: dict[str, Any]) -> str:
    mine = CalendarAddress.objects.select_for_update().get(pk=change.subject_id or 0)
    withdrawn = mine.withdrawn_at is not None
    refuse(rules.why_not_undo_address(withdrawn=withdrawn, was=kept["was"], name=mine.name))
    mine.withdrawn_at = None if withdrawn else timezone.now()
    mine.save(update_fields=["withdrawn_at"])
    if withdrawn:
        return f"The calendar address of {mine.name} opens again."
    return f"The calendar address of {mine.name} is withdrawn."


def _undo_rule(change: Change, kept: dict[str, Any]) -> str:
    rule = PlanRule.objects.get(pk=1)
    if {name: getattr(rule, name) for name in RULE_FIELDS} != kept["now"]:
        raise Refusal("The rules were changed again since. Change them on their page.")
    PlanRule.objects.filter(pk=1).update(**kept["was"])
    return "Set the yields back."
