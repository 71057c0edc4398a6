"""What does a plan do on each day, and which part of it may change?

Those who improve a plan look at a part of it at a time: some uses of kilns are free, some counts
around them may change, and everything else stands as it is, as plain numbers.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import date

from studio.craft.answer import Kept, Plan, Work
from studio.craft.backplan_frame import Frame, Slot

SlotKey = tuple[str, str, int]
"""A kiln, a schedule and a day."""

NOTHING: Counter[int] = Counter()


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """What may change: uses of kilns that may come or go, and counts of some keys on some days."""

    free: frozenset[Slot]
    days: range
    keys: frozenset[str]

    def is_open(self, key: str, day: int) -> bool:
        """May the counts of a ware or line change on a day?"""
        return day in self.days and key in self.keys


@dataclass(kw_only=True, slots=True)
class Counts:
    """A plan in day indices: hand work, what goes into kilns and comes out, what is kept."""

    plan: Plan
    daily: dict[tuple[str, str], Counter[int]] = field(default_factory=dict)
    """(throwing, glazing, finishing, into or out; ware or line) by day."""
    loads: dict[SlotKey, dict[str, int]] = field(default_factory=dict)
    kept: dict[tuple[str, str], Kept] = field(default_factory=dict)

    def on(self, step: str, key: str) -> Counter[int]:
        """How many on each day."""
        return self.daily.get((step, key), NOTHING)

    def inside(self, slot: Slot) -> dict[str, int]:
        """What stands in a slot; nothing when it is off."""
        return self.loads.get((slot.kiln_key, slot.schedule_key, slot.start), {})


def counts_of(*, made: Frame, plan: Plan) -> Counts:
    """Count a plan day by day."""
    daily: defaultdict[tuple[str, str], Counter[int]] = defaultdict(Counter)
    loads: dict[SlotKey, dict[str, int]] = {}

    def day_of(when: date) -> int:
        return (when - made.problem.today_date).days

    for job in plan.jobs:
        daily[str(job.work), job.key][day_of(job.date)] += job.count
    for load in plan.loads:
        start, open_ = day_of(load.start_date), day_of(load.open_date)
        loads[load.kiln_key, load.schedule_key, start] = dict(load.contents)
        for key, count in load.contents:
            daily["into", key][start] += count
            if open_ < made.span:
                daily["out", key][open_] += count
    kept = {(one.need_key, one.line_key): one for one in plan.kept}
    return Counts(plan=plan, daily=dict(daily), loads=loads, kept=kept)


STEP_OF = {Work.THROWING: "throw", Work.GLAZING: "glaze", Work.FINISHING: "finish"}
"""What a frame calls each kind of work."""


def on_slots(made: Frame, plan: Plan) -> set[Slot]:
    """The slots that a plan uses."""
    loads = {(load.kiln_key, load.schedule_key, load.start_date) for load in plan.loads}
    return {
        slot
        for slot in made.slots
        if (slot.kiln_key, slot.schedule_key, made.date_of(slot.start)) in loads
    }
