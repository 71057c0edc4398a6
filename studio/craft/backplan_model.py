"""How is the planning question said to an integer solver, and its answer read back?

Days are indices. Counts are whole and cumulative: what a step has taken up to a day never
exceeds what the step before has brought by then (both sides times 100, so yields stay exact).
A slot is on or off; what stands in it is counted per ware (bisque) or line (glaze).

The whole question can be said, or a part of a plan: then only what the part opens is a variable,
the rest are the plan's numbers, and of limits that differ by numbers alone the tightest is said.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from ortools.sat.python import cp_model

from studio.craft.answer import Work
from studio.craft.backplan_counts import STEP_OF, Counts, Part
from studio.craft.backplan_frame import NEVER, Frame, Slot, Want
from studio.craft.problem import BISQUE

Var = Any
"""A variable, linear expression or number of the solver (it has no types of its own)."""


class Level(NamedTuple):
    """A cumulative count: a variable (or none) and a number beside it."""

    var: Var
    plus: int


@dataclass(kw_only=True, slots=True)
class Flow:
    """One step of one key: how many on each day, and how many up to and with each day."""

    on: dict[int, Var]
    upto: list[Level]
    began: dict[int, Var]
    """The variable of the cumulative count that begins on a day."""

    def level(self, day: int) -> Level:
        """How many up to and with a day; nothing before today."""
        return self.upto[min(day, len(self.upto) - 1)] if day >= 0 else Level(None, 0)

    def by(self, day: int) -> Var:
        """The same as an expression or a number."""
        var, plus = self.level(day)
        return plus if var is None else (var + plus if plus else var)


@dataclass(kw_only=True, slots=True)
class Model:
    """The solver's model of a frame and the variables by what they mean."""

    made: Frame
    cp: cp_model.CpModel
    base: Counts | None = None
    part: Part | None = None
    slot_on: dict[Slot, Var] = field(default_factory=dict)
    inside: dict[tuple[Slot, str], Var] = field(default_factory=dict)
    flows: dict[tuple[Work, str], Flow] = field(default_factory=dict)
    into: dict[str, Flow] = field(default_factory=dict)
    out: dict[str, Flow] = field(default_factory=dict)
    trial: dict[tuple[str, Slot], Var] = field(default_factory=dict)
    kept: dict[Want, Var] = field(default_factory=dict)
    in_buffer: dict[Want, Var] = field(default_factory=dict)
    limits: dict[tuple[tuple[int, int], ...], tuple[int, list[Var]]] = field(default_factory=dict)

    @property
    def short(self) -> Var:
        """Weighted shortfall."""
        return sum(want.importance * (want.asked - var) for want, var in self.kept.items())

    @property
    def eaten(self) -> Var:
        """Weighted pieces inside their buffer."""
        return sum(want.importance * var for want, var in self.in_buffer.items())

    @property
    def cost(self) -> Var:
        """Cost of all loads [pence]."""
        return sum(slot.cost_pence * var for slot, var in self.slot_on.items())

    def is_open(self, key: str, day: int) -> bool:
        """May the counts of a key change on a day?"""
        return self.part is None or self.part.is_open(key, day)

    def stood(self, step: str, key: str) -> Counter[int]:
        """What the plan that a part is of does on each day; nothing for the whole question."""
        return self.base.on(step, key) if self.base else Counter()

    def holds(self, slot: Slot) -> dict[str, int]:
        """What stands in a slot in the plan that a part is of."""
        return self.base.inside(slot) if self.base else {}

    def limit(
        self, more: list[tuple[int, Level]], less: list[tuple[int, Level]], there: int
    ) -> None:
        """Say that the sum of ``more`` is at most that of ``less`` and what is there."""
        signed = [*more, *((-times, level) for times, level in less)]
        slack = there - sum(times * level.plus for times, level in signed)
        terms = [(times, level.var) for times, level in signed if level.var is not None]
        key = tuple((times, var.index) for times, var in terms)
        if key and (key not in self.limits or slack < self.limits[key][0]):
            self.limits[key] = slack, [var for _, var in terms]

    def say_limits(self) -> None:
        """Tell the solver the limits that were collected."""
        for key, (slack, variables) in self.limits.items():
            times = [one for one, _ in key]
            self.cp.add(cp_model.LinearExpr.weighted_sum(variables, times) <= slack)
        self.limits.clear()


def build(*, made: Frame, base: Counts | None = None, part: Part | None = None) -> Model:
    """Say the question to the solver: the whole, or a part of the plan that was counted."""
    model = Model(made=made, cp=cp_model.CpModel(), base=base, part=part)
    _add_hands(model)
    _add_loads(model)
    _add_trials(model)
    _add_balances(model)
    _add_promises(model)
    model.say_limits()
    return model


