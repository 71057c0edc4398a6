"""What comes of going ahead: throw what is wanted, and light a kiln when it is worth it?

A kiln is worth lighting when what it would hold costs, place for place, little more than in the
cheapest full load of its schedule; when ware in it would be late otherwise; or when a line that
nobody has fired can have its trial. Tried in a few manners: quick and sound, a start for those
who search, and often most of the way.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from studio.craft.answer import Plan
from studio.craft.backplan_frame import Frame, Slot
from studio.craft.backplan_places import Places, places_of
from studio.craft.backplan_runs import Runner, State
from studio.craft.backward import backward_plan_in


@dataclass(frozen=True, kw_only=True, slots=True)
class Manner:
    """How much dearer a place may be than in the cheapest full load, and how early is late."""

    thrift_percent: int
    spare_days: int


MANNERS = tuple(
    Manner(thrift_percent=thrift, spare_days=spare)
    for spare, thrift in (
        (4, 115), (8, 115), (1, 150), (4, 150), (8, 150), (12, 115), (4, 250), (12, 250), (8, 500),
    )
)  # fmt: skip


def start_plan(*, made: Frame) -> Plan:
    """The better of planning backward and going ahead in every manner."""
    runner = Runner(made)
    plans = [backward_plan_in(made=made)]
    plans += [go_ahead(runner=runner, manner=manner) for manner in MANNERS]
    return min(plans, key=lambda plan: (plan.weighted_short, plan.in_buffer, plan.cost_pence))


def go_ahead(*, runner: Runner, manner: Manner) -> Plan:
    """Live through the days in one manner."""
    made = runner.made
    places: Places = places_of(made)
    today: defaultdict[int, list[Slot]] = defaultdict(list)
    least: dict[str, float] = {}
    for slot in made.slots:
        today[slot.start].append(slot)
        each = slot.cost_pence / slot.room_tenths
        least[slot.schedule_key] = min(each, least.get(slot.schedule_key, each))

    def light(state: State, day: int) -> Slot | None:
        best: tuple[bool, float, str] | None = None
        lit = None
        for slot in today[day]:
            if not places.may(slot):
                continue
            room, latest, trial = runner.would_hold(state, slot)
            if not room:
                continue
            each = slot.cost_pence / room
            worth = 100 * each <= manner.thrift_percent * least[slot.schedule_key]
            if trial or worth or latest <= day + manner.spare_days:
                mark = not trial, each, slot.kiln_key
                if best is None or mark < best:
                    best, lit = mark, slot
        if lit is not None:
            places.take(lit)
        return lit

    return runner.plan(starts={}, lean=[0] * len(runner.lines), light=light)
