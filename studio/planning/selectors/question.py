"""What does the studio, as it stands today, ask the planner?

The records become a ``craft.problem.Problem``: dates and wants, kilns and runs, hands and days off,
what stands where, and which firings are fixed. What had to be assumed or left out on the way is
said in ``remarks``, one sentence each.

Assumptions (each is a remark where it matters):

1. Firings that are planned or have begun: see ``fixed``.
2. A thrown board that nobody has called dry is dry after the form's drying days.
3. A line whose trial was opened asks for no second trial.
4. What a sale that is over left listed does not count until it is taken back.

One more holds on every day and is said once, on the plan's page: the whole of today's minutes is
still there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from studio.craft.calendar import say_date
from studio.craft.load import going_in_mm
from studio.craft.plan_record import problem_from_json, problem_to_json
from studio.craft.problem import (
    BISQUE,
    BadProblem,
    Circuit,
    HandsDay,
    Load,
    Need,
    OnHand,
    PlanLine,
    Problem,
    Stage,
    TrialRule,
    Ware,
)
from studio.firings import models as firings
from studio.firings.selectors import trial_rule
from studio.planning.models import DayOff, Hands, PlanRule
from studio.planning.selectors import blocked, stock
from studio.planning.selectors.fixed import fixed_loads
from studio.planning.selectors.kilns import plan_kilns
from studio.planning.selectors.names import line_names, ware_names
from studio.planning.selectors.remarks import (
    not_called_dry,
    on_trial,
    still_listed,
    tried_in_kilns,
)
from studio.planning.selectors.wanted import dates_from, is_anything_promised
from studio.planning.selectors.yields import past_of, yields_of
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import ClayLot, Form, KilnTrial, Line
from studio.wares.selectors import kiln_trials, losses, needs

LEAST_DAYS = 14
"""A plan looks at least this far, so that a date tomorrow does not hide the week behind it."""

MOST_DAYS = 120
"""A plan looks at most this far; what is promised later waits for a later plan."""

NOTHING_PROMISED = (
    "Nothing is promised from today on. Add a sale day or a month's parcels with what they ask for."
)
ALL_READY = (
    "All that is promised from today on is listed or in its parcel: nothing is left to plan."
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """The planner's question and, in words, what was assumed or left out."""

    problem: Problem
    remarks: tuple[str, ...]


def question_to_json(question: Question) -> dict[str, Any]:
    """A question as plain JSON values, as it is stored beside its plan."""
    return problem_to_json(question.problem) | {"remarks": list(question.remarks)}


def question_from_json(record: Any) -> Question:
    """Read a stored question again. Raises ``BadRecord``."""
    kept = dict(record)
    remarks = tuple(str(remark) for remark in kept.pop("remarks", []))
    return Question(problem=problem_from_json(kept), remarks=remarks)


