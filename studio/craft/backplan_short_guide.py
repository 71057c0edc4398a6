"""Something stays short: what can the floor under the shortfall tell those who look for a plan?

The floor comes with firings of a smaller question that leave no more short than it says. Sought
beside the search, in a thread of its own, it gives two calendars to begin with: one that lights
kilns as often as split firings ask, and, of a small question, one of whole firings, which the
integer solver then only has to fill.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

from studio.craft.answer import Plan
from studio.craft.backplan_bound import ShortFloor, sharper_floor, split_floor, whole_floor
from studio.craft.backplan_frame import Frame, Slot
from studio.craft.backplan_model import build
from studio.craft.backplan_places import places_of
from studio.craft.backplan_runs import Runner
from studio.craft.backplan_search import HABITS, Clock, solve
from studio.craft.backplan_short import Smaller

FEW = 300
"""With so many firings to choose from the floor's whole firings are worth waiting for."""

USUAL = 5_000
"""So many things to put into firings: split ones are sought at once."""

MUCH = 0.05
"""When hands just follow the dates so much short in a large question will not be mended."""

SHARES = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8)
"""Of one more firing so much has to be owed before it is lit; each gives another calendar."""

GLANCE = 0.05
"""Between looks at whether somebody wants the search to end [s]."""


class Guide:
    """Seeks the floor of a question beside whatever else goes on.

    What a small or usual question comes to with split firings is sought at once: it takes a
    moment, and a thread beside a busy one would take many.
    """

    def __init__(self, *, made: Frame, clock: Clock, until: float) -> None:
        self.made, self.clock, self.until = made, clock, until
        self.floor = ShortFloor(made=made)
        self._split, self._done = threading.Event(), threading.Event()
        self._wanted, self._dropped = threading.Event(), False
        self._error: BaseException | None = None
        self.is_usual = sum(len(held) for held in made.holds.values()) <= USUAL
        if self.is_usual:
            split_floor(floor=self.floor, seconds=until - clock.spent)
            self._split.set()
        # Not a daemon: a program that ends while the solver is at work would end badly.
        threading.Thread(target=self._seek).start()

    def _seek(self) -> None:
        try:
            if not self._split.is_set():
                split_floor(floor=self.floor, seconds=self.until - self.clock.spent)
                self._split.set()
            sharper_floor(floor=self.floor, seconds=self.until - self.clock.spent)
            if not self.floor.least:
                self._wanted.wait(max(0.0, self.until - self.clock.spent))
            if not (self._dropped or self.clock.stopped):
                whole_floor(floor=self.floor, seconds=self.until - self.clock.spent)
        except BaseException as error:
            self._error = error
        finally:
            self._split.set()
            self._done.set()

    def _wait(self, event: threading.Event, until: float) -> None:
        while not event.wait(GLANCE) and not self.clock.over(until):
            pass
        if self._error is not None:
            raise self._error

    def is_short_surely(self, *, ahead: Plan) -> bool:
        """Is it proven that something stays short, or (in a large question) does it look so?"""
        if not self.is_usual:
            asked = sum(want.importance * want.asked for want in self.made.wants)
            return ahead.weighted_short > MUCH * asked
        return self.floor.least > 0

    def want(self, *, still: bool) -> None:
        """Is anything still short, so that the floor matters?

        Where split firings leave nothing short, whole ones are only sought when it is.
        """
        self._dropped = not still
        self._wanted.set()

    def often(self, *, runner: Runner, until: float) -> list[Plan]:
        """Plans that light kilns as often as split firings ask, the best first; waits for them."""
        self._wait(self._split, until)
        small, values = self.floor.small, self.floor.split
        if small is None or not values:
            self.clock.ran_out = True
            return []
        calendars = [
            often(made=self.made, small=small, values=values, share=share) for share in SHARES
        ]
        plans = [plan_of(runner=runner, calendar=calendar) for calendar in calendars]
        return sorted(plans, key=lambda plan: plan.weighted_short)

    def least(self) -> int:
        """The floor as high as it was found by now."""
        if self._error is not None:
            raise self._error
        return self.floor.least

    def wait(self) -> int:
        """The floor as high as it will be."""
        self._wait(self._done, self.until)
        return self.floor.least

    @property
    def is_few(self) -> bool:
        """Are there so few firings that whole ones are worth waiting for?"""
        return len(self.made.slots) <= FEW

    def filled(self, *, steps: float, by: float, until: float, seed: int) -> list[Plan]:
        """Plans of the calendar with whole firings, filled by both habits.

        None when the calendar was not there in time.
        """
        self._wait(self._done, by)
        small, values = self.floor.small, self.floor.whole
        self.clock.ran_out = self.clock.ran_out or not self.floor.exact
        if small is None or not values:
            return []
        on = whole_firings(small=small, values=values)
        model = build(made=self.made)
        for slot, var in model.slot_on.items():
            model.cp.add(var == (1 if slot in on else 0))
        model.cp.add(model.short >= self.floor.least)
        model.cp.minimize(model.short)
        with ThreadPoolExecutor(len(HABITS)) as threads:
            tasks = [
                threads.submit(
                    solve,
                    model=model,
                    steps=steps,
                    seconds=until - self.clock.spent,
                    seed=seed,
                    habit=habit,
                )
                for habit in HABITS
            ]
            found = [task.result() for task in tasks]
        self.clock.ran_out = self.clock.ran_out or any(one.cut for one in found)
        return [one.plan for one in found if one.plan is not None]


def often(
    *, made: Frame, small: Smaller, values: Sequence[float], share: float = 0.5
) -> list[Slot]:
    """Firings whenever the split ones come to a share of one more, where there is a place."""
    places = places_of(made)
    owed: defaultdict[tuple[str, str], float] = defaultdict(float)
    by_day: defaultdict[int, list[Slot]] = defaultdict(list)
    for slot in small.slot_column:
        by_day[slot.start].append(slot)
    calendar = []
    for day in sorted(by_day):
        for column in sorted({small.slot_column[slot] for slot in by_day[day]}):
            slot = next(slot for slot in by_day[day] if small.slot_column[slot] == column)
            owed[small.kiln_kind[slot.kiln_key], slot.schedule_key] += values[column]

        def most(slot: Slot) -> float:
            return -owed[small.kiln_kind[slot.kiln_key], slot.schedule_key]

        for slot in sorted(by_day[day], key=most):
            if most(slot) <= -share and places.may(slot):
                places.take(slot)
                calendar.append(slot)
                owed[small.kiln_kind[slot.kiln_key], slot.schedule_key] -= 1
    return calendar


def plan_of(*, runner: Runner, calendar: Sequence[Slot]) -> Plan:
    """What comes of a calendar if hands follow the dates."""
    starts: defaultdict[int, list[Slot]] = defaultdict(list)
    for slot in sorted(calendar, key=lambda s: (s.start, s.room_tenths, s.kiln_key)):
        starts[slot.start].append(slot)
    return runner.plan(starts=dict(starts), lean=runner.straight())


def whole_firings(*, small: Smaller, values: Sequence[float]) -> set[Slot]:
    """The firings of a solution with whole ones, each in one of the kilns that are alike."""
    left = {column: round(values[column]) for column in set(small.slot_column.values())}
    on = set()
    for slot, column in small.slot_column.items():
        if left[column] > 0:
            on.add(slot)
            left[column] -= 1
    return on
