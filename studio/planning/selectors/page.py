"""What stands on a plan's page and on its paper?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from studio.craft import plan_reading as reading
from studio.craft.answer import Plan
from studio.craft.plan_reading import CauseRow, FiringRow, KeptRow, WorkDay
from studio.craft.plan_record import BadRecord
from studio.craft.problem import BISQUE, Load, Problem
from studio.drawing.strip import Strip, StripLoad
from studio.firings.models import Schedule
from studio.planning import rules
from studio.planning.models import BackPlan
from studio.planning.selectors.moved import drift, overtaken
from studio.planning.selectors.plans import stored
from studio.planning.selectors.standing import StandRow, stand_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanPage:
    """A stored plan in words, rows and a drawing."""

    backplan: BackPlan
    headline: str
    proof: str
    may_find_more: bool
    cost_pence: int
    strip: Strip | None
    firings: list[FiringRow]
    days: list[WorkDay]
    kept: list[KeptRow]
    causes: list[CauseRow]
    standing: list[StandRow]
    remarks: tuple[str, ...]
    drift: str
    why_not_accept: str
    why_not_put_aside: str

    @property
    def short(self) -> list[KeptRow]:
        """What falls short."""
        return [row for row in self.kept if row.short]

    @property
    def throwing(self) -> list[WorkDay]:
        """The days at the wheel."""
        return [day for day in self.days if day.throwing]


def plan_page(*, backplan: BackPlan, now: datetime) -> PlanPage:
    """Read a stored plan for its page. Raises ``BadRecord`` when another version stored it."""
    today_date = timezone.localdate(now)
    problem, plan, remarks = stored(backplan)
    schedules = {str(schedule.pk): schedule.name for schedule in Schedule.objects.all()}
    moved = {BackPlan.State.PROPOSED: drift, BackPlan.State.ACCEPTED: overtaken}.get(
        BackPlan.State(backplan.state)
    )
    return PlanPage(
        backplan=backplan,
        headline=reading.headline(problem=problem, plan=plan),
        proof=reading.proof(problem=problem, plan=plan),
        may_find_more=reading.is_open(plan),
        cost_pence=plan.cost_pence,
        strip=strip(problem=problem, plan=plan),
        firings=reading.firing_rows(problem=problem, plan=plan, schedules=schedules),
        days=[
            day
            for day in reading.work_days(problem=problem, plan=plan, schedules=schedules)
            if day.date >= today_date  # what was asked before and is late stands on Today
        ],
        kept=reading.kept_rows(problem=problem, plan=plan),
        causes=list(reading.cause_rows(plan)),
        standing=stand_rows(today_date=today_date, now=now),
        remarks=remarks,
        drift=moved(backplan=backplan, today_date=today_date, now=now) if moved else "",
        why_not_accept=rules.why_not_accept(
            state=backplan.state,
            first_start_date=min((load.start_date for load in plan.loads), default=None),
            today_date=today_date,
        ),
        why_not_put_aside=rules.why_not_put_aside(state=backplan.state),
    )


def unreadable(backplan: BackPlan) -> str:
    """Why a stored plan cannot be shown; '' when it can."""
    try:
        stored(backplan)
    except BadRecord:
        return "This plan was stored by another version and cannot be read. Work out a new one."
    return ""


def strip(*, problem: Problem, plan: Plan) -> Strip | None:
    """The kilns by day; none when there is no kiln."""
    if not problem.kilns:
        return None
    names = {kiln.key: kiln.name for kiln in problem.kilns}
    pinned = [
        load
        for load in problem.pinned
        if not any(reading.same_slot(load, other) for other in plan.loads)
    ]
    appointments = [load for load in problem.pinned if not load.filled]
    kept = [load for load in plan.loads if any(reading.same_slot(load, a) for a in appointments)]
    return Strip.of(
        kilns=[kiln.name for kiln in problem.kilns],
        loads=[
            StripLoad(
                kiln=names[load.kiln_key],
                start_date=load.start_date,
                busy_days=load.busy_days,
                kind="bisque" if load.schedule_key == BISQUE else "glaze",
                label=_label(problem, load),
                pinned=load in pinned or load in kept,
            )
            for load in (*plan.loads, *pinned)
        ],
        from_date=problem.today_date,
        to_date=problem.last_date,
        days_off=[
            day.date
            for day in problem.days
            if day.date.weekday() < 5
            and not (day.may_start or day.throwing_min or day.glazing_min or day.finishing_min)
        ],
        dates=[(need.due_date, need.name) for need in problem.needs],
    )


def _label(problem: Problem, load: Load) -> str:
    """'24 × Mug, 6 × Bowl', the most first."""
    names = {ware.key: ware.name for ware in problem.wares}
    names |= {line.key: line.name for line in problem.lines}
    if not load.filled:
        return "not needed"
    if not load.contents:
        return "empty"
    most_first = sorted(load.contents, key=lambda pair: (-pair[1], names[pair[0]]))
    return ", ".join(reading.counted(count, names[key]) for key, count in most_first)
