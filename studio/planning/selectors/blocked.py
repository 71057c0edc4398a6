"""What can no plan bring, however long one looks, because nothing is there to make it with?

These are told before a plan is sought, and apart from a shortage: here something in the studio's
own records is missing or contradicts itself, and more kiln days would not help.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from studio.craft.calendar import say_date
from studio.craft.cones import hotter
from studio.craft.problem import BISQUE, PlanKiln, PlanLine, Problem, Stage, Ware
from studio.wares.models import Line


def causes(*, problem: Problem, lines: dict[str, Line]) -> list[str]:
    """One sentence for each thing that stands in the way; ``lines`` are the wanted ones by key."""
    found = []
    if problem.needs and not any(
        day.throwing_min or day.glazing_min or day.finishing_min for day in problem.days
    ):
        found.append(
            f"No day from {say_date(problem.today_date)} to {say_date(problem.last_date)} has any "
            "minutes for throwing, glazing or finishing. Fill in the hands of the week."
        )
    if not problem.kilns:
        found.append("There is no kiln yet. Add one with the schedules it fires.")
        return found
    for plan_line in problem.lines:
        if plan_line.key in lines:
            found.extend(_of_line(problem, plan_line, lines[plan_line.key]))
    return found


def _of_line(problem: Problem, plan_line: PlanLine, line: Line) -> Iterator[str]:
    ware = next(ware for ware in problem.wares if ware.key == plan_line.ware_key)
    asked = sum(n for need in problem.needs for key, n in need.counts if key == plan_line.key)
    to_fire = asked - _beyond_glaze_firing(problem, plan_line)
    if to_fire <= 0:
        return
    clash = _too_hot(line)
    if clash:
        yield clash
        return
    yield from _no_glaze_kiln(problem, plan_line, line, ware)
    if to_fire > _beyond_bisque(problem, plan_line):
        yield from _no_bisque_kiln(problem, plan_line, ware)


def _too_hot(line: Line) -> str:
    cone = line.schedule.cone
    for what, top in (
        (line.clay_lot.body, line.clay_lot.top_cone),
        (line.coats, line.coats.top_cone),
    ):
        if hotter(cone, top):
            return (
                f"{line} cannot be fired: {line.schedule} goes to cone {cone}, "
                f"{what} only to cone {top}."
            )
    return ""


def _no_glaze_kiln(problem: Problem, plan_line: PlanLine, line: Line, ware: Ware) -> Iterator[str]:
    firing = [kiln for kiln in problem.kilns if kiln.run(plan_line.schedule_key)]
    if not firing:
        yield (
            f"{plan_line.name}: no kiln has a run of {line.schedule} within its top cone. "
            "Add the run (days busy, cost) to a kiln that reaches it."
        )
        return
    roomy = [kiln for kiln in firing if _fits(kiln, ware, plan_line.schedule_key)]
    if not roomy:
        yield f"{plan_line.name}: it is too high or too wide for every kiln that fires it."
    elif not (
        plan_line.proven
        or any(kiln.takes_trials for kiln in roomy)
        or _in_a_pinned_load(problem, plan_line)
    ):
        yield (
            f"{plan_line.name} is not proven, and no kiln that takes trials fires "
            f"{line.schedule} with room for it. Mark a kiln as taking trials."
        )


def _no_bisque_kiln(problem: Problem, plan_line: PlanLine, ware: Ware) -> Iterator[str]:
    firing = [kiln for kiln in problem.kilns if kiln.run(BISQUE)]
    if not firing:
        yield f"{plan_line.name}: no kiln has a bisque run. Add one to a kiln."
    elif not any(_fits(kiln, ware, BISQUE) for kiln in firing):
        yield f"{plan_line.name}: {ware.name} is too high or too wide for every bisque kiln."


def _fits(kiln: PlanKiln, ware: Ware, schedule_key: str) -> bool:
    return ware.height_mm <= kiln.clear_height_mm and ware.room_tenths <= kiln.room_tenths(
        schedule_key
    )


def _in_a_pinned_load(problem: Problem, line: PlanLine) -> bool:
    return any(load.filled and line.key in dict(load.contents) for load in problem.pinned)


def _beyond_glaze_firing(problem: Problem, line: PlanLine) -> int:
    """Pieces of a line that need no glaze firing any more, or stand in one."""
    stood = Counter({hand.stage: 0 for hand in problem.on_hand})
    for hand in problem.on_hand:
        if hand.key == line.key:
            stood[hand.stage] += hand.count
    in_kilns = sum(
        dict(load.contents).get(line.key, 0)
        for load in problem.pinned
        if load.filled and load.schedule_key != BISQUE
    )
    return stood[Stage.FIRED] + stood[Stage.GRADED] + stood[Stage.LISTED] + in_kilns


def _beyond_bisque(problem: Problem, line: PlanLine) -> int:
    """Pieces that could become this line without another bisque firing."""
    stood = sum(
        hand.count
        for hand in problem.on_hand
        if (hand.stage == Stage.GLAZED and hand.key == line.key)
        or (hand.stage == Stage.BISQUED and hand.key == line.ware_key)
    )
    in_kilns = sum(
        dict(load.contents).get(line.ware_key, 0)
        for load in problem.pinned
        if load.filled and load.schedule_key == BISQUE
    )
    return stood + in_kilns
