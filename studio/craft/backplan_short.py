"""What does the planning question come to when only the shortfall counts, and alike is one?

A smaller question that every plan of the true one also solves, so that what it must leave short,
every plan must: wares alike in all that counts are one ware, lines of one ware and schedule one
line, kilns alike one kiln that is there several times; pieces may be split. Said as rows of
numbers for a linear solver, firings as whole numbers or split, too.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field
from typing import NamedTuple

from studio.craft.backplan_frame import NEVER, Frame, Slot
from studio.craft.problem import BISQUE, Ware

Terms = list[tuple[float, int]]
"""Coefficients and the numbers of their columns."""


class Uses(NamedTuple):
    """Kilns alike that may start a schedule on a day: their column and what one holds."""

    column: int
    kind: str
    room: int
    n: int


@dataclass(kw_only=True, slots=True)
class Rows:
    """A linear question: columns between limits, rows between limits, what to make least."""

    upper: list[float] = field(default_factory=list)
    lower: dict[int, float] = field(default_factory=dict)
    price: dict[int, float] = field(default_factory=dict)
    whole: set[int] = field(default_factory=set)
    rows: list[tuple[Terms, float, float]] = field(default_factory=list)

    def column(self, most: float) -> int:
        """A new column from 0 to ``most``; its number."""
        self.upper.append(most)
        return len(self.upper) - 1

    def say(self, terms: Terms, *, low: float = -math.inf, high: float = math.inf) -> None:
        """A new row."""
        if terms:
            self.rows.append((terms, low, high))


@dataclass(kw_only=True, slots=True)
class Knapsack:
    """Things of a size that share whole boxes: a day's minutes, or the room of loads."""

    sizes: dict[int, list[int]]
    """Columns of counts by size."""
    boxes: list[tuple[int, int | None]]
    """(capacity, column that counts such boxes, None: one that is there anyway)"""


