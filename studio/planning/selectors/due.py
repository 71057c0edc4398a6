"""What does the plan in force ask today, and what of it is late?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from django.db.models import Count

from studio.planning.models import BackPlan, Task
from studio.planning.selectors.plans import in_force
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Move, Piece, Stage


@dataclass(frozen=True, kw_only=True, slots=True)
class DueWork:
    """Something the plan in force asks today, or asked before and does not see done.

    ``text`` names the work and the ware; how many stands in ``count`` alone.
    """

    text: str
    detail: str
    count: int
    is_late: bool
    url_name: str
    url_args: tuple[int, ...] = ()
    query: str = ""


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
    Of graded pots only firsts cover a task: the plan asks for what can be listed.
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
        key = task.work, kind_of(task)
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
        if late:
            where, asks = _door(key, late)
            since = first_late[key].date
            yield DueWork(
                text=f"{verb} {name}",
                detail=f"the plan asked for it by {since:%a} {since.day} {since:%b}",
                count=late,
                is_late=True,
                url_name=where,
                query=asks,
            )
        if left:
            where, asks = _door(key, left)
            yield DueWork(
                text=f"{verb} {name}",
                detail="today, by the plan",
                count=left,
                is_late=False,
                url_name=where,
                query=asks,
            )


def _door(key: tuple[str, Kind], count: int) -> tuple[str, str]:
    """Answer the page where a task is done and what it is to be filled in with."""
    work, kind = key
    if work != Task.Work.THROWING:
        return "wares:boards", ""
    asks = {"form": kind.form_id, "clay_lot": kind.clay_lot_id, "count": count}
    return "wares:throw", f"?{urlencode(asks)}"


def _done_since(backplan: BackPlan) -> Counter[tuple[str, Kind]]:
    """Steps that pots took since a plan was worked out; a step that was undone does not count."""
    done: Counter[tuple[str, Kind]] = Counter()
    for work, stage in DONE_BY.items():
        moves = Move.objects.all()
        if work == Task.Work.FINISHING:
            moves = moves.filter(piece__grade=Piece.Grade.FIRST)
        rows = (
            moves.filter(
                to_stage=stage,
                kind__in=[Move.Kind.MADE, Move.Kind.STEP],
                at__gte=backplan.made_at,
                change__undone_by__isnull=True,
            )
            .order_by()
            .values_list(*(f"piece__{part}" for part in Kind._fields))
            .annotate(count=Count("id"))
        )
        for *parts, count in rows:
            kind = Kind(*parts)
            if work == Task.Work.THROWING:
                kind = kind._replace(coats_id=None, schedule_id=None)
            done[work, kind] += count
    return done