def _flow(model: Model, on: dict[int, Var], most: int) -> Flow:
    """Tie daily counts to cumulative ones; days without a variable repeat the day before."""
    upto: list[Level] = []
    began: dict[int, Var] = {}
    level = Level(None, 0)
    for day in range(model.made.span):
        if day in on:
            added = on[day]
            if isinstance(added, int):
                level = Level(level.var, level.plus + added)
            else:
                now = model.cp.new_int_var(0, most, "")
                before = 0 if level.var is None else level.var
                model.cp.add(now == before + level.plus + added)
                level, began[day] = Level(now, 0), now
        upto.append(level)
    return Flow(on=on, upto=upto, began=began)


def _add_hands(model: Model) -> None:
    made, cp = model.made, model.cp
    spent: defaultdict[tuple[Work, int], list[tuple[int, Var]]] = defaultdict(list)
    for work, step in STEP_OF.items():
        for key in made.wares if work == Work.THROWING else made.lines:
            ware = made.wares[key] if work == Work.THROWING else made.ware_of(key)
            each_min = int(getattr(ware, f"{work}_min"))
            stood = model.stood(work, key)
            most = max(made.most[step, key], stood.total())
            on: dict[int, Var] = {day: n for day, n in stood.items() if day < made.span}
            if model.part is None or key in model.part.keys:
                for day in range(made.first[step, key], min(made.last[step, key] + 1, made.span)):
                    minutes = int(getattr(made.problem.days[day], f"{work}_min"))
                    can = minutes // each_min if each_min else most
                    if min(can, most) > 0 and model.is_open(key, day):
                        on[day] = cp.new_int_var(0, min(can, most), "")
            for day, count in on.items():
                spent[work, day].append((each_min, count))
            model.flows[work, key] = _flow(model, on, most)
    for (work, day), parts in spent.items():
        minutes = int(getattr(made.problem.days[day], f"{work}_min"))
        _add_at_most(cp, parts, minutes)


def _add_at_most(cp: cp_model.CpModel, parts: list[tuple[int, Var]], most: int) -> None:
    """Say a limit on a sum of products, unless it is one of numbers alone."""
    left = most - sum(times * var for times, var in parts if isinstance(var, int))
    variables = [(times, var) for times, var in parts if not isinstance(var, int)]
    if variables:
        times = [one for one, _ in variables]
        cp.add(cp_model.LinearExpr.weighted_sum([var for _, var in variables], times) <= left)


def _slots_of(model: Model) -> list[Slot]:
    """The slots that are said: all, or those on and those free that no standing load blocks."""
    made, part = model.made, model.part
    if part is None:
        return list(made.slots)
    standing: defaultdict[str, set[int]] = defaultdict(set)
    for slot in made.slots:
        if slot not in part.free and model.holds(slot):
            standing[slot.kiln_key] |= set(range(slot.start, slot.open))
    return [
        slot
        for slot in made.slots
        if (
            standing[slot.kiln_key].isdisjoint(range(slot.start, slot.open))
            if slot in part.free
            else model.holds(slot)
        )
    ]


def _add_loads(model: Model) -> None:
    made, cp = model.made, model.cp
    busy: defaultdict[tuple[str, int], list[Var]] = defaultdict(list)
    heats: defaultdict[tuple[str, int], list[tuple[int, Var]]] = defaultdict(list)
    for slot in _slots_of(model):
        free = model.part is None or slot in model.part.free
        on = cp.new_bool_var("") if free else 1
        model.slot_on[slot] = on
        bisque = slot.schedule_key == BISQUE
        inside = model.holds(slot)
        parts: list[tuple[int, Var]] = []
        for key in {**dict.fromkeys(made.holds[slot]), **inside}:
            count: Var = inside.get(key, 0)
            if free or model.is_open(key, slot.start):
                if model.part is not None and key not in model.part.keys:
                    continue
                most = made.most["bisque" if bisque else "fire", key]
                most = min(most, made.most_in(slot=slot, key=key))
                count = cp.new_int_var(0, max(most, count), "")
            if isinstance(count, int) and not count:
                continue
            model.inside[slot, key] = count
            ware = made.wares[key] if bisque else made.ware_of(key)
            parts.append((ware.room_tenths, count))
        if free:
            parts.append((-slot.room_tenths, on))
        _add_at_most(cp, parts, 0 if free else slot.room_tenths)
        for day in range(slot.start, slot.open):
            if free:
                busy[slot.kiln_key, day].append(on)
        if not slot.kept:
            heats[made.kiln(slot.kiln_key).circuit_key, slot.start].append((1, on))
    for on_that_day in busy.values():
        if len(on_that_day) > 1:
            cp.add_at_most_one(on_that_day)
    at_once = {circuit.key: circuit.at_once for circuit in made.problem.circuits}
    for (circuit, day), starting in heats.items():
        most = at_once[circuit] - made.heating.get((circuit, day), 0)
        if len(starting) > most:
            _add_at_most(cp, starting, most)


