"""Which rows does a plan in force become: firings with what they are meant to hold, and tasks?"""

from __future__ import annotations

from typing import Any

from studio.craft.problem import BISQUE, Load, Plan, Work
from studio.firings.models import Firing, Kiln, PlannedWare, Schedule
from studio.planning.models import BackPlan, PlannedFiring, Task
from studio.planning.selectors.question import bisque_run
from studio.wares.models import Line
from studio.web.refusal import Refusal


def fill_anew(backplan: BackPlan, load: Load, firing: Firing) -> dict[str, Any]:
    """Fill a standing firing anew; answers what it was, for an undo."""
    owner = PlannedFiring.objects.filter(firing=firing).first()
    was = {
        "firing": firing.pk,
        "start_date": firing.start_date.isoformat(),
        "backplan": owner.backplan_id if owner else None,
        "wares": [
            [ware.form_id, ware.clay_lot_id, ware.coats_id, ware.count]
            for ware in firing.planned_wares.all()
        ],
    }
    firing.start_date = load.start_date
    firing.save(update_fields=["start_date"])
    firing.planned_wares.all().delete()
    _plan_wares(firing, load)
    PlannedFiring.objects.update_or_create(firing=firing, defaults={"backplan": backplan})
    return was


def make(backplan: BackPlan, load: Load) -> int:
    kiln = Kiln.objects.get(pk=int(load.kiln_key))
    firing = Firing.objects.create(
        kiln=kiln,
        schedule=_schedule(kiln, load),
        start_date=load.start_date,
        busy_days=load.busy_days,
    )
    _plan_wares(firing, load)
    PlannedFiring.objects.create(backplan=backplan, firing=firing)
    return firing.pk


def _schedule(kiln: Kiln, load: Load) -> Schedule:
    if load.schedule_key != BISQUE:
        return Schedule.objects.get(pk=int(load.schedule_key))
    run = bisque_run(kiln)
    if run is None or run.busy_days != load.busy_days:
        raise Refusal(
            f"The bisque run of {kiln} was changed since this plan was worked out. "
            "Work it out again."
        )
    return run.schedule


def _plan_wares(firing: Firing, load: Load) -> None:
    lines = Line.objects.in_bulk(
        [int(key) for key, _ in load.contents if load.schedule_key != BISQUE]
    )
    for key, count in load.contents:
        if load.schedule_key == BISQUE:
            form_id, clay_lot_id = (int(part) for part in key.split("-"))
            coats_id = None
        else:
            line = lines[int(key)]
            form_id, clay_lot_id, coats_id = line.form_id, line.clay_lot_id, line.coats_id
        PlannedWare.objects.create(
            firing=firing, form_id=form_id, clay_lot_id=clay_lot_id, coats_id=coats_id, count=count
        )


def tasks(backplan: BackPlan, plan: Plan) -> list[Task]:
    lines = Line.objects.in_bulk([int(j.key) for j in plan.jobs if j.work != Work.THROWING])
    tasks = []
    for job in sorted(plan.jobs, key=lambda job: (job.date, job.work, job.key)):
        if job.work == Work.THROWING:
            form_id, clay_lot_id = (int(part) for part in job.key.split("-"))
            coats_id = schedule_id = None
        else:
            line = lines[int(job.key)]
            form_id, clay_lot_id = line.form_id, line.clay_lot_id
            coats_id, schedule_id = line.coats_id, line.schedule_id
        tasks.append(
            Task(
                backplan=backplan,
                work=job.work.value,
                date=job.date,
                form_id=form_id,
                clay_lot_id=clay_lot_id,
                coats_id=coats_id,
                schedule_id=schedule_id,
                count=job.count,
            )
        )
    return tasks


def set_back(was: dict[str, Any], firing: Firing) -> None:
    firing.save(update_fields=["start_date"])
    firing.planned_wares.all().delete()
    for form_id, clay_lot_id, coats_id, count in was["wares"]:
        PlannedWare.objects.create(
            firing=firing, form_id=form_id, clay_lot_id=clay_lot_id, coats_id=coats_id, count=count
        )
    owner = PlannedFiring.objects.filter(firing=firing)
    if was["backplan"] is None:
        owner.delete()
    else:
        owner.update(backplan_id=was["backplan"])
