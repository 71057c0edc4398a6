"""The plan on paper, for the wall of the studio."""

from __future__ import annotations

from studio.craft import plan_reading as reading
from studio.craft.answer import Work
from studio.craft.calendar import say_date
from studio.drawing.paper import Paper
from studio.drawing.plan_sheets import plan_pdf
from studio.drawing.strip import short_date
from studio.firings.models import Schedule
from studio.planning.models import BackPlan
from studio.planning.selectors import stored
from studio.planning.selectors.drawings import strip


def plan_paper(*, backplan: BackPlan, paper: Paper) -> bytes:
    """A stored plan as a PDF: what falls short, the strip, the firings, the throwing.

    Raises ``BadRecord`` when another version stored it, ``ValueError`` without a kiln.
    """
    problem, plan, _ = stored(backplan)
    drawn = strip(problem=problem, plan=plan)
    if drawn is None:
        raise ValueError("a plan without a kiln cannot be drawn")
    schedules = {str(schedule.pk): schedule.name for schedule in Schedule.objects.all()}
    causes = list(reading.cause_rows(plan))
    wanted_as: dict[str, list[str]] = {}
    for line in problem.lines:
        wanted_as.setdefault(line.ware_key, []).append(line.name)
    names = {ware.key: ware.name for ware in problem.wares}
    throwing = sorted(
        (job for job in plan.jobs if job.work == Work.THROWING),
        key=lambda job: (job.date, names[job.key]),
    )
    return plan_pdf(
        title=f"Plan of {say_date(backplan.today_date)}",
        sentence=(
            f"{reading.headline(problem=problem, plan=plan)} "
            f"{reading.proof(problem=problem, plan=plan)}"
        ),
        strip=drawn,
        firings_rows=[
            [
                short_date(row.start_date),
                row.kiln,
                row.schedule,
                row.holds or row.standing,
                short_date(row.open_date),
            ]
            for row in reading.firing_rows(problem=problem, plan=plan, schedules=schedules)
        ],
        throwing_rows=[
            [
                short_date(job.date),
                names[job.key],
                str(job.count),
                ", ".join(wanted_as.get(job.key, [])),
            ]
            for job in throwing
        ],
        short_rows=[
            [
                row.line,
                short_date(row.due_date),
                str(row.short),
                ", ".join(cause.binds for cause in causes) or "not found in the time given",
                "; ".join(cause.freed_by for cause in causes) or "not known",
            ]
            for row in reading.kept_rows(problem=problem, plan=plan)
            if row.short
        ],
        paper=paper,
    )
