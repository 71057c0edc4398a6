"""The plan on paper, for the wall of the studio."""

from __future__ import annotations

from studio.craft import plan_reading as reading
from studio.craft.answer import Plan, Work
from studio.craft.calendar import say_date
from studio.craft.plan_reading import FiringRow
from studio.craft.problem import Problem
from studio.drawing.paper import Paper
from studio.drawing.plan_sheets import Rows, plan_pdf
from studio.drawing.strip import short_date
from studio.planning.models import BackPlan
from studio.planning.selectors import parts, stored
from studio.planning.selectors.drawings import labour, strip
from studio.planning.selectors.page import (
    Shortage,
    changes,
    schedule_names,
    shortage,
    throw_by_rows,
)
from studio.planning.selectors.sureness import choice_of
from studio.planning.selectors.words import gets, proof


def plan_paper(*, backplan: BackPlan, paper: Paper) -> bytes:
    """A stored plan as a PDF: what falls short and changes, the strip, firings, work and hands.

    Raises ``BadRecord`` when another version stored it, ``ValueError`` without a kiln.
    """
    problem, whole, _ = stored(backplan)
    loads, jobs = parts.left_out(backplan)
    plan = parts.taken(plan=whole, loads=loads, jobs=jobs)
    drawn = strip(problem=problem, plan=plan)
    if drawn is None:
        raise ValueError("a plan without a kiln cannot be drawn")
    schedules = schedule_names()
    short = shortage(problem=problem, plan=whole, schedules=schedules)
    other = choice_of(backplan, problem=problem, plan=whole)
    sentences = [
        reading.headline(problem=problem, plan=whole),
        short.outcome if short else "",
        proof(problem=problem, plan=whole),
        other.said if other else "",
    ]
    return plan_pdf(
        title=f"Plan of {say_date(backplan.today_date)}",
        sentence=" ".join(filter(None, sentences)),
        strip=drawn,
        firings_rows=[
            _firing(row)
            for row in reading.firing_rows(problem=problem, plan=plan, schedules=schedules)
        ],
        throwing_rows=_throwing(problem, plan),
        short_rows=_short(short) if short else [],
        use_rows=_use(short) if short else [],
        helps=[short.most, *short.firings_more] if short else [],
        changes=changes(backplan=backplan, problem=problem, plan=whole, schedules=schedules),
        gets_rows=[
            [row.need, short_date(row.due_date), reading.counted(row.asked, row.line), gets(row)]
            for row in reading.kept_rows(problem=problem, plan=whole)
        ],
        throw_by_rows=[
            [
                row.line,
                str(row.count),
                short_date(row.latest_date) if row.latest_date else "too late",
                row.need,
            ]
            for row in throw_by_rows(problem)
        ],
        labour=labour(problem=problem, plan=plan)[0],
        paper=paper,
    )


def _firing(row: FiringRow) -> list[str]:
    days = row.slack_days
    slip = {None: "", 0: "no day", 1: "1 day"}.get(days, f"{days} days")
    return [
        short_date(row.start_date),
        row.kiln,
        row.schedule,
        row.holds or row.standing,
        short_date(row.open_date),
        slip,
    ]


def _throwing(problem: Problem, plan: Plan) -> Rows:
    wanted_as: dict[str, list[str]] = {}
    for line in problem.lines:
        wanted_as.setdefault(line.ware_key, []).append(line.name)
    names = {ware.key: ware.name for ware in problem.wares}
    throwing = sorted(
        (job for job in plan.jobs if job.work == Work.THROWING),
        key=lambda job: (job.date, names[job.key]),
    )
    return [
        [
            short_date(job.date),
            names[job.key],
            str(job.count),
            ", ".join(wanted_as.get(job.key, [])),
        ]
        for job in throwing
    ]


def _short(short: Shortage) -> Rows:
    why = ", ".join(cause.binds for cause in short.causes) or "not found in the time given"
    helps = "; ".join(cause.freed_by for cause in short.causes) or "not known"
    return [[row.line, short_date(row.due_date), str(row.short), why, helps] for row in short.rows]


def _use(short: Shortage) -> Rows:
    rows = [(use, "min") for use in short.hands] + [(use, "days") for use in short.kiln_days]
    return [
        [use.name, str(use.used), f"{use.given} {unit}", f"{use.percent} %"] for use, unit in rows
    ]
