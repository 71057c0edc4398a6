"""Where does a plan draw its kilns, its hands and what comes towards each date?"""

from __future__ import annotations

from dataclasses import dataclass

from studio.craft import plan_reading as reading
from studio.craft.answer import Plan
from studio.craft.plan_labour import LabourDay, labour_days
from studio.craft.plan_stock import STAGES, Towards, towards
from studio.craft.problem import BISQUE, Load, Problem
from studio.drawing.labour import Labour
from studio.drawing.stock_lines import StockLines
from studio.drawing.strip import Strip, StripLoad

WORKS = ("throw", "glaze", "grade, list")
"""What the three kinds of work are called where room is short."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StockDrawing:
    """What comes towards one date, drawn and in rows."""

    towards: Towards
    lines: StockLines
    uid: str


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


def labour(*, problem: Problem, plan: Plan) -> tuple[Labour, tuple[LabourDay, ...]]:
    """Minutes given and asked by day: the drawing, and the days that give or ask any."""
    days = labour_days(problem=problem, plan=plan)
    drawn = Labour.of(names=WORKS, days=[(d.date, d.given_min, d.asked_min) for d in days])
    return drawn, tuple(day for day in days if any(day.given_min) or any(day.asked_min))


def stock_drawings(*, problem: Problem, plan: Plan) -> list[StockDrawing]:
    """One drawing for each date, soonest first."""
    return [
        StockDrawing(
            towards=row,
            uid=f"stock-{n}",
            lines=StockLines.of(
                name=row.name,
                stages=[stage.value for stage in STAGES],
                days=row.days,
                due_date=row.due_date,
                wanted=row.asked,
            ),
        )
        for n, row in enumerate(towards(problem=problem, plan=plan))
    ]


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
