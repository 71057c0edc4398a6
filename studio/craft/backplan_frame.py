"""What does a planning question come to when only what is needed is kept, in days counted from 0?

A ``Frame`` is the question turned into whole numbers for those who search: days as indices,
expected arrivals in hundredths of a piece, the most of anything that could still be of use, and
the windows of days in which a step can help a promise. Nothing useful is cut away: a plan for
the question can always be trimmed to one that the frame holds, with the same promises kept.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import accumulate

from studio.craft.problem import BISQUE, Load, PlanKiln, PlanLine, Problem, Run, Stage, Ware

NEVER = 10**6
"""A day that does not come."""


def share_up(*, hundredths: int, percent: int) -> int:
    """Whole pieces to start so that ``hundredths`` of a piece come through a step [pieces]."""
    return max(0, -(-hundredths // percent))


@dataclass(frozen=True, kw_only=True, slots=True)
class Want:
    """What one need asks of one line: finished by the morning of ``due``, better by ``early``."""

    need_key: str
    line_key: str
    asked: int
    importance: int
    early: int
    due: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Slot:
    """A day on which a kiln may start a schedule; ``kept`` when an appointment stands there."""

    kiln_key: str
    schedule_key: str
    start: int
    open: int
    room_tenths: int
    cost_pence: int
    kept: bool = False


@dataclass(kw_only=True, slots=True)
class Frame:
    """The question in day indices. Built by ``frame``; read-only after that."""

    problem: Problem
    span: int
    wares: dict[str, Ware]
    lines: dict[str, PlanLine]
    wants: tuple[Want, ...]
    slots: tuple[Slot, ...]
    busy: dict[str, set[int]]
    heating: dict[tuple[str, int], int]
    proven_from: dict[str, int]
    arrives: dict[tuple[str, str], list[int]]
    """Expected by the morning of each day, cumulative, without the plan [hundredths]."""
    most: dict[tuple[str, str], int] = field(default_factory=dict)
    """The most of (finish, fire, glaze, bisque, throw; key) that can be of use [pieces]."""
    last: dict[tuple[str, str], int] = field(default_factory=dict)
    """The last day index on which a step can still help."""
    first: dict[tuple[str, str], int] = field(default_factory=dict)
    """The first day index on which a step can find something to work on."""
    holds: dict[Slot, tuple[str, ...]] = field(default_factory=dict)
    """What may stand in a slot: wares of a bisque, lines of a glaze load."""

    def ware_of(self, line_key: str) -> Ware:
        """The ware of a line."""
        return self.wares[self.lines[line_key].ware_key]

    def lines_of(self, ware_key: str) -> list[str]:
        """The needed lines of a ware."""
        return [key for key, line in self.lines.items() if line.ware_key == ware_key]

    def date_of(self, day: int) -> date:
        """The date of a day index."""
        return self.problem.today_date + timedelta(days=day)

    def kiln(self, key: str) -> PlanKiln:
        """The kiln of a key."""
        return next(kiln for kiln in self.problem.kilns if kiln.key == key)

    def fits(self, *, slot: Slot, ware: Ware) -> bool:
        """Can a piece of this ware stand in the kiln of this slot?"""
        return (
            ware.height_mm <= self.kiln(slot.kiln_key).clear_height_mm
            and ware.room_tenths <= slot.room_tenths
        )

    def most_in(self, *, slot: Slot, key: str) -> int:
        """The most pieces of a ware (bisque) or line (glaze) that one load of a slot may hold."""
        if slot.schedule_key == BISQUE:
            return slot.room_tenths // self.wares[key].room_tenths
        ware, line = self.ware_of(key), self.lines[key]
        most = slot.room_tenths // ware.room_tenths
        if line.is_tried_in(slot.kiln_key):
            rule = self.problem.trial_rule
            most = min(most, rule.most_on_trial(kiln=self.kiln(slot.kiln_key), ware=ware))
        return most


def frame(*, problem: Problem) -> Frame:
    """Turn a question into day indices, bounds and windows."""
    needed = {key for need in problem.needs for key, _ in need.counts}
    lines = {line.key: line for line in problem.lines if line.key in needed}
    ware_keys = {line.ware_key for line in lines.values()}
    made = Frame(
        problem=problem,
        span=len(problem.days),
        wares={ware.key: ware for ware in problem.wares if ware.key in ware_keys},
        lines=lines,
        wants=_wants(problem),
        slots=(),
        busy=_busy(problem),
        heating=_heating(problem),
        proven_from=_proven_from(problem, lines),
        arrives={},
    )
    made.arrives = _arrives(made)
    _set_most(made)
    made.slots = _slots(made)
    _set_first(made)
    _set_last(made)
    made.holds = {slot: held for slot in made.slots if (held := _keys_in(made, slot))}
    made.slots = tuple(made.holds)
    return made


def _day(problem: Problem, when: date) -> int:
    return (when - problem.today_date).days


def _wants(problem: Problem) -> tuple[Want, ...]:
    return tuple(
        Want(
            need_key=need.key,
            line_key=key,
            asked=asked,
            importance=need.importance,
            early=max(0, _day(problem, need.due_date) - need.buffer_days),
            due=_day(problem, need.due_date),
        )
        for need in problem.needs
        for key, asked in need.counts
    )


def _busy(problem: Problem) -> dict[str, set[int]]:
    busy: dict[str, set[int]] = {kiln.key: set() for kiln in problem.kilns}
    for load in problem.pinned:
        start = _day(problem, load.start_date)
        busy[load.kiln_key] |= set(range(start, start + load.busy_days))
    return busy


def _heating(problem: Problem) -> dict[tuple[str, int], int]:
    circuit_of = {kiln.key: kiln.circuit_key for kiln in problem.kilns}
    heating: defaultdict[tuple[str, int], int] = defaultdict(int)
    for load in problem.pinned:
        heating[circuit_of[load.kiln_key], _day(problem, load.start_date)] += 1
    return heating


def _proven_from(problem: Problem, lines: dict[str, PlanLine]) -> dict[str, int]:
    proven_from = {}
    for key, line in lines.items():
        opens = [
            _day(problem, load.open_date)
            for load in problem.pinned
            if load.filled and load.schedule_key != BISQUE and key in dict(load.contents)
        ]
        proven_from[key] = 0 if line.proven else max(0, min(opens, default=NEVER))
    return proven_from


def _arrives(made: Frame) -> dict[tuple[str, str], list[int]]:
    problem, yields = made.problem, made.problem.yields
    step = {
        Stage.THROWN: "dry",
        Stage.BISQUED: "bisqued",
        Stage.GLAZED: "glazed",
        Stage.FIRED: "fired",
        Stage.GRADED: "finished",
        Stage.LISTED: "finished",
    }
    daily = {(place, key): [0] * made.span for place in ("dry", "bisqued") for key in made.wares}
    daily |= {
        (place, key): [0] * made.span
        for place in ("glazed", "fired", "finished")
        for key in made.lines
    }

    def add(place: str, key: str, when: date, hundredths: int) -> None:
        day = max(0, _day(problem, when))
        if (place, key) in daily and day < made.span:
            daily[place, key][day] += hundredths

    for hand in problem.on_hand:
        wet = hand.stage == Stage.THROWN and hand.ready_date > problem.today_date
        percent = yields.drying_percent if wet else 100
        add(step[hand.stage], hand.key, hand.ready_date, hand.count * percent)
    for load in problem.pinned:
        if load.filled:
            bisque = load.schedule_key == BISQUE
            percent = yields.bisque_percent if bisque else yields.glaze_percent
            for key, count in load.contents:
                add("bisqued" if bisque else "fired", key, load.open_date, count * percent)
    return {key: list(accumulate(counts)) for key, counts in daily.items()}


def _set_most(made: Frame) -> None:
    """Net what stands there in time from what is asked, deadline by deadline."""
    yields = made.problem.yields
    for key in made.lines:
        fire = finish = 0
        for due in sorted({want.due for want in made.wants if want.line_key == key}):
            asked = sum(w.asked for w in made.wants if w.line_key == key and w.due <= due)
            open_ = max(0, asked - made.arrives["finished", key][due] // 100)
            finish = max(finish, open_)
            there = made.arrives["fired", key][due - 1] if due else 0
            needed = share_up(hundredths=100 * open_ - there, percent=yields.glaze_percent)
            if needed and made.proven_from[key] == NEVER:
                needed = max(needed, made.problem.trial_rule.least_pieces)
            fire = max(fire, needed)
        made.most["finish", key], made.most["fire", key] = finish, fire
        made.most["glaze", key] = max(0, fire - made.arrives["glazed", key][0] // 100)
    for key in made.wares:
        glazed = 100 * sum(made.most["glaze", line] for line in made.lines_of(key))
        bisque = share_up(
            hundredths=glazed - made.arrives["bisqued", key][0], percent=yields.bisque_percent
        )
        made.most["bisque", key] = bisque
        made.most["throw", key] = share_up(
            hundredths=100 * bisque - made.arrives["dry", key][0], percent=yields.drying_percent
        )


def _slots(made: Frame) -> tuple[Slot, ...]:
    schedules = {BISQUE} | {line.schedule_key for line in made.lines.values()}
    slots = []
    for kiln in made.problem.kilns:
        for run in kiln.runs:
            if run.schedule_key not in schedules:
                continue
            for start, day in enumerate(made.problem.days):
                taken = made.busy[kiln.key] & set(range(start, start + run.busy_days))
                heats = made.heating.get((kiln.circuit_key, start), 0)
                at_once = next(
                    c.at_once for c in made.problem.circuits if c.key == kiln.circuit_key
                )
                if day.may_start and not taken and heats < at_once:
                    slots.append(_slot(kiln, run, start, run.busy_days))
    for load in made.problem.pinned:
        start = _day(made.problem, load.start_date)
        kiln = made.kiln(load.kiln_key)
        kept_run = kiln.run(load.schedule_key)
        if not load.filled and kept_run and 0 <= start < made.span and _stands_alone(made, load):
            slots.append(_slot(kiln, kept_run, start, load.busy_days, kept=True))
    return tuple(slots)


def _stands_alone(made: Frame, load: Load) -> bool:
    """An appointment can only be filled where no other pinned load is in its way."""
    others = [other for other in made.problem.pinned if other is not load]
    kiln = made.kiln(load.kiln_key)
    start = _day(made.problem, load.start_date)
    at_once = next(c.at_once for c in made.problem.circuits if c.key == kiln.circuit_key)
    return made.heating.get((kiln.circuit_key, start), 0) <= at_once and not any(
        other.kiln_key == load.kiln_key
        and other.start_date < load.open_date
        and load.start_date < other.open_date
        for other in others
    )


def _slot(kiln: PlanKiln, run: Run, start: int, busy_days: int, *, kept: bool = False) -> Slot:
    return Slot(
        kiln_key=kiln.key,
        schedule_key=run.schedule_key,
        start=start,
        open=start + busy_days,
        room_tenths=kiln.room_tenths(run.schedule_key),
        cost_pence=run.cost_pence,
        kept=kept,
    )


def _first_there(made: Frame, place: str, key: str) -> int:
    """The first morning on which a whole piece stands there without the plan."""
    counts = made.arrives[place, key]
    return next((day for day, count in enumerate(counts) if count >= 100), NEVER)


def _set_first(made: Frame) -> None:
    days = made.problem.days

    def opens(schedule: str, ware: Ware, ready: int) -> int:
        return min(
            (
                slot.open
                for slot in made.slots
                if slot.schedule_key == schedule
                and slot.start >= ready
                and made.fits(slot=slot, ware=ware)
            ),
            default=NEVER,
        )

    for key, ware in made.wares.items():
        throws = (i for i, day in enumerate(days) if day.throwing_min >= ware.throwing_min)
        made.first["throw", key] = next(throws, NEVER)
        dry = min(_first_there(made, "dry", key), made.first["throw", key] + ware.drying_days)
        made.first["bisque", key] = dry
        bisqued = min(_first_there(made, "bisqued", key), opens(BISQUE, ware, dry))
        for line in made.lines_of(key):
            glazes = (
                i
                for i, day in enumerate(days)
                if i >= bisqued and day.glazing_min >= ware.glazing_min
            )
            made.first["glaze", line] = next(glazes, NEVER)
            glazed = min(_first_there(made, "glazed", line), made.first["glaze", line] + 1)
            made.first["fire", line] = glazed
            fired = opens(made.lines[line].schedule_key, ware, glazed)
            made.first["finish", line] = min(_first_there(made, "fired", line), fired)


def _set_last(made: Frame) -> None:
    for key in made.wares:
        made.last["glaze_ware", key] = -1
    for key, line in made.lines.items():
        ware = made.wares[line.ware_key]
        due = max(want.due for want in made.wants if want.line_key == key)
        made.last["finish", key] = due - 1
        starts = [
            slot.start
            for slot in made.slots
            if slot.schedule_key == line.schedule_key
            and slot.open <= due - 1
            and made.fits(slot=slot, ware=ware)
        ]
        made.last["fire", key] = max(starts, default=-1)
        made.last["glaze", key] = made.last["fire", key] - 1
        made.last["glaze_ware", ware.key] = max(
            made.last["glaze_ware", ware.key], made.last["glaze", key]
        )
    for key, ware in made.wares.items():
        starts = [
            slot.start
            for slot in made.slots
            if slot.schedule_key == BISQUE
            and slot.open <= made.last["glaze_ware", key]
            and made.fits(slot=slot, ware=ware)
        ]
        made.last["bisque", key] = max(starts, default=-1)
        made.last["throw", key] = made.last["bisque", key] - ware.drying_days


def _keys_in(made: Frame, slot: Slot) -> tuple[str, ...]:
    """What may stand in a slot and still help a promise."""
    step = "bisque" if slot.schedule_key == BISQUE else "fire"
    after = "glaze_ware" if slot.schedule_key == BISQUE else "finish"
    found = []
    for key in made.wares if slot.schedule_key == BISQUE else made.lines:
        if slot.schedule_key != BISQUE and made.lines[key].schedule_key != slot.schedule_key:
            continue
        ware = made.wares[key] if slot.schedule_key == BISQUE else made.ware_of(key)
        if (
            made.most[step, key] > 0
            and made.first[step, key] <= slot.start
            and slot.open <= made.last[after, key]
            and made.fits(slot=slot, ware=ware)
            and made.most_in(slot=slot, key=key) > 0
        ):
            found.append(key)
    return tuple(found)