def ask(
    *,
    today_date: date,
    now: datetime | None = None,
    last_date: date | None = None,
    keep_planned: bool = True,
    freed: Collection[int] = (),
) -> Question:
    """The question of today, or of the moment ``now`` of today: what opened before asks no more.

    ``last_date`` looks less far; ``keep_planned=False`` lets go of the firings that the plan in
    force asked for, ``freed`` of those alone whose numbers are named (those that a person planned
    are always kept).

    Raises ``BadProblem`` with every cause when no plan could be sought.
    """
    remarks: list[str] = []
    dates = dates_in_sight(today_date=today_date, now=now, last_date=last_date, remarks=remarks)
    last = last_day(dates=dates, today_date=today_date, last_date=last_date)
    by_kind = lines_by_kind()
    kilns = plan_kilns(remarks)
    pinned = fixed_loads(
        today_date=today_date,
        last_date=last,
        keep_planned=keep_planned,
        freed=freed,
        by_kind=by_kind,
        remarks=remarks,
    )
    wanted = {str(ask.line.pk): ask.line for need in dates for ask in need.lines}
    lines = wanted | _lines_of(pinned, by_kind.values())
    wrong = [
        f"{line}: {line.schedule} is a bisque schedule. A line needs a glaze schedule."
        for line in wanted.values()
        if line.schedule.kind == firings.Schedule.Kind.BISQUE
    ]
    if wrong:
        raise BadProblem(*wrong)
    wares = _wares(lines.values(), pinned)
    rule, trials, lost = plan_rule(), trial_rule(), losses()
    names = line_names(lines.values())
    groups = stock.free_groups(today_date=today_date)
    tried = kiln_trials()
    remarks += [
        *tried_in_kilns(tried, lines=wanted, share_percent=trials.share_percent),
        *on_trial(lines=wanted, names=names, share_percent=trials.share_percent),
        *not_called_dry(groups=groups, names={ware.key: ware.name for ware in wares}),
        *still_listed(today_date=today_date, now=now, lines=wanted, names=names),
    ]
    problem = Problem(
        today_date=today_date,
        last_date=last,
        days=days_of(today_date=today_date, last_date=last),
        kilns=kilns,
        circuits=tuple(
            Circuit(key=str(circuit.pk), at_once=circuit.at_once)
            for circuit in firings.Circuit.objects.all()
        ),
        wares=wares,
        lines=tuple(_line(line, names[key], tried) for key, line in lines.items()),
        needs=tuple(need_of(need) for need in dates),
        on_hand=on_hand(groups=groups, wanted=wanted),
        pinned=pinned,
        yields=yields_of(rule, lost),
        trial_rule=TrialRule(
            least_pieces=trials.least_pieces,
            most_pieces=trials.most_pieces,
            share_percent=trials.share_percent,
        ),
        sure_percent=rule.sure_percent or 0,
        past=past_of(rule, lines=lines, found=lost),
    )
    found = blocked.causes(problem=problem, lines=wanted)
    if found:
        raise BadProblem(*found)
    return Question(problem=problem, remarks=tuple(remarks))


def plan_rule() -> PlanRule:
    """The yields that plans reckon with; an unsaved row of defaults before anyone has said them."""
    return PlanRule.objects.filter(pk=1).first() or PlanRule(pk=1)


def lines_by_kind() -> dict[Kind, Line]:
    """Every line of the catalogue by what a pot of it is."""
    lines = Line.objects.select_related("form", "clay_lot", "coats", "schedule")
    return {kind_of(line): line for line in lines}


def dates_in_sight(
    *, today_date: date, now: datetime | None, last_date: date | None, remarks: list[str]
) -> list[needs.Need]:
    """The dates that a plan is for; tells in ``remarks`` those that are too far off.

    Raises ``BadProblem`` when there is none.
    """
    dates = dates_from(today_date=today_date, now=now)
    if not dates:
        ready = is_anything_promised(today_date=today_date, now=now)
        raise BadProblem(ALL_READY if ready else NOTHING_PROMISED)
    end = last_date or today_date + timedelta(days=MOST_DAYS)
    if end < today_date:
        raise BadProblem(f"{say_date(end)} is past: a plan ends today or later.")
    near = [dated for dated in dates if dated.due_date <= end]
    later = [dated for dated in dates if dated.due_date > end]
    if not near:
        raise BadProblem(
            f"Nothing is promised from today to {say_date(end)}; the next date is "
            f"{later[0].name} on {say_date(later[0].due_date)}."
        )
    if later:
        remarks.append(
            f"{', '.join(d.name for d in later)}: later than {say_date(end)}, not planned yet."
        )
    return near


def last_day(*, dates: list[needs.Need], today_date: date, last_date: date | None) -> date:
    """The last day that a plan for these dates looks at."""
    after_the_last = max(dated.due_date for dated in dates) + timedelta(days=1)
    return last_date or max(after_the_last, today_date + timedelta(days=LEAST_DAYS))


