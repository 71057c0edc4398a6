"""What comes of going ahead: throw what is wanted, and light a kiln when it is worth it?

A kiln is worth lighting when what it would hold costs, place for place, little more than in the
cheapest full load of its schedule; when ware in it would be late otherwise; or when a line that
nobody has fired can have its trial. Tried in a few manners: quick and sound, a start for those
who search, and often most of the way.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

from studio.craft.answer import Plan
from studio.craft.backplan_frame import NEVER, Frame, Slot
from studio.craft.backplan_places import Places, places_of
from studio.craft.backplan_runs import Runner
from studio.craft.backplan_state import State
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


def start_plan(*, made: Frame, over: Callable[[], bool] | None = None) -> Plan:
    """The better of planning backward and going ahead in every manner; ``over`` may cut it."""
    runner = Runner(made)
    plans = [backward_plan_in(made=made)]
    for manner in MANNERS:
        if over is not None and over():
            break
        plans.append(go_ahead(runner=runner, manner=manner))
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
            room, latest, trial = _would_hold(runner, state, slot)
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

    return runner.plan(starts={}, lean=runner.straight(), light=light)


def _would_hold(runner: Runner, state: State, slot: Slot) -> tuple[int, int, bool]:
    """What a slot would hold now.

    Room [tenths], the last day to start so that its most urgent piece is in time, and whether
    it would be a trial.
    """
    holds, rule = runner.holds_of(slot), runner.made.problem.trial_rule
    shelf, done, step, rooms = (
        (state.dry, state.put, "bisque", runner.room)
        if holds.bisque
        else (state.glazed, state.burnt, "fire", runner.line_room)
    )
    left, target, room, latest, trial = runner.most[step], runner.target[step], 0, NEVER, False
    busy_days = slot.open - slot.start
    after = busy_days + 1 + (busy_days + 1 if holds.bisque else 0)
    for i, most in zip(holds.keys, holds.most, strict=True):
        there = min(shelf[i] // 100, left[i] - done[i], most)
        if there <= 0:
            continue
        if not holds.bisque and state.proven_from[i] > slot.start:
            tries = holds.takes_trials and state.proven_from[i] == NEVER
            there = min(there, rule.most_pieces)
            if not tries or there < rule.least_pieces:
                continue
            trial = True
        room += there * rooms[i]
        due = next((due for due, total in target[i] if total > done[i]), NEVER)
        latest = min(latest, due - after)
    return min(room, slot.room_tenths), latest, trial
