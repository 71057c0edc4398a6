"""How much must the loads cost at the very least, given heights, dates, trials and free kilns?

A cover that only asks for room lets a vase stand in a low kiln, and forgets that a line nobody
has fired needs a load in a kiln that takes trials. Here the loads of each kind of kiln, schedule
and stretch of days are whole numbers; by every date those that are open by then must have the
room for what has to be there, for each height; no kiln opens more loads in a stretch of days than
follow upon each other. Hands, and who waits for whom between the dates, are left out, so this is
a question with fewer limits than the planner's: its least cost is a proven floor.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from ortools.sat.python import cp_model

from studio.craft.backplan_cuts import (
    Needs,
    days_of,
    fire_needs,
    heights_of,
    last_glazing,
    parts_of,
)
from studio.craft.backplan_frame import NEVER, Frame, Slot, share_up
from studio.craft.problem import BISQUE

FLOOR_STEPS = 0.6
"""The most of the solver's own time to seek a floor; what is proven by then counts."""

Var = Any


@dataclass(kw_only=True, slots=True)
class _Loads:
    """How many loads of each kind of kiln and schedule open in each stretch of days."""

    made: Frame
    cp: cp_model.CpModel
    ends: list[int]
    """The last day of every stretch."""
    clear_mm: dict[str, int]
    number: dict[tuple[Slot, int], Var] = field(default_factory=dict)
    """By (a slot like them, stretch)."""

    def by(self, day: int, schedule: str, *, above_mm: int = 0) -> list[tuple[Slot, Var]]:
        """Loads of a schedule that are open by a day, in kilns that clear more than a height."""
        return [
            (slot, var)
            for (slot, n), var in self.number.items()
            if self.ends[n] <= day
            and slot.schedule_key == schedule
            and self.clear_mm[slot.kiln_key] > above_mm
        ]


def loads_floor(
    *,
    made: Frame,
    short: int,
    seconds: float,
    steps: float = FLOOR_STEPS,
    solver: cp_model.CpSolver | None = None,
) -> int:
    """A proven least cost of every plan that leaves at most ``short`` pieces short or in buffers.

    In pence; 0 where nothing was proven in the seconds and steps. Who gives a ``solver`` can stop
    it from another thread.
    """
    if not made.slots or seconds <= 0:
        return 0
    loads = _loads(made)
    needs = fire_needs(made)
    missing = _missing(loads, short)
    _add_room(loads, needs, missing)
    _add_trials(loads, needs, missing)
    loads.cp.minimize(sum(slot.cost_pence * var for (slot, _), var in loads.number.items()))
    solver = solver or cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = steps
    solver.parameters.max_time_in_seconds = seconds
    if solver.solve(loads.cp) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return max(0, round(solver.best_objective_bound))
    return 0


def _by(made: Frame, schedule: str, day: int) -> int:
    """The last day on which a load of a schedule can open for what has to be there by a day."""
    return last_glazing(made, day) if schedule == BISQUE else day - 1


def _loads(made: Frame) -> _Loads:
    """Whole numbers of loads, no more than kilns can have one after another."""
    schedules = sorted({slot.schedule_key for slot in made.slots})
    ends = sorted({_by(made, one, day) for one in schedules for day in days_of(made)})
    clear_mm = {kiln.key: kiln.clear_height_mm for kiln in made.problem.kilns}
    loads = _Loads(made=made, cp=cp_model.CpModel(), ends=ends, clear_mm=clear_mm)
    alike: defaultdict[tuple[object, ...], list[str]] = defaultdict(list)
    by_kiln: defaultdict[str, list[Slot]] = defaultdict(list)
    for slot in made.slots:
        by_kiln[slot.kiln_key].append(slot)
    for kiln in made.problem.kilns:
        kind = (
            kiln.glaze_room_tenths,
            kiln.bisque_room_tenths,
            kiln.clear_height_mm,
            kiln.takes_trials,
            kiln.runs,
        )
        alike[kind].append(kiln.key)
    for kilns in alike.values():
        slots = [slot for key in kilns for slot in by_kiln[key]]
        first_of = {slot.schedule_key: slot for slot in reversed(slots)}
        for slot in first_of.values():
            for n in range(len(ends)):
                loads.number[slot, n] = loads.cp.new_int_var(0, len(slots), "")
        for first in range(len(ends)):
            for last in range(first, len(ends)):
                after = ends[first - 1] if first else -1
                for some in ([one] for one in first_of):
                    _add_most(loads, kilns, by_kiln, first_of, some, (after, first, last))
                _add_most(loads, kilns, by_kiln, first_of, list(first_of), (after, first, last))
    return loads