def days_of(*, today_date: date, last_date: date) -> tuple[HandsDay, ...]:
    """What each day gives in hands."""
    week = {hands.weekday: hands for hands in Hands.objects.all()}
    off = set(
        DayOff.objects.filter(date__range=(today_date, last_date)).values_list("date", flat=True)
    )
    days = []
    for i in range((last_date - today_date).days + 1):
        day = today_date + timedelta(days=i)
        hands = week.get(day.weekday())
        works = hands is not None and day not in off
        days.append(
            HandsDay(
                date=day,
                throwing_min=hands.throwing_min if hands and works else 0,
                glazing_min=hands.glazing_min if hands and works else 0,
                finishing_min=hands.finishing_min if hands and works else 0,
                may_start=hands.may_start if hands and works else False,
            )
        )
    return tuple(days)


def need_of(need: needs.Need) -> Need:
    """A date as the planner knows it."""
    return Need(
        key=need.key,
        name=need.name,
        due_date=need.due_date,
        buffer_days=need.buffer_days,
        importance=need.importance,
        counts=tuple((str(ask.line.pk), ask.count) for ask in need.lines),
    )


def _line(line: Line, name: str, tried: list[KilnTrial]) -> PlanLine:
    return PlanLine(
        key=str(line.pk),
        name=name,
        ware_key=stock.ware_key(line.form_id, line.clay_lot_id),
        schedule_key=str(line.schedule_id),
        # A line whose trial was opened needs no second one, and takes a share of a kiln.
        proven=line.standing != Line.Standing.UNTRIED,
        on_trial=line.standing == Line.Standing.TRIAL,
        trial_kilns=tuple(str(one.kiln_id) for one in tried if one.line_id == line.pk),
    )


def _lines_of(pinned: tuple[Load, ...], lines: Iterable[Line]) -> dict[str, Line]:
    held = {key for load in pinned if load.schedule_key != BISQUE for key, _ in load.contents}
    return {str(line.pk): line for line in lines if str(line.pk) in held}


def _wares(lines: Iterable[Line], pinned: tuple[Load, ...]) -> tuple[Ware, ...]:
    kinds = {(line.form_id, line.clay_lot_id) for line in lines}
    for load in pinned:
        if load.schedule_key == BISQUE:
            for key, _ in load.contents:
                form, clay_lot = key.split("-")
                kinds.add((int(form), int(clay_lot)))
    forms = Form.objects.in_bulk([form for form, _ in kinds])
    clay_lots = ClayLot.objects.in_bulk([clay_lot for _, clay_lot in kinds])
    pairs = [(forms[form], clay_lots[clay_lot]) for form, clay_lot in sorted(kinds)]
    names = ware_names(pairs)
    return tuple(
        Ware(
            key=stock.ware_key(form.pk, clay_lot.pk),
            name=names[stock.ware_key(form.pk, clay_lot.pk)],
            room_tenths=form.room_tenths,
            height_mm=going_in_mm(
                fired_mm=form.height_mm, shrinkage_permille=clay_lot.shrinkage_permille
            ),
            throwing_min=form.throwing_min,
            glazing_min=form.glazing_min,
            finishing_min=form.finishing_min,
            drying_days=form.drying_days,
        )
        for form, clay_lot in pairs
    )


def on_hand(*, groups: list[stock.Group], wanted: dict[str, Line]) -> tuple[OnHand, ...]:
    """The free pots that could become one of the wanted lines."""
    keys: dict[Kind | str, str] = {kind_of(line): key for key, line in wanted.items()}
    for line in wanted.values():
        ware = stock.ware_key(line.form_id, line.clay_lot_id)
        keys[ware] = ware
    counted: Counter[tuple[Stage, str, date]] = Counter()
    for group in groups:
        glazed = stock.is_glazed(group.kind)
        key = keys.get(group.kind if glazed else stock.ware_key_of(group.kind))
        if key is not None:
            counted[Stage(group.stage), key, group.ready_date] += group.count
    return tuple(
        OnHand(stage=stage, key=key, count=count, ready_date=ready)
        for (stage, key, ready), count in sorted(counted.items())
    )
