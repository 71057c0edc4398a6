"""How has the studio moved on since a plan was worked out, or put in force?

Only what a plan rests on is asked again (dates, hands, kilns, and for a proposal the pots), not the
whole question: these sentences stand on a page that is looked at all day.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from studio.craft.calendar import say_date
from studio.craft.problem import BadProblem, HandsDay, Need, PlanKiln, Problem
from studio.planning.models import BackPlan
from studio.planning.selectors import stock
from studio.planning.selectors.fixed import begun_loads
from studio.planning.selectors.kilns import plan_kilns
from studio.planning.selectors.lost import what_failed
from studio.planning.selectors.plans import stored
from studio.planning.selectors.question import (
    ALL_READY,
    LEAST_DAYS,
    NOTHING_PROMISED,
    dates_in_sight,
    days_of,
    last_day,
    lines_by_kind,
    need_of,
    on_hand,
)
from studio.wares.models import Line

WORK_OUT = " Work it out again."
NO_KILN = "There is no kiln any more."
Pots = Counter[tuple[str, str]]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Now:
    """What a plan of today would rest on."""

    today_date: date
    needs: tuple[Need, ...]
    days: tuple[HandsDay, ...]
    kilns: tuple[PlanKiln, ...]
    wanted: dict[str, Line]


def drift(*, backplan: BackPlan, today_date: date, now: datetime | None = None) -> str:
    """How the studio has moved on since a plan was worked out, in a sentence; '' when it has not.

    Such a plan may still be put in force: whoever does it should know.
    """
    before = stored(backplan)[0]
    try:
        today = _ask(before, today_date, now)
    except BadProblem:
        return (
            "Since this plan was worked out the records have changed so that none could be "
            "worked out now. Work it out again to see why."
        )
    moved = _told(
        (before.today_date != today_date, f"today is no longer {say_date(before.today_date)}"),
        (_pots_of(before) != _pots_now(today), "pots have moved"),
        (before.needs != today.needs, "what is promised has changed"),
        *_resources(before, today),
    )
    if not moved:
        return ""
    return f"Since this plan was worked out, {moved}. Work it out again to be sure."


def overtaken(*, backplan: BackPlan, today_date: date, now: datetime | None = None) -> str:
    """What a plan in force no longer reckons with, in a sentence; '' when it still holds.

    Pots that move and days that pass are what a plan is for; more promises, fewer hands, other
    kilns, a board lost and a firing that failed are not.
    """
    before, plan, _ = stored(backplan)
    try:
        today = _ask(before, today_date, now)
    except BadProblem as wrong:
        if set(wrong.causes) & {ALL_READY, NOTHING_PROMISED}:
            return ""  # all that the plan was for is done or past
        return "No plan could be worked out as things stand now. Work it out again to see why."
    changed = _told(
        (_asks_more(before, today), "more is promised than it reckons with"),
        *_resources(before, today),
        *(
            (True, words)
            for words in what_failed(
                backplan=backplan,
                problem=before,
                plan=plan,
                needs=today.needs,
                today_date=today_date,
            )
        ),
    )
    return f"Since this plan was put in force, {changed}.{WORK_OUT}" if changed else ""


def _ask(before: Problem, today_date: date, now: datetime | None) -> _Now:
    """Ask again what a plan rests on, as far ahead. Raises ``BadProblem`` when none could be."""
    last_date = _looked_less_far(before)
    dates = dates_in_sight(today_date=today_date, now=now, last_date=last_date, remarks=[])
    kilns = plan_kilns([])
    if not kilns:
        raise BadProblem(NO_KILN)
    last = last_day(dates=dates, today_date=today_date, last_date=last_date)
    return _Now(
        today_date=today_date,
        needs=tuple(need_of(need) for need in dates),
        days=days_of(today_date=today_date, last_date=last),
        kilns=kilns,
        wanted={str(ask.line.pk): ask.line for need in dates for ask in need.lines},
    )


def _resources(before: Problem, today: _Now) -> Iterable[tuple[bool, str]]:
    first = max(before.today_date, today.today_date)
    last = min(before.last_date, today.days[-1].date)
    hands = [[day for day in days if first <= day.date <= last]
             for days in (before.days, today.days)]  # fmt: skip
    yield hands[0] != hands[1], "the hands or days off have changed"
    yield before.kilns != today.kilns, "the kilns have changed"


def _told(*changes: tuple[bool, str]) -> str:
    """'a, b and c', of those that hold."""
    *first, last = [words for holds, words in changes if holds] or [""]
    return f"{', '.join(first)} and {last}" if first else last


def _asks_more(before: Problem, today: _Now) -> bool:
    reckoned = {(need.key, line): n for need in before.needs for line, n in need.counts}
    return any(
        n > reckoned.get((need.key, line), 0) for need in today.needs for line, n in need.counts
    )


def _looked_less_far(problem: Problem) -> date | None:
    """The last day, when somebody asked for a plan that leaves later dates out."""
    last_due = max(need.due_date for need in problem.needs)
    usual = max(last_due + timedelta(days=1), problem.today_date + timedelta(days=LEAST_DAYS))
    return problem.last_date if problem.last_date < usual else None


def _pots_of(problem: Problem) -> Pots:
    pots: Pots = Counter()
    for hand in problem.on_hand:
        pots[hand.stage.value, hand.key] += hand.count
    for load in problem.pinned:
        if load.filled:
            for key, count in load.contents:
                pots[f"kiln {load.kiln_key} {load.schedule_key}", key] += count
    return pots


def _pots_now(today: _Now) -> Pots:
    pots: Pots = Counter()
    groups = stock.free_groups(today_date=today.today_date)
    for hand in on_hand(groups=groups, wanted=today.wanted):
        pots[hand.stage.value, hand.key] += hand.count
    for load in begun_loads(today_date=today.today_date, by_kind=lines_by_kind()):
        for key, count in load.contents:
            pots[f"kiln {load.kiln_key} {load.schedule_key}", key] += count
    return pots
