"""What comes of going ahead at once: throw, and fire each kiln as soon as it is worth it?

A rule for every day: a kiln is lit when it would be full enough, when ware has waited long
enough, or when a line that nobody has fired can have its trial. Tried with several measures of
'enough'; quick, sound, often dear. The solver starts from it when it keeps more promises than
plain backward scheduling does.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from itertools import product

from studio.craft.answer import Plan
from studio.craft.backplan_frame import NEVER, Frame, Slot, share_up
from studio.craft.backward import Books, backward_plan_in
from studio.craft.backward_walk import (
    Draft,
    Studio,
    close,
    finish,
    fire,
    glaze_some,
    open_studio,
    throw_some,
    ware_in,
)
from studio.craft.problem import BISQUE


class First(StrEnum):
    """What hands take first."""

    LEAST_DONE = "what has the largest share left"
    SLOW = "what dries slowly"
    DUE = "what the nearest date wants"


@dataclass(frozen=True, kw_only=True, slots=True)
class Manner:
    """How full a kiln has to be, how long ware waits for that, and what comes first.

    Ware waits for so many days, or until so many days before it would be late.
    """

    full_percent: int
    wait_days: int
    first: First
    spare_days: int = NEVER


MANNERS = tuple(
    Manner(full_percent=full, wait_days=wait, first=first)
    for full, wait, first in product((40, 70, 85, 95), (1, 3, 5, 8, 12), First)
)
MANNERS += tuple(
    Manner(full_percent=full, wait_days=NEVER, first=First.DUE, spare_days=spare)
    for full, spare in product((85, 95, 100), (1, 3, 5, 8, 12))
)
FEW_MANNERS = tuple(
    Manner(full_percent=70, wait_days=wait, first=first) for wait, first in product((1, 3), First)
)


def start_plan(
    *, made: Frame, manners: Iterable[Manner] = MANNERS, over: Callable[[], bool] | None = None
) -> Plan:
    """The better of planning by hand rules backward and forward; ``over`` may cut the trying."""
    plans = [backward_plan_in(made=made)]
    for manner in manners:
        if over is not None and over():
            break
        plans.append(go_ahead(made=made, manner=manner))
    return min(plans, key=lambda plan: (plan.weighted_short, plan.in_buffer, plan.cost_pence))


def go_ahead(*, made: Frame, manner: Manner) -> Plan:
    """Live through the days in one manner."""
    studio, targets = open_studio(made), _targets(made)
    books = Books(made=made, busy={kiln.key: set() for kiln in made.problem.kilns})
    waiting: dict[str, int] = {}
    for day in range(made.span):
        studio.wake(day)
        _light(studio, books, waiting, manner, targets, day)
        _throw(studio, day, manner, targets)
        _glaze(studio, day, manner, targets)
        finish(studio, day)
    return close(studio)


def _light(
    studio: Studio,
    books: Books,
    waiting: dict[str, int],
    manner: Manner,
    targets: Targets,
    day: int,
) -> None:
    today = [slot for slot in studio.made.slots if slot.start == day]
    while True:
        found = []
        for slot in today:
            if not books.is_free(slot):
                continue
            holds, trial = _would_hold(studio, slot)
            if not holds:
                continue
            since = waiting.setdefault(slot.schedule_key, day)
            share = 100 * holds // slot.room_tenths
            worth = share >= manner.full_percent or day - since >= manner.wait_days
            late = manner.spare_days < NEVER and (
                _latest_start(studio, slot, targets) <= day + manner.spare_days
            )
            if trial or worth or late:
                found.append((not trial, -holds, slot.cost_pence, slot.kiln_key, slot, trial))
        if not found:
            return
        *_, slot, trial = min(found, key=lambda one: one[:4])
        trials = dict.fromkeys(_trial_keys(studio, slot), NEVER) if trial else {}
        books.take(slot)
        fire(studio, Draft(slot=slot, deadline=day, contents=trials, trial=bool(trials)))
        waiting.pop(slot.schedule_key, None)


def _latest_start(studio: Studio, slot: Slot, targets: Targets) -> int:
    """The last day on which what stands there for a slot could start and still be in time."""
    made, bisque = studio.made, slot.schedule_key == BISQUE
    step, place = ("bisque", "dry") if bisque else ("fire", "glazed")
    busy_days = slot.open - slot.start
    after = busy_days + 1 + (busy_days + 1 if bisque else 0)
    latest = NEVER
    for key in made.holds[slot]:
        if studio.shelf[place, key] >= 100 and studio.left[step, key]:
            done = made.most[step, key] - studio.left[step, key]
            due = next((due for due, wanted in targets[step, key] if wanted > done), NEVER)
            latest = min(latest, due - after)
    return latest


def _would_hold(studio: Studio, slot: Slot) -> tuple[int, bool]:
    """Room that what is there would take in a slot [tenths], and whether it would be a trial."""
    bisque = slot.schedule_key == BISQUE
    step, place = ("bisque", "dry") if bisque else ("fire", "glazed")
    trials = set() if bisque else set(_trial_keys(studio, slot))
    room = 0
    for key in studio.made.holds[slot]:
        there = min(studio.shelf[place, key] // 100, studio.left[step, key])
        if not bisque and studio.proven_from[key] > slot.start:
            most = studio.made.problem.trial_rule.most_pieces
            there = min(there, most) if key in trials else 0
        there = min(there, studio.made.most_in(slot=slot, key=key))
        room += there * ware_in(studio.made, slot.schedule_key, key).room_tenths
    return min(room, slot.room_tenths), bool(trials)


def _trial_keys(studio: Studio, slot: Slot) -> list[str]:
    """Lines that could have their trial in this slot."""
    made = studio.made
    if slot.schedule_key == BISQUE or not made.kiln(slot.kiln_key).takes_trials:
        return []
    least = made.problem.trial_rule.least_pieces
    return [
        key
        for key in made.holds[slot]
        if studio.proven_from[key] == NEVER
        and min(studio.shelf["glazed", key] // 100, studio.left["fire", key]) >= least
        and made.ware_of(key).room_tenths * least <= slot.room_tenths
    ]


Target = list[tuple[int, int]]
"""(due day, pieces needed by then in all), earlier days first."""

Targets = dict[tuple[str, str], Target]


def _targets(made: Frame) -> Targets:
    """How much of every step each date (less its buffer) wants, stock netted."""
    yields = made.problem.yields
    dues = sorted({want.early for want in made.wants})
    targets: Targets = {}
    for key in made.lines:
        fires, target = [], []
        for due in dues:
            asked = sum(w.asked for w in made.wants if w.line_key == key and w.early <= due)
            there = made.arrives["finished", key][due] + (
                made.arrives["fired", key][due - 1] if due else 0
            )
            fire = share_up(hundredths=100 * asked - there, percent=yields.glaze_percent)
            fires.append((due, fire))
            target.append((due, max(0, fire - made.arrives["glazed", key][0] // 100)))
        targets["glaze", key], targets["fire", key] = target, fires
    for key in made.wares:
        bisques, target = [], []
        for i, due in enumerate(dues):
            glazed = 100 * sum(targets["glaze", line][i][1] for line in made.lines_of(key))
            bisque = share_up(
                hundredths=glazed - made.arrives["bisqued", key][0], percent=yields.bisque_percent
            )
            bisques.append((due, bisque))
            dry = 100 * bisque - made.arrives["dry", key][0]
            target.append((due, share_up(hundredths=dry, percent=yields.drying_percent)))
        targets["throw", key], targets["bisque", key] = target, bisques
    return targets


def _order(
    studio: Studio, targets: Targets, manner: Manner, step: str, key: str, done: int
) -> tuple[float, float]:
    """Less comes first: by the manner, then by the share done."""
    share = done / studio.made.most[step, key]
    if manner.first == First.DUE:
        due = next((due for due, wanted in targets[step, key] if wanted > done), NEVER)
        drying = studio.made.wares[key].drying_days if step == "throw" else 0
        return due - drying, share
    if manner.first == First.SLOW and step == "throw":
        return -studio.made.wares[key].drying_days, share
    return 0, share


def _throw(studio: Studio, day: int, manner: Manner, targets: Targets) -> None:
    """A piece at a time, in the order of the manner."""
    made = studio.made
    minutes = made.problem.days[day].throwing_min
    counts: Counter[str] = Counter()
    while True:
        open_ = [
            key
            for key, ware in made.wares.items()
            if counts[key] < studio.left["throw", key]
            and ware.throwing_min <= minutes
            and day <= made.last["throw", key]
        ]
        if not open_:
            break

        def urgency(key: str) -> tuple[float, float]:
            done = made.most["throw", key] - studio.left["throw", key] + counts[key]
            return _order(studio, targets, manner, "throw", key, done)

        key = min(open_, key=urgency)
        counts[key] += 1
        minutes -= made.wares[key].throwing_min
    for key, count in counts.items():
        throw_some(studio, day, key, count)


def _glaze(studio: Studio, day: int, manner: Manner, targets: Targets) -> None:
    """A piece at a time: what still has to be tried, then in the order of the manner."""
    made = studio.made
    minutes = made.problem.days[day].glazing_min
    least = made.problem.trial_rule.least_pieces
    counts: Counter[str] = Counter()
    used: Counter[str] = Counter()
    while True:
        open_ = [
            key
            for key in made.lines
            if counts[key] < studio.left["glaze", key]
            and made.ware_of(key).glazing_min <= minutes
            and used[made.ware_of(key).key] < studio.shelf["bisqued", made.ware_of(key).key] // 100
            and day <= made.last["glaze", key]
        ]
        if not open_:
            break

        def urgency(key: str) -> tuple[bool, tuple[float, float]]:
            untried = studio.proven_from[key] == NEVER
            done = made.most["glaze", key] - studio.left["glaze", key] + counts[key]
            order = _order(studio, targets, manner, "glaze", key, done)
            return not (untried and done < least), order

        key = min(open_, key=urgency)
        counts[key] += 1
        used[made.ware_of(key).key] += 1
        minutes -= made.ware_of(key).glazing_min
    for key, count in counts.items():
        glaze_some(studio, day, key, count)
