"""What does the plan in force ask today, and what of it is late?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from urllib.parse import urlencode

from django.db.models import Count

from studio.craft.plan_record import BadRecord
from studio.drawing.strip import short_date
from studio.planning.models import BackPlan, Task
from studio.planning.selectors.moved import WORK_OUT, overtaken
from studio.planning.selectors.plans import in_force, proposed
from studio.planning.selectors.slips import Lacking, lacking
from studio.planning.selectors.stock import ware_key_of
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Line, Move, Piece, Stage
from studio.wares.selectors import Group, boards_now


@dataclass(frozen=True, kw_only=True, slots=True)
class DueWork:
    """Something the plan in force asks today, or asked before and does not see done.

    ``text`` names the work and the ware; how many stands in ``count`` alone.
    """

    text: str
    detail: str
    count: int | None
    is_late: bool
    url_name: str
    url_args: tuple[int, ...] = ()
    query: str = ""


VERBS = {
    Task.Work.THROWING: "Throw",
    Task.Work.GLAZING: "Glaze",
    Task.Work.FINISHING: "Grade and list",
}
NEEDS = {Task.Work.GLAZING: Stage.BISQUED, Task.Work.FINISHING: Stage.FIRED}
Wanted = tuple[str, Kind]
DONE_BY = {
    Task.Work.THROWING: Stage.THROWN,
    Task.Work.GLAZING: Stage.GLAZED,
    Task.Work.FINISHING: Stage.GRADED,
}


def due_work(*, today_date: date, now: datetime | None = None) -> list[DueWork]:
    """What the plan in force asks today and what is late, late first.

    Before all, where the plan no longer holds: why, and the way to another one.

    Compared by counts: what the plan asked up to a day against the steps that pots took since the
    plan was worked out. A pot thrown for another purpose covers a task of its kind all the same.
    Of graded pots only firsts cover a task: the plan asks for what can be listed.

    Glazing and grading lead to the boards that stand ready for it, each with what it holds; what
    is asked beyond that is said apart, because no hand can do it yet.
    """
    backplan = in_force()
    if backplan is None:
        return []
    done = _done_since(backplan)
    asked_before: Counter[Wanted] = Counter()
    asked_today: Counter[Wanted] = Counter()
    first_late: dict[Wanted, Task] = {}
    names: dict[Wanted, str] = {}
    tasks = backplan.tasks.filter(date__lte=today_date).select_related("form", "clay_lot", "coats")
    for task in tasks:
        key = task.work, kind_of(task)
        names[key] = f"{task.form} in {task.coats}" if task.coats else str(task.form)
        (asked_today if task.date == today_date else asked_before)[key] += task.count
        if asked_before[key] > done[key]:
            first_late.setdefault(key, task)
    doors = _Doors(names)
    waiting = lacking(today_date=today_date)
    late = [_slipped(one) for one in waiting if one.latest_date < today_date]
    today: list[DueWork] = []
    for key in names:
        behind = max(0, asked_before[key] - done[key])
        left = max(0, asked_before[key] + asked_today[key] - done[key]) - behind
        if behind:
            since = first_late[key].date
            detail = f"the plan asked for it by {short_date(since)}"
            if pressing := _pressing(key, waiting):
                detail += f"; after {pressing} it is too late"
            late += doors.lead(key, behind, detail, is_late=True)
        if left:
            today += doors.lead(key, left, "today, by the plan", is_late=False)
    return _no_longer_holds(backplan, today_date, now) + late + today


def _no_longer_holds(backplan: BackPlan, today_date: date, now: datetime | None) -> list[DueWork]:
    try:
        why = overtaken(backplan=backplan, today_date=today_date, now=now)
    except BadRecord:
        return []
    if not why:
        return []
    waits = proposed()
    if waits is not None and waits.follows_id == backplan.pk:
        why = f"{why.removesuffix(WORK_OUT)} A new plan waits for your word."
    return [
        DueWork(
            text="The plan no longer holds",
            detail=why,
            count=None,
            is_late=False,
            url_name="planning:plan",
            query="" if waits else "#work-out",
        )
    ]


def _slipped(one: Lacking) -> DueWork:
    """A line that slips: throwing is past, so what helps is to work the plan out again."""
    return DueWork(
        text=f"{one.line} slips",
        detail=(
            f"for {one.need} it had to be thrown by {short_date(one.latest_date)}; "
            "work the plan out again"
        ),
        count=one.count,
        is_late=True,
        url_name="planning:plan",
        query="#work-out",
    )


def _pressing(key: Wanted, waiting: list[Lacking]) -> str:
    """The first day after which late throwing comes too late for a date; '' for other work."""
    work, kind = key
    if work != Task.Work.THROWING:
        return ""
    days = [one.latest_date for one in waiting if one.ware_key == ware_key_of(kind)]
    return short_date(min(days)) if days else ""


class _Doors:
    """Where each task is done: the form for throwing, else the boards that stand ready."""

    def __init__(self, names: Mapping[Wanted, str]) -> None:
        self.names = names
        by_hand = any(work != Task.Work.THROWING for work, _ in names)
        self.ready = [g for g in boards_now() if g.firing_id is None and g.form] if by_hand else []
        self.left = [group.count for group in self.ready]
        self.lines = {kind_of(line): line.pk for line in Line.objects.all()} if by_hand else {}

    def lead(self, key: Wanted, count: int, detail: str, *, is_late: bool) -> Iterator[DueWork]:
        """Share a count out over the places where it can be done."""
        work, kind = key
        text = f"{VERBS[Task.Work(work)]} {self.names[key]}"
        if work == Task.Work.THROWING:
            asks = {"form": kind.form_id, "clay_lot": kind.clay_lot_id, "count": count}
            yield DueWork(
                text=text,
                detail=detail,
                count=count,
                is_late=is_late,
                url_name="wares:throw",
                query=f"?{urlencode(asks)}",
            )
            return
        for i, group in enumerate(self.ready):
            taken = min(count, self.left[i])
            if not taken or not _stands_ready(group, work, kind):
                continue
            self.left[i] -= taken
            count -= taken
            asks = {"line": self.lines.get(kind, 0), "count": taken}
            glazing = work == Task.Work.GLAZING
            yield DueWork(
                text=f"{text}, {group.board.label}",
                detail=detail,
                count=taken,
                is_late=is_late,
                url_name="wares:glaze" if glazing else "wares:grade",
                url_args=(group.board.pk,),
                query=f"?{urlencode(asks)}" if glazing else "",
            )
        if count:
            stage = NEEDS[Task.Work(work)].label.lower()
            yield DueWork(
                text=text,
                detail=f"{detail}; no more of it stands {stage} yet",
                count=count,
                is_late=is_late,
                url_name="wares:boards",
            )


def _stands_ready(group: Group, work: str, kind: Kind) -> bool:
    if group.stage != NEEDS[Task.Work(work)]:
        return False
    mine = kind_of(group)
    return mine == kind or (
        work == Task.Work.GLAZING
        and (mine.form_id, mine.clay_lot_id) == (kind.form_id, kind.clay_lot_id)
    )


def _done_since(backplan: BackPlan) -> Counter[Wanted]:
    """Steps that pots took since a plan was worked out; a step that was undone does not count."""
    done: Counter[Wanted] = Counter()
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
