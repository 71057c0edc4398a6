"""What stands on a plan's page and on its paper?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from studio.craft import plan_reading as reading
from studio.craft.answer import Plan
from studio.craft.plan_changes import ChangeKind, change_words
from studio.craft.plan_changes import changes as loads_changed
from studio.craft.plan_labour import LabourDay, Use, hands_used, kiln_days_used
from studio.craft.plan_odds import SURE_PERCENT
from studio.craft.plan_reading import CauseRow, FiringRow, KeptRow, WorkDay
from studio.craft.plan_record import BadRecord
from studio.craft.plan_shortage import firing_more_words, most_words, outcome_words
from studio.craft.plan_slack import throw_by
from studio.craft.problem import Problem
from studio.drawing.labour import Labour
from studio.drawing.strip import Strip
from studio.firings.models import Firing, Schedule
from studio.planning import rules
from studio.planning.models import BackPlan
from studio.planning.selectors import parts
from studio.planning.selectors.drawings import StockDrawing, labour, stock_drawings, strip
from studio.planning.selectors.moved import drift, overtaken
from studio.planning.selectors.packs import NO_ROOM
from studio.planning.selectors.plans import stored
from studio.planning.selectors.standing import StandRow, stand_rows
from studio.planning.selectors.sureness import Choice, choice_of, in_all
from studio.planning.selectors.words import gets, proof, say_sure

SOON = timedelta(days=7)
FIRST_DAYS = 3
_COUNTED = f"{ChangeKind.COUNTED.capitalize()}: "


@dataclass(frozen=True, kw_only=True, slots=True)
class ThrowByRow:
    """So many of a line to throw for its next date, and the last day early enough for it."""

    line: str
    count: int
    need: str
    due_date: date
    latest_date: date | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Shortage:
    """What a plan does not bring: how sure that is, how much can be had, what would help."""

    rows: list[KeptRow]
    outcome: str
    most: str
    causes: list[CauseRow]
    firings_more: tuple[str, ...]
    hands: tuple[Use, ...]
    kiln_days: tuple[Use, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanPage:
    """A stored plan in words, rows and drawings."""

    backplan: BackPlan
    today_date: date
    headline: str
    proof: str
    cost_pence: int
    choice: Choice | None
    shortage: Shortage | None
    strip: Strip | None
    labour: Labour
    labour_days: tuple[LabourDay, ...]
    stock: list[StockDrawing]
    firings: list[FiringRow]
    drawn: frozenset[tuple[date, str]]
    not_needed: list[Firing]
    days: list[WorkDay]
    kept: list[KeptRow]
    sure_percent: int
    by_record: bool
    how_sure: str
    throw_by: list[ThrowByRow]
    standing: list[StandRow]
    changes: list[str]
    notices: tuple[str, ...]
    remarks: tuple[str, ...]
    drift: str
    why_not_accept: str
    why_not_put_aside: str
    load_parts: list[parts.Part]
    job_parts: list[parts.DayOfParts]

    @property
    def throwing(self) -> list[WorkDay]:
        """The days at the wheel."""
        return [day for day in self.days if day.throwing]

    @property
    def this_week(self) -> list[WorkDay]:
        """What is to be done in the next seven days."""
        return [day for day in self.days if day.date < self.today_date + SOON]

    @property
    def first_days(self) -> list[WorkDay]:
        """Of this week, the days that are shown open."""
        return self.this_week[:FIRST_DAYS]

    @property
    def rest_of_week(self) -> list[WorkDay]:
        """Of this week, the days after those."""
        return self.this_week[FIRST_DAYS:]

    @property
    def firings_changed(self) -> list[str]:
        """The firings that are new, moved or dropped."""
        return [said for said in self.changes if not said.startswith(_COUNTED)]

    @property
    def counts_changed(self) -> list[str]:
        """The firings that stay and hold something else."""
        return [said.removeprefix(_COUNTED) for said in self.changes if said.startswith(_COUNTED)]

    @property
    def later(self) -> list[WorkDay]:
        """What comes after that."""
        return [day for day in self.days if day.date >= self.today_date + SOON]

    @property
    def gets(self) -> list[tuple[KeptRow, str, int]]:
        """What each date gets of each line, in words, and how many more would make it surer."""
        rows = [(row, gets(row)) for row in self.kept]
        # What rounds to the words of the wish asks for no more.
        return [(row, said, 0 if self.sure in said else row.more_to_be_sure) for row, said in rows]

    @property
    def sure(self) -> str:
        """How sure a date should be, in words."""
        return say_sure(self.sure_percent or SURE_PERCENT)

    @property
    def firing_rows(self) -> list[tuple[FiringRow, bool, str]]:
        """The firings, whether each fills under a third of its kiln, and whether it was drawn."""
        return [(row, is_little(row), self._drawn(row)) for row in self.firings]

    def _drawn(self, row: FiringRow) -> str:
        if row.standing not in ("new", "kept"):
            return ""
        if (row.start_date, row.kiln) in self.drawn:
            return "packed piece by piece, all stands"
        return "counted in places, not packed whole"

    @property
    def labour_rows(self) -> list[tuple[date, list[tuple[int, int]]]]:
        """Minutes asked and given of each kind of work, by day."""
        return [
            (day.date, list(zip(day.asked_min, day.given_min, strict=True)))
            for day in self.labour_days
        ]


def is_little(row: FiringRow) -> bool:
    """Does a firing of the plan fill less than a third of its kiln?"""
    return row.standing in ("new", "kept") and row.used_percent <= parts.LITTLE_PERCENT


def schedule_names() -> dict[str, str]:
    """The schedules' names by the planner's key."""
    return {str(schedule.pk): schedule.name for schedule in Schedule.objects.all()}


def plan_page(*, backplan: BackPlan, now: datetime) -> PlanPage:
    """Read a stored plan for its page. Raises ``BadRecord`` when another version stored it."""
    today_date = timezone.localdate(now)
    problem, plan, remarks = stored(backplan)
    loads, jobs = parts.left_out(backplan)
    in_part = parts.taken(plan=plan, loads=loads, jobs=jobs)
    schedules = schedule_names()
    moved = {BackPlan.State.PROPOSED: drift, BackPlan.State.ACCEPTED: overtaken}.get(
        BackPlan.State(backplan.state)
    )
    hands, hand_days = labour(problem=problem, plan=in_part)
    proposed = backplan.state == BackPlan.State.PROPOSED
    return PlanPage(
        backplan=backplan,
        today_date=today_date,
        headline=reading.headline(problem=problem, plan=plan),
        proof=proof(problem=problem, plan=plan),
        cost_pence=plan.cost_pence,
        choice=choice_of(backplan, problem=problem, plan=plan),
        shortage=shortage(problem=problem, plan=plan, schedules=schedules),
        strip=strip(problem=problem, plan=in_part),
        labour=hands,
        labour_days=hand_days,
        stock=stock_drawings(problem=problem, plan=in_part),
        firings=reading.firing_rows(problem=problem, plan=in_part, schedules=schedules),
        drawn=parts.drawn(backplan, problem=problem, plan=plan),
        not_needed=parts.not_needed(problem=problem, plan=plan),
        days=[
            day
            for day in reading.work_days(problem=problem, plan=in_part, schedules=schedules)
            if day.date >= today_date  # what was asked before and is late stands on Today
        ],
        kept=reading.kept_rows(problem=problem, plan=plan),
        sure_percent=problem.sure_percent,
        by_record=bool(problem.past),
        how_sure=in_all(problem=problem, plan=plan),
        throw_by=throw_by_rows(problem),
        standing=stand_rows(today_date=today_date, now=now),
        changes=changes(backplan=backplan, problem=problem, plan=plan, schedules=schedules),
        notices=(
            *_in_part(plan, len(loads), len(jobs)),
            *(remark for remark in remarks if _presses(remark)),
        ),
        remarks=tuple(remark for remark in remarks if not _presses(remark)),
        drift=moved(backplan=backplan, today_date=today_date, now=now) if moved else "",
        why_not_accept=rules.why_not_accept(
            state=backplan.state,
            first_start_date=min((load.start_date for load in plan.loads), default=None),
            today_date=today_date,
        ),
        why_not_put_aside=rules.why_not_put_aside(state=backplan.state),
        load_parts=parts.load_parts(problem=problem, plan=plan, schedules=schedules)
        if proposed
        else [],
        job_parts=parts.job_parts(problem=problem, plan=plan) if proposed else [],
    )


def _presses(remark: str) -> bool:
    """Is it to be known before the plan is taken: a search that was ended, a pot without room?"""
    return remark.startswith(rules.SEARCH_ENDED) or NO_ROOM in remark


def _in_part(plan: Plan, loads: int, jobs: int) -> tuple[str, ...]:
    if not loads and not jobs:
        return ()
    return (
        f"Taken in part: {loads} of its {len(plan.loads)} firings and {jobs} of its "
        f"{len(plan.jobs)} pieces of work were left out. What each date gets is told as if they "
        "were done.",
    )


def shortage(*, problem: Problem, plan: Plan, schedules: dict[str, str]) -> Shortage | None:
    """What falls short and what would help; none when nothing does."""
    if not plan.short:
        return None
    return Shortage(
        rows=[row for row in reading.kept_rows(problem=problem, plan=plan) if row.short],
        outcome=outcome_words(problem=problem, plan=plan),
        most=most_words(problem=problem, plan=plan),
        causes=list(reading.cause_rows(plan)),
        firings_more=firing_more_words(problem=problem, plan=plan, schedules=schedules),
        hands=hands_used(problem=problem, plan=plan),
        kiln_days=kiln_days_used(problem=problem, plan=plan),
    )


def throw_by_rows(problem: Problem) -> list[ThrowByRow]:
    """What must still be thrown for each line's next date, the most pressing first."""
    lines = {line.key: line.name for line in problem.lines}
    needs = {need.key: need for need in problem.needs}
    return [
        ThrowByRow(
            line=lines[row.line_key],
            count=row.count,
            need=needs[row.need_key].name,
            due_date=needs[row.need_key].due_date,
            latest_date=row.latest_date,
        )
        for row in throw_by(problem=problem)
    ]


def changes(
    *, backplan: BackPlan, problem: Problem, plan: Plan, schedules: dict[str, str]
) -> list[str]:
    """What is different from the plan that was in force when this one was worked out."""
    if backplan.follows is None:
        return []
    try:
        _, before, _ = stored(backplan.follows)
    except BadRecord:
        return []
    loads, jobs = parts.left_out(backplan.follows)
    found = loads_changed(
        before=parts.taken(plan=before, loads=loads, jobs=jobs).loads,
        # A kept firing that this plan does not fill stays in the book, and holds nothing.
        after=(*plan.loads, *parts.emptied(problem=problem, plan=plan)),
        today_date=backplan.today_date,
    )
    return [change_words(change=one, problem=problem, schedules=schedules) for one in found]


def unreadable(backplan: BackPlan) -> str:
    """Why a stored plan cannot be shown; '' when it can."""
    try:
        stored(backplan)
    except BadRecord:
        return "This plan was stored by another version and cannot be read. Work out a new one."
    return ""