@dataclass(kw_only=True, slots=True)
class Smaller:
    """The smaller question; see the head of this module."""

    made: Frame
    rows: Rows = field(default_factory=Rows)
    ware_kind: dict[str, str] = field(default_factory=dict)
    line_kind: dict[str, str] = field(default_factory=dict)
    kiln_kind: dict[str, str] = field(default_factory=dict)
    work: dict[tuple[str, str, int], int] = field(default_factory=dict)
    """Columns of (throwing, glazing, finishing; ware or line; day)."""
    uses: dict[tuple[str, int, int], list[Uses]] = field(default_factory=dict)
    """By (schedule, start, open)."""
    inside: dict[tuple[str, int, int, str], int] = field(default_factory=dict)
    """Columns of what stands in the loads of (schedule, start, open) by kind."""
    slot_column: dict[Slot, int] = field(default_factory=dict)
    appointments: set[int] = field(default_factory=set)
    """Columns of firings that stand in the calendar and are not filled."""
    kept: dict[tuple[int, int, str], int] = field(default_factory=dict)
    """Columns of what is kept by (due, importance, line)."""
    asked: int = 0
    """What is asked for, weighed."""
    knapsacks: list[Knapsack] = field(default_factory=list)
    ends: list[Terms] = field(default_factory=list)
    """Sums that are whole in every plan."""

    def most(self, step: str, kind: str) -> int:
        """The most of a step that can be of use [pieces]."""
        keys = self.ware_kind if step in ("throw", "bisque") else self.line_kind
        return sum(self.made.most[step, key] for key, one in keys.items() if one == kind)

    def arrives(self, place: str, kind: str, day: int) -> int:
        """Expected by a morning without the plan [hundredths]."""
        keys = self.ware_kind if place in ("dry", "bisqued") else self.line_kind
        counts = (self.made.arrives[place, key][day] for key, one in keys.items() if one == kind)
        if place in ("glazed", "finished"):
            return sum(count // 100 * 100 for count in counts)
        return sum(counts)

    def ware_of(self, kind: str) -> Ware:
        """The ware of a kind of ware or line (each is named after its first)."""
        return self.made.ware_of(kind) if kind in self.made.lines else self.made.wares[kind]


def smaller(*, made: Frame) -> Smaller:
    """The smaller question of a frame."""
    small = Smaller(made=made)
    _name_kinds(small)
    _add_work(small)
    _add_firings(small)
    _add_calendar(small)
    _add_trials(small)
    _add_flows(small)
    _add_kept(small)
    return small


def _name_kinds(small: Smaller) -> None:
    """Each kind goes by the first key of its like."""
    made = small.made
    first: dict[object, str] = {}
    clears = sorted(kiln.clear_height_mm for kiln in made.problem.kilns)
    for key, ware in made.wares.items():
        like: object = (
            ware.room_tenths,
            sum(clear < ware.height_mm for clear in clears),
            ware.throwing_min,
            ware.glazing_min,
            ware.finishing_min,
            ware.drying_days,
        )
        small.ware_kind[key] = first.setdefault(like, key)
    first = {}
    for key, line in made.lines.items():
        ware_kind = small.ware_kind[line.ware_key]
        untried = made.proven_from[key] == NEVER
        like = ware_kind, line.schedule_key, untried, line.on_trial
        small.line_kind[key] = first.setdefault(like, key)
    first = {}
    for kiln in made.problem.kilns:
        runs = tuple(
            sorted(
                (r.schedule_key, r.busy_days, kiln.room_tenths(r.schedule_key)) for r in kiln.runs
            )
        )
        like = runs, kiln.clear_height_mm, kiln.takes_trials
        small.kiln_kind[kiln.key] = first.setdefault(like, kiln.key)


def _add_work(small: Smaller) -> None:
    made = small.made
    for work, step, keys in (
        ("throwing", "throw", small.ware_kind),
        ("glazing", "glaze", small.line_kind),
        ("finishing", "finish", small.line_kind),
    ):
        on: defaultdict[int, defaultdict[int, list[int]]] = defaultdict(lambda: defaultdict(list))
        for kind in dict.fromkeys(keys.values()):
            alike = [key for key, one in keys.items() if one == kind]
            each = int(getattr(small.ware_of(kind), f"{work}_min"))
            first = min(made.first[step, key] for key in alike)
            last = max(made.last[step, key] for key in alike)
            most = small.most(step, kind)
            for day in range(first, min(last + 1, made.span)):
                minutes = int(getattr(made.problem.days[day], f"{work}_min"))
                can = min(most, minutes // each) if each else most
                if can > 0:
                    small.work[work, kind, day] = column = small.rows.column(can)
                    if each:
                        on[day][each].append(column)
        for day, sizes in on.items():
            minutes = int(getattr(made.problem.days[day], f"{work}_min"))
            terms = [(float(each), one) for each, columns in sizes.items() for one in columns]
            small.rows.say(terms, high=minutes)
            small.knapsacks.append(Knapsack(sizes=dict(sizes), boxes=[(minutes, None)]))


def _add_firings(small: Smaller) -> None:
    """Columns for firings of kilns alike and for what stands in all of them that open together."""
    made, rows = small.made, small.rows
    alike: defaultdict[tuple[str, int, int, str, bool], list[Slot]] = defaultdict(list)
    for slot in made.slots:
        kind = small.kiln_kind[slot.kiln_key]
        alike[slot.schedule_key, slot.start, slot.open, kind, slot.kept].append(slot)
    holds: defaultdict[tuple[str, int, int], dict[str, dict[int, int]]] = defaultdict(dict)
    for (schedule, start, open_, kind, kept), slots in alike.items():
        column = rows.column(len(slots))
        rows.whole.add(column)
        group = schedule, start, open_
        small.uses.setdefault(group, []).append(
            Uses(column, kind, slots[0].room_tenths, len(slots))
        )
        kinds = small.ware_kind if schedule == BISQUE else small.line_kind
        if kept:
            small.appointments.add(column)
        for slot in slots:
            small.slot_column[slot] = column
            of_kind: defaultdict[str, int] = defaultdict(int)
            for key in made.holds[slot]:
                of_kind[kinds[key]] += made.most_in(slot=slot, key=key)
            for one, most in of_kind.items():
                ware = small.ware_of(one)
                can = holds[group].setdefault(one, {})
                there = min(most, slot.room_tenths // ware.room_tenths)
                can[column] = max(can.get(column, 0), there)
    for group, kinds_in in holds.items():
        _add_contents(small, group, kinds_in)


def _add_contents(
    small: Smaller, group: tuple[str, int, int], kinds: dict[str, dict[int, int]]
) -> None:
    rows, uses = small.rows, {one.column: one for one in small.uses[group]}
    step = "bisque" if group[0] == BISQUE else "fire"
    fits: dict[frozenset[int], list[str]] = {}
    for kind, can in kinds.items():
        most = small.most(step, kind)
        column = rows.column(min(most, sum(n * uses[on].n for on, n in can.items())))
        small.inside[(*group, kind)] = column
        rows.say([(1, column), *((-float(min(most, n)), on) for on, n in can.items())], high=0)
        fits.setdefault(frozenset(can), []).append(kind)
    for columns in fits:
        sizes: defaultdict[int, list[int]] = defaultdict(list)
        for other, there in fits.items():
            if other <= columns:
                for kind in there:
                    sizes[small.ware_of(kind).room_tenths].append(small.inside[(*group, kind)])
        terms = [(float(size), one) for size, ones in sizes.items() for one in ones]
        terms += [(-float(uses[on].room), on) for on in sorted(columns)]
        rows.say(terms, high=0)
        boxes: list[tuple[int, int | None]] = [(uses[on].room, on) for on in sorted(columns)]
        small.knapsacks.append(Knapsack(sizes=dict(sizes), boxes=boxes))


def _add_calendar(small: Smaller) -> None:
    """Kilns alike together are busy no more than they are many, supplies likewise."""
    made, problem = small.made, small.made.problem
    busy: defaultdict[tuple[str, int], set[int]] = defaultdict(set)
    heats: defaultdict[tuple[str, int], set[int]] = defaultdict(set)
    supply = {circuit.key: circuit.key for circuit in problem.circuits}
    by_kind: dict[str, str] = {}
    for kiln in problem.kilns:  # supplies of kilns alike count as one
        old = supply[kiln.circuit_key]
        new = supply[by_kind.setdefault(small.kiln_kind[kiln.key], kiln.circuit_key)]
        supply = {key: new if one == old else one for key, one in supply.items()}
    for slot, column in small.slot_column.items():
        for day in range(slot.start, min(slot.open, made.span)):
            busy[small.kiln_kind[slot.kiln_key], day].add(column)
        if not slot.kept:
            heats[supply[made.kiln(slot.kiln_key).circuit_key], slot.start].add(column)
    for (kind, day), columns in busy.items():
        there = [kiln.key for kiln in problem.kilns if small.kiln_kind[kiln.key] == kind]
        free = len(there)
        if small.appointments.isdisjoint(columns):
            free -= sum(day in made.busy[key] for key in there)
        small.rows.say([(1, one) for one in sorted(columns)], high=free)
    for (group, day), columns in heats.items():
        most = sum(
            circuit.at_once - made.heating.get((circuit.key, day), 0)
            for circuit in problem.circuits
            if supply[circuit.key] == group
        )
        small.rows.say([(1, one) for one in sorted(columns)], high=most)


def _add_trials(small: Smaller) -> None:
    """Lines nobody has fired: little before the trial is open, and one trial a line."""
    made, rows, rule = small.made, small.rows, small.made.problem.trial_rule
    takes = {small.kiln_kind[kiln.key] for kiln in made.problem.kilns if kiln.takes_trials}
    for kind in dict.fromkeys(small.line_kind.values()):
        alike = [key for key, one in small.line_kind.items() if one == kind]
        if made.proven_from[kind] != NEVER:
            continue
        groups = sorted(
            (start, open_, schedule) for schedule, start, open_, one in small.inside if one == kind
        )
        trials: dict[tuple[int, int, str], int] = {}
        for start, open_, schedule in groups:
            uses = [one for one in small.uses[schedule, start, open_] if one.kind in takes]
            if uses:
                trials[start, open_, schedule] = column = rows.column(len(alike))
                rows.whole.add(column)
                terms = [(-float(len(alike)), one.column) for one in uses]
                rows.say([(1, column), *terms], high=0)
                inside = small.inside[schedule, start, open_, kind]
                rows.say([(1, inside), (-float(rule.least_pieces), column)], low=0)
        rows.say([(1, one) for one in trials.values()], high=len(alike))
        most = max(made.most["fire", key] for key in alike)
        for day in sorted({start for start, _, _ in groups}):
            put: Terms = [
                (1, small.inside[schedule, start, open_, kind])
                for start, open_, schedule in groups
                if start <= day
            ]
            for (start, open_, _), column in trials.items():
                if open_ <= day:
                    put.append((-float(max(most, rule.most_pieces)), column))
                elif start <= day:
                    put.append((-float(rule.most_pieces), column))
            rows.say(put, high=0)


def _chain(
    small: Smaller,
    kind: str,
    place: str,
    comes: list[tuple[int, float, int]],
    goes: list[tuple[int, float, int]],
) -> None:
    """What goes by a day never exceeds what came by then; both as (day, times, column)."""
    made, rows = small.made, small.rows
    by_day: defaultdict[int, Terms] = defaultdict(list)
    for day, times, column in comes:
        if day < made.span:
            by_day[day].append((times, column))
    leaves: set[int] = set()
    for day, times, column in goes:
        by_day[day].append((-times, column))
        leaves.add(day)
    before: int | None = None
    seen, pending = 0, list[tuple[float, int]]()
    for day in sorted(by_day):
        pending += by_day[day]
        if day not in leaves:
            continue
        arrived = small.arrives(place, kind, day)
        stock = rows.column(math.inf)
        terms = [*pending, (-1.0, stock)]
        if before is not None:
            terms.append((1.0, before))
        rows.say(terms, low=seen - arrived, high=seen - arrived)
        seen, before, pending = arrived, stock, []


def _add_flows(small: Smaller) -> None:
    made, yields = small.made, small.made.problem.yields
    into: defaultdict[str, list[tuple[int, float, int]]] = defaultdict(list)
    out: defaultdict[str, list[tuple[int, int]]] = defaultdict(list)
    done: defaultdict[tuple[str, str], list[tuple[int, int]]] = defaultdict(list)
    for (_, start, open_, kind), column in small.inside.items():
        into[kind].append((start, 100.0, column))
        out[kind].append((open_, column))
    for (work, kind, day), column in small.work.items():
        done[work, kind].append((day, column))
    dry, bisqued, fired = (
        float(one) for one in (yields.drying_percent, yields.bisque_percent, yields.glaze_percent)
    )
    for kind in dict.fromkeys(small.ware_kind.values()):
        drying = small.ware_of(kind).drying_days
        thrown = [(day + drying, dry, column) for day, column in done["throwing", kind]]
        _chain(small, kind, "dry", thrown, into[kind])
        lines = {
            one for key, one in small.line_kind.items()
            if small.ware_kind[made.lines[key].ware_key] == kind
        }  # fmt: skip
        taken = [
            (d, 100.0, column) for line in sorted(lines) for d, column in done["glazing", line]
        ]
        _chain(small, kind, "bisqued", [(d, bisqued, c) for d, c in out[kind]], taken)
    for kind in dict.fromkeys(small.line_kind.values()):
        glazed = [(day + 1, 100.0, column) for day, column in done["glazing", kind]]
        _chain(small, kind, "glazed", glazed, into[kind])
        opened = [(day, fired, column) for day, column in out[kind]]
        _chain(small, kind, "fired", opened, [(d, 100.0, c) for d, c in done["finishing", kind]])
    for columns in (*done.values(), *([(d, c) for d, _, c in one] for one in into.values())):
        small.ends.append([(1.0, column) for _, column in columns])


def _add_kept(small: Smaller) -> None:
    asked: defaultdict[tuple[int, int, str], int] = defaultdict(int)
    for want in small.made.wants:
        asked[want.due, want.importance, small.line_kind[want.line_key]] += want.asked
        small.asked += want.importance * want.asked
    done: defaultdict[str, list[tuple[int, float, int]]] = defaultdict(list)
    for (work, kind, day), column in small.work.items():
        if work == "finishing":
            done[kind].append((day + 1, 100.0, column))
    goes: defaultdict[str, list[tuple[int, float, int]]] = defaultdict(list)
    for (due, importance, kind), count in asked.items():
        small.kept[due, importance, kind] = column = small.rows.column(count)
        small.rows.price[column] = -importance
        goes[kind].append((due, 100.0, column))
    for kind, going in goes.items():
        _chain(small, kind, "finished", done[kind], going)
