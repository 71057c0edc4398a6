"""What is planned, what does the plan in force ask today, and what does the planner ask?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count

from studio.craft.problem import BadProblem, Plan, Problem
from studio.planning.models import BackPlan, Task
from studio.planning.question import LEAST_DAYS, ask
from studio.planning.rules import say_date
from studio.planning.serial import plan_from_json, problem_from_json
from studio.wares.models import Move, Stage


def problem(*, today_date: date, last_date: date | None = None) -> Problem:
    """The planner's question of today. Raises ``BadProblem`` when no plan could be sought."""
    return ask(today_date=today_date, last_date=last_date).problem


def proposed() -> BackPlan | None:
    """The plan that waits to be accepted, if there is one."""
    return BackPlan.objects.filter(state=BackPlan.State.PROPOSED).select_related("by").first()


def in_force() -> BackPlan | None:
    """The plan that was accepted, if there is one."""
    return BackPlan.objects.filter(state=BackPlan.State.ACCEPTED).select_related("by").first()


def stored(backplan: BackPlan) -> tuple[Problem, Plan, tuple[str, ...]]:
    """The question, the answer and the remarks of a stored plan. Raises ``serial.BadRecord``."""
    kept = dict(backplan.problem)
    remarks = tuple(str(remark) for remark in kept.pop("remarks", []))
    return problem_from_json(kept), plan_from_json(backplan.plan), remarks


def drift(*, backplan: BackPlan, today_date: date) -> str:
    """How the studio has moved on since a plan was worked out, in a sentence; '' when it has not.

    Such a plan may still be put in force: whoever does it should know.
    """
    before = stored(backplan)[0]
    try:
        now = ask(today_date=today_date, last_date=_looked_less_far(before)).problem
    except BadProblem:
        return (
            "Since this plan was worked out the records have changed so that none could be "
            "worked out now. Work it out again to see why."
        )
    moved = [
        words
        for differs, words in (
            (before.today_date != today_date, f"today is no longer {say_date(before.today_date)}"),
            (_pots(before) != _pots(now), "pots have moved"),
            (before.needs != now.needs, "what is promised has changed"),
            (_days(before, now) != _days(now, before), "the hands or days off have changed"),
            (before.kilns != now.kilns, "the kilns have changed"),
        )
        if differs
    ]
    if not moved:
        return ""
    listed = " and ".join([", ".join(moved[:-1]), moved[-1]] if moved[:-1] else moved)
    return f"Since this plan was worked out, {listed}. Work it out again to be sure."


def _looked_less_far(problem: Problem) -> date | None:
    """The last day, when somebody asked for a plan that leaves later dates out."""
    last_due = max(need.due_date for need in problem.needs)
    usual = max(last_due + timedelta(days=1), problem.today_date + timedelta(days=LEAST_DAYS))
    return problem.last_date if problem.last_date < usual else None


def _pots(problem: Problem) -> Counter[tuple[str, str]]:
    counted: Counter[tuple[str, str]] = Counter()
    for hand in problem.on_hand:
        counted[hand.stage.value, hand.key] += hand.count
    for load in problem.pinned:
        if load.filled:
            for key, count in load.contents:
                counted[f"kiln {load.kiln_key} {load.schedule_key}", key] += count
    return counted


def _days(problem: Problem, other: Problem) -> list[object]:
    first = max(problem.today_date, other.today_date)
    last = min(problem.last_date, other.last_date)
    return [day for day in problem.days if first <= day.date <= last]


@dataclass(frozen=True, kw_only=True, slots=True)
class DueWork:
    """Something the plan in force asks today, or asked before and does not see done."""

    text: str
    detail: str
    count: int
    is_late: bool
    url_name: str
    url_args: tuple[int, ...] = ()


Kind = tuple[int, int, int | None, int | None]
VERBS = {
    Task.Work.THROWING: "Throw",
    Task.Work.GLAZING: "Glaze",
    Task.Work.FINISHING: "Grade and list",
}
DONE_BY = {
    Task.Work.THROWING: Stage.THROWN,
    Task.Work.GLAZING: Stage.GLAZED,
    Task.Work.FINISHING: Stage.GRADED,
}


def due_work(*, today_date: date) -> list[DueWork]:
    """What the plan in force asks today and what is late, late first.

    Compared by counts: what the plan asked up to a day against the steps that pots took since the
    plan was worked out. A pot thrown for another purpose covers a task of its kind all the same.
    """
    backplan = in_force()
    if backplan is None:
        return []
    done = _done_since(backplan)
    asked_before: Counter[tuple[str, Kind]] = Counter()
    asked_today: Counter[tuple[str, Kind]] = Counter()
    first_late: dict[tuple[str, Kind], Task] = {}
    names: dict[tuple[str, Kind], str] = {}
    tasks = backplan.tasks.filter(date__lte=today_date).select_related("form", "clay_lot", "coats")
    for task in tasks:
        key = task.work, (task.form_id, task.clay_lot_id, task.coats_id, task.schedule_id)
        names[key] = f"{task.form} in {task.coats}" if task.coats else str(task.form)
        (asked_today if task.date == today_date else asked_before)[key] += task.count
        if asked_before[key] > done[key]:
            first_late.setdefault(key, task)
    return sorted(
        _due(names, asked_before, asked_today, done, first_late),
        key=lambda work: not work.is_late,
    )


def _due(
    names: dict[tuple[str, Kind], str],
    asked_before: Counter[tuple[str, Kind]],
    asked_today: Counter[tuple[str, Kind]],
    done: Counter[tuple[str, Kind]],
    first_late: dict[tuple[str, Kind], Task],
) -> Iterator[DueWork]:
    for key, name in names.items():
        work, _ = key
        late = max(0, asked_before[key] - done[key])
        left = max(0, asked_before[key] + asked_today[key] - done[key]) - late
        verb = VERBS[Task.Work(work)]
        where = "wares:throw" if work == Task.Work.THROWING else "wares:boards"
        if late:
            since = first_late[key].date
            yield DueWork(
                text=f"{verb} {late} {name}",
                detail=f"the plan asked for it by {since:%a} {since.day} {since:%b}",
                count=late,
                is_late=True,
                url_name=where,
            )
        if left:
            yield DueWork(
                text=f"{verb} {left} {name}",
                detail="today, by the plan",
                count=left,
                is_late=False,
                url_name=where,
            )


def _done_since(backplan: BackPlan) -> Counter[tuple[str, Kind]]:
    """Steps that pots took since a plan was worked out; a step that was undone does not count."""
    done: Counter[tuple[str, Kind]] = Counter()
    for work, stage in DONE_BY.items():
        rows = (
            Move.objects.filter(
                to_stage=stage,
                kind__in=[Move.Kind.MADE, Move.Kind.STEP],
                at__gte=backplan.made_at,
                change__undone_by__isnull=True,
            )
            .order_by()
            .values_list(
                "piece__form_id", "piece__clay_lot_id", "piece__coats_id", "piece__schedule_id"
            )
            .annotate(count=Count("id"))
        )
        for form, clay_lot, coats, schedule, count in rows:
            if work == Task.Work.THROWING:
                done[work, (form, clay_lot, None, None)] += count
            else:
                done[work, (form, clay_lot, coats, schedule)] += count
    return done