def _add_trials(model: Model) -> None:
    """An unproven line: at most one trial, and all else not before it is open."""
    made, cp, rule = model.made, model.cp, model.made.problem.trial_rule
    takes = {kiln.key for kiln in made.problem.kilns if kiln.takes_trials}
    for line, proven_from in made.proven_from.items():
        early = [
            (slot, var)
            for (slot, key), var in model.inside.items()
            if key == line and slot.schedule_key != BISQUE and slot.start < proven_from
        ]
        if all(isinstance(var, int) for _, var in early):
            continue
        stood = min(
            (slot for slot, _ in early if model.holds(slot).get(line)),
            key=lambda slot: slot.start,
            default=None,
        )
        stands = stood is not None and isinstance(model.inside[stood, line], int)
        opens = stood.open if stood is not None and stands else NEVER
        trials = {
            slot: cp.new_bool_var("")
            for slot, var in early
            if slot.kiln_key in takes and not stands and not isinstance(var, int)
        }
        cp.add_at_most_one(trials.values())
        for slot, var in early:
            if slot.start >= opens or (stands and slot == stood):
                continue
            opened = [trial for other, trial in trials.items() if other.open <= slot.start]
            most = max(made.most["fire", line], var if isinstance(var, int) else 0)
            mine = trials.get(slot)
            if mine is None:
                cp.add(var <= most * sum(opened))
            else:
                model.trial[line, slot] = mine
                cp.add(var <= most * sum(opened) + rule.most_pieces * mine)
                cp.add(var >= rule.least_pieces * mine)


def _add_balances(model: Model) -> None:
    made, yields = model.made, model.made.problem.yields
    _add_kiln_flows(model)
    put, out = model.into, model.out
    for key, ware in made.wares.items():
        thrown = model.flows[Work.THROWING, key]
        for day in put[key].on:
            dry = (yields.drying_percent, thrown.level(day - ware.drying_days))
            model.limit([(100, put[key].level(day))], [dry], made.arrives["dry", key][day])
        glazed = [model.flows[Work.GLAZING, line] for line in made.lines_of(key)]
        for day in sorted({day for flow in glazed for day in flow.on}):
            there = (yields.bisque_percent, out[key].level(day))
            taken = [(100, flow.level(day)) for flow in glazed]
            model.limit(taken, [there], made.arrives["bisqued", key][day])
    for key in made.lines:
        glaze, finish = model.flows[Work.GLAZING, key], model.flows[Work.FINISHING, key]
        for day in put[key].on:
            there_on_day = made.arrives["glazed", key][day] // 100
            model.limit([(1, put[key].level(day))], [(1, glaze.level(day - 1))], there_on_day)
        for day in finish.on:
            there = (yields.glaze_percent, out[key].level(day))
            model.limit([(100, finish.level(day))], [there], made.arrives["fired", key][day])


def _add_kiln_flows(model: Model) -> None:
    """What goes into kilns (by the start day) and comes out (by the open day), key by key."""
    made = model.made
    into: defaultdict[str, defaultdict[int, list[Var]]] = defaultdict(lambda: defaultdict(list))
    from_: defaultdict[str, defaultdict[int, list[Var]]] = defaultdict(lambda: defaultdict(list))
    for (slot, key), var in model.inside.items():
        into[key][slot.start].append(var)
        if slot.open < made.span:
            from_[key][slot.open].append(var)
    for key in (*made.wares, *made.lines):
        most = made.most["bisque" if key in made.wares else "fire", key]
        most = max(most, model.stood("into", key).total())
        ins = {day: sum(vars_) for day, vars_ in into[key].items()}
        outs = {day: sum(vars_) for day, vars_ in from_[key].items()}
        model.into[key] = _flow(model, ins, most)
        model.out[key] = _flow(model, outs, most)


def _add_promises(model: Model) -> None:
    made, cp = model.made, model.cp
    by_line: defaultdict[str, list[Want]] = defaultdict(list)
    for want in made.wants:
        by_line[want.line_key].append(want)
        if model.base and model.part and want.line_key not in model.part.keys:
            stood = model.base.kept[want.need_key, want.line_key]
            model.kept[want], model.in_buffer[want] = stood.kept, stood.in_buffer
            continue
        model.kept[want] = cp.new_int_var(0, want.asked, "")
        most = want.asked if want.early < want.due else 0
        model.in_buffer[want] = cp.new_int_var(0, most, "")
        cp.add(model.in_buffer[want] <= model.kept[want])
    for line, wants in by_line.items():
        if model.part and line not in model.part.keys:
            continue
        finish = model.flows[Work.FINISHING, line]
        for day in sorted({want.due for want in wants} | {want.early for want in wants}):
            handed: list[Var] = []
            for want in wants:
                if want.due <= day:
                    handed.append(model.kept[want])
                elif want.early <= day:
                    handed.append(model.kept[want] - model.in_buffer[want])
            there = made.arrives["finished", line][day] // 100
            cp.add(sum(handed) <= finish.by(day - 1) + there)
