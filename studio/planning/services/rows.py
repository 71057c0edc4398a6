"""Which rows does a plan in force become: firings with what they are meant to hold, and tasks?"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from studio.craft.answer import Plan, Work
from studio.craft.problem import BISQUE, Load
from studio.firings.models import Firing, Kiln, PlannedWare, Schedule
from studio.planning.models import BackPlan, PlannedFiring, Task
from studio.planning.selectors.kilns import bisque_run
from studio.wares.models import Line
from studio.web.refusal import Refusal


def written_down(firing: Firing) -> dict[str, Any]:
    """A planned firing as an undo compares it: its day, its note and what it is meant to hold."""
    wares = firing.planned_wares.order_by("id")
    return {
        "firing": firing.pk,
        "start_date": firing.start_date.isoformat(),
        "note": firing.note,
        "wares": [[w.form_id, w.clay_lot_id, w.coats_id, w.count] for w in wares],
    }


def what_changed(firing: Firing, then: dict[str, Any]) -> list[str]:
    """What somebody changed at a firing since it was written down, in words."""
    now = written_down(firing)
    words = {"start_date": "its day", "note": "its note", "wares": "what it is to hold"}
    return [name for part, name in words.items() if now[part] != then[part]]


def fill_anew(backplan: BackPlan, load: Load, firing: Firing) -> dict[str, Any]:
    """Fill a standing firing anew; answers what it was and what it is now, for an undo."""
    owner = PlannedFiring.objects.filter(firing=firing).first()
    was = written_down(firing) | {"backplan": owner.backplan_id if owner else None}
    firing.start_date = load.start_date
    firing.save(update_fields=["start_date"])
    firing.planned_wares.all().delete()
    _plan_wares(firing, load)
    PlannedFiring.objects.update_or_create(firing=firing, defaults={"backplan": backplan})
    return was | {"now": written_down(firing)}


def take_over(backplan: BackPlan, firing: Firing) -> dict[str, Any]:
    """Let a standing firing belong to a plan and stay as it is; answers as ``fill_anew``."""
    owner = PlannedFiring.objects.filter(firing=firing).first()
    was = written_down(firing) | {"backplan": owner.backplan_id if owner else None}
    PlannedFiring.objects.update_or_create(firing=firing, defaults={"backplan": backplan})
    return was | {"now": written_down(firing)}


def make(backplan: BackPlan, load: Load) -> dict[str, Any]:
    """Plan a firing as a plan has it; answers it written down, for an undo."""
    kiln = Kiln.objects.get(pk=int(load.kiln_key))
    firing = Firing.objects.create(
        kiln=kiln,
        schedule=_schedule(kiln, load),
        start_date=load.start_date,
        busy_days=load.busy_days,
    )
    _plan_wares(firing, load)
    PlannedFiring.objects.create(backplan=backplan, firing=firing)
    return written_down(firing)


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


def tasks(backplan: BackPlan, plan: Plan, left_out: Collection[int] = ()) -> list[Task]:
    """The hand work of a plan, unsaved, in the order of its days; some jobs by number left out."""
    lines = Line.objects.in_bulk([int(j.key) for j in plan.jobs if j.work != Work.THROWING])
    tasks = []
    jobs = [job for number, job in enumerate(plan.jobs) if number not in left_out]
    for job in sorted(jobs, key=lambda job: (job.date, job.work, job.key)):
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
    """Make a firing again what it was before a plan filled it anew."""
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
