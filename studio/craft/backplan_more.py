"""Which single firing more would bring the most of what is short?

Beside every kiln a second one like it is imagined, free on every day, days off too, on a supply of
its own; at most one firing may use any of them. What a search then finds with that one firing is a
certain gain, and perhaps not all. The kilns already asked about are left out in the next turn, so
that a few different firings are told.
"""

from __future__ import annotations

from dataclasses import replace

from studio.craft.answer import FiringMore, Plan
from studio.craft.backplan_frame import Frame, frame
from studio.craft.backplan_model import Model
from studio.craft.backplan_search import Clock, Search
from studio.craft.problem import Circuit, Load, Problem

SECOND = " (a second)"
"""Ends the key of an imagined kiln."""

MOST_TOLD = 3


def firings_more(
    *, problem: Problem, plan: Plan, clock: Clock, seed: int, steps: float
) -> tuple[FiringMore, ...]:
    """A few firings, each of which alone would bring pieces, the most first."""
    made = with_second_kilns(problem=problem)
    found: list[FiringMore] = []
    for turn in range(MOST_TOLD):
        left = MOST_TOLD - turn
        until = clock.spent + (clock.seconds - clock.spent) / left
        if clock.over(until):
            break
        one = _best(made, plan, clock, seed, steps / MOST_TOLD, until)
        if one is None:
            break
        found.append(one)
        asked = (one.kiln_key + SECOND, one.schedule_key)
        made = replace(
            made, slots=tuple(s for s in made.slots if (s.kiln_key, s.schedule_key) != asked)
        )
    return tuple(sorted(found, key=lambda one: (-one.gain, one.start_date, one.kiln_key)))


def with_second_kilns(*, problem: Problem) -> Frame:
    """The question with a second of each kiln, framed; the kilns there are keep their days."""
    supply = max((circuit.key for circuit in problem.circuits), default="") + SECOND
    seconds = tuple(
        replace(kiln, key=kiln.key + SECOND, circuit_key=supply) for kiln in problem.kilns
    )
    made = frame(
        problem=replace(
            problem,
            kilns=problem.kilns + seconds,
            circuits=(*problem.circuits, Circuit(key=supply, at_once=len(seconds) or 1)),
            days=tuple(replace(day, may_start=True) for day in problem.days),
        )
    )
    made.slots = tuple(
        slot
        for slot in made.slots
        if slot.kept or slot.kiln_key.endswith(SECOND) or problem.days[slot.start].may_start
    )
    return made


def _best(
    made: Frame, plan: Plan, clock: Clock, seed: int, steps: float, until: float
) -> FiringMore | None:
    def one_more(model: Model) -> None:
        more = [on for slot, on in model.slot_on.items() if slot.kiln_key.endswith(SECOND)]
        model.cp.add_at_most_one(more)
        model.cp.minimize(model.short)

    search = Search(
        made=made,
        shape=one_more,
        value_of=lambda p: p.weighted_short,
        plan=plan,
        clock=clock,
        seed=seed,
        patience=8,
    )
    search.run(steps=steps, until=until)
    gain = plan.short - search.plan.short
    more = next((load for load in search.plan.loads if load.kiln_key.endswith(SECOND)), None)
    if more is None or gain <= 0:
        return None
    kiln_key = more.kiln_key.removesuffix(SECOND)
    return FiringMore(
        kiln_key=kiln_key,
        schedule_key=more.schedule_key,
        start_date=more.start_date,
        gain=gain,
        kiln_is_taken=_is_taken(made.problem, search.plan, kiln_key, more),
    )


def _is_taken(problem: Problem, plan: Plan, kiln_key: str, more: Load) -> bool:
    """Does the kiln itself fire something else on those days?"""
    return any(
        load.kiln_key == kiln_key
        and load.start_date < more.open_date
        and more.start_date < load.open_date
        for load in (*plan.loads, *problem.pinned)
    )