def _add_most(
    loads: _Loads,
    kilns: list[str],
    by_kiln: dict[str, list[Slot]],
    first_of: dict[str, Slot],
    schedules: list[str],
    stretch: tuple[int, int, int],
) -> None:
    """So many loads at most can open in these stretches: one after another, the soonest first."""
    after, first, last = stretch
    most = sum(
        most_in_a_row(
            (slot.start, slot.open)
            for slot in by_kiln[key]
            if slot.schedule_key in schedules and after < slot.open <= loads.ends[last]
        )
        for key in kilns
    )
    variables = [
        loads.number[first_of[one], n] for one in schedules for n in range(first, last + 1)
    ]
    loads.cp.add(sum(variables) <= most)


def most_in_a_row(runs: Iterable[tuple[int, int]]) -> int:
    """How many of these (start, open) can follow upon each other without overlapping?"""
    count, free = 0, 0
    for start, open_ in sorted(runs, key=lambda run: run[1]):
        if start >= free:
            count, free = count + 1, open_
    return count


def _missing(loads: _Loads, short: int) -> dict[tuple[str, int], Var]:
    """Pieces of a line that need not be there by a day, all lines together at most ``short``."""
    missing: dict[tuple[str, int], Var] = {}
    for day in days_of(loads.made):
        for line in loads.made.lines:
            missing[line, day] = loads.cp.new_int_var(0, short, "") if short else 0
        if short:
            loads.cp.add(sum(missing[line, day] for line in loads.made.lines) <= short)
    return missing


def _add_room(loads: _Loads, needs: Needs, missing: dict[tuple[str, int], Var]) -> None:
    made = loads.made
    for schedule in sorted({slot.schedule_key for slot in made.slots}):
        for day in days_of(made):
            all_parts = [part for part in parts_of(made, needs, schedule, day) if part.least]
            for above_mm in heights_of(made, schedule):
                parts = [part for part in all_parts if part.ware.height_mm > above_mm]
                need = sum(part.ware.room_tenths * part.least for part in parts)
                lost = sum(
                    part.ware.room_tenths * part.a_piece * missing[line, day]
                    for part in parts
                    for line in part.lines
                )
                in_time = loads.by(_by(made, schedule, day), schedule, above_mm=above_mm)
                if need:
                    there = sum(slot.room_tenths * var for slot, var in in_time)
                    loads.cp.add(there + lost >= need)


def _add_trials(loads: _Loads, needs: Needs, missing: dict[tuple[str, int], Var]) -> None:
    """What nobody has fired has a load in a kiln that takes trials, or is missing."""
    made = loads.made
    takes = {kiln.key for kiln in made.problem.kilns if kiln.takes_trials}
    a_fire = share_up(hundredths=100, percent=made.problem.yields.glaze_percent)
    for (line, day), need in needs.items():
        if not need or made.proven_from[line] != NEVER:
            continue
        schedule = made.lines[line].schedule_key
        trials = [
            var
            for slot, var in loads.by(_by(made, schedule, day), schedule)
            if slot.kiln_key in takes
        ]
        loads.cp.add(need * sum(trials) + a_fire * missing[line, day] >= need)
