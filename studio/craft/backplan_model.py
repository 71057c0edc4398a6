"""How is the planning question said to an integer solver, and its answer read back?

Days are indices. Counts are whole and cumulative: what a step has taken up to a day never
exceeds what the step before has brought by then (both sides times 100, so yields stay exact).
A slot is on or off; what stands in it is counted per ware (bisque) or line (glaze).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from ortools.sat.python import cp_model

from studio.craft.answer import Job, Kept, Plan, Work
from studio.craft.backplan_frame import Frame, Slot, Want
from studio.craft.backward_walk import load_of
from studio.craft.problem import BISQUE

Var = Any
"""A variable or linear expression of the solver (it has no types of its own)."""


@dataclass(kw_only=True, slots=True)
class Flow:
    """One step of one key: how many on each day, and how many up to and with each day."""

    on: dict[int, Var]
    upto: list[Var]

    def by(self, day: int) -> Var:
        """How many up to and with a day; nothing before today."""
        return self.upto[min(day, len(self.upto) - 1)] if day >= 0 else 0


@dataclass(kw_only=True, slots=True)
class Model:
    """The solver's model of a frame and the variables by what they mean."""

    made: Frame
    cp: cp_model.CpModel
    slot_on: dict[Slot, Var] = field(default_factory=dict)
    inside: dict[tuple[Slot, str], Var] = field(default_factory=dict)
    flows: dict[tuple[Work, str], Flow] = field(default_factory=dict)
    into: dict[str, Flow] = field(default_factory=dict)
    out: dict[str, Flow] = field(default_factory=dict)
    trial: dict[tuple[str, Slot], Var] = field(default_factory=dict)
    kept: dict[Want, Var] = field(default_factory=dict)
    in_buffer: dict[Want, Var] = field(default_factory=dict)

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


def build(*, made: Frame) -> Model:
    """Say the question to the solver."""
    model = Model(made=made, cp=cp_model.CpModel())
    _add_hands(model)
    _add_loads(model)
    _add_trials(model)
    _add_balances(model)
    _add_promises(model)
    return model


def _flow(model: Model, on: dict[int, Var], most: int, name: str) -> Flow:
    """Tie daily counts to cumulative ones; days without work repeat the day before."""
    upto: list[Var] = []
    before: Var = 0
    for day in range(model.made.span):
        if day in on:
            now = model.cp.new_int_var(0, most, f"{name}<={day}")
            model.cp.add(now == before + on[day])
            before = now
        upto.append(before)
    return Flow(on=on, upto=upto)


def _add_hands(model: Model) -> None:
    made, cp = model.made, model.cp
    spent: defaultdict[tuple[Work, int], list[tuple[int, Var]]] = defaultdict(list)
    steps = {Work.THROWING: "throw", Work.GLAZING: "glaze", Work.FINISHING: "finish"}
    for work, step in steps.items():
        for key in made.wares if work == Work.THROWING else made.lines:
            ware = made.wares[key] if work == Work.THROWING else made.ware_of(key)
            each_min = int(getattr(ware, f"{work}_min"))
            most = made.most[step, key]
            on: dict[int, Var] = {}
            for day in range(made.first[step, key], min(made.last[step, key] + 1, made.span)):
                minutes = int(getattr(made.problem.days[day], f"{work}_min"))
                can = minutes // each_min if each_min else most
                if min(can, most) > 0:
                    on[day] = cp.new_int_var(0, min(can, most), f"{step} {key}@{day}")
                    spent[work, day].append((each_min, on[day]))
            model.flows[work, key] = _flow(model, on, most, f"{step} {key}")
    for (work, day), parts in spent.items():
        minutes = int(getattr(made.problem.days[day], f"{work}_min"))
        cp.add(sum(each * var for each, var in parts) <= minutes)


def _add_loads(model: Model) -> None:
    made, cp = model.made, model.cp
    busy: defaultdict[tuple[str, int], list[Var]] = defaultdict(list)
    heats: defaultdict[tuple[str, int], list[Var]] = defaultdict(list)
    for slot in made.slots:
        on = cp.new_bool_var("")
        model.slot_on[slot] = on
        bisque = slot.schedule_key == BISQUE
        parts = []
        for key in made.holds[slot]:
            room = (made.wares[key] if bisque else made.ware_of(key)).room_tenths
            most = made.most["bisque" if bisque else "fire", key]
            count = min(most, made.most_in(slot=slot, key=key))
            model.inside[slot, key] = cp.new_int_var(0, count, "")
            parts.append(room * model.inside[slot, key])
        cp.add(sum(parts) <= slot.room_tenths * on)
        for day in range(slot.start, slot.open):
            busy[slot.kiln_key, day].append(on)
        if not slot.kept:
            heats[made.kiln(slot.kiln_key).circuit_key, slot.start].append(on)
    for on_that_day in busy.values():
        if len(on_that_day) > 1:
            cp.add_at_most_one(on_that_day)
    at_once = {circuit.key: circuit.at_once for circuit in made.problem.circuits}
    for (circuit, day), starting in heats.items():
        most = at_once[circuit] - made.heating.get((circuit, day), 0)
        if len(starting) > most:
            cp.add(sum(starting) <= most)


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
        if not early:
            continue
        trials = {slot: cp.new_bool_var("") for slot, _ in early if slot.kiln_key in takes}
        cp.add_at_most_one(trials.values())
        for slot, var in early:
            opened = [trial for other, trial in trials.items() if other.open <= slot.start]
            most = made.most["fire", line]
            mine = trials.get(slot)
            if mine is None:
                cp.add(var <= most * sum(opened))
            else:
                model.trial[line, slot] = mine
                cp.add(var <= most * sum(opened) + rule.most_pieces * mine)
                cp.add(var >= rule.least_pieces * mine)


def _add_balances(model: Model) -> None:
    made, cp, yields = model.made, model.cp, model.made.problem.yields
    _add_kiln_flows(model)
    put, out = model.into, model.out
    for key, ware in made.wares.items():
        thrown = model.flows[Work.THROWING, key]
        for day in put[key].on:
            dry = yields.drying_percent * thrown.by(day - ware.drying_days)
            cp.add(100 * put[key].by(day) <= dry + made.arrives["dry", key][day])
        glazed = [model.flows[Work.GLAZING, line] for line in made.lines_of(key)]
        for day in sorted({day for flow in glazed for day in flow.on}):
            there = yields.bisque_percent * out[key].by(day) + made.arrives["bisqued", key][day]
            cp.add(100 * sum(flow.by(day) for flow in glazed) <= there)
    for key in made.lines:
        glaze, finish = model.flows[Work.GLAZING, key], model.flows[Work.FINISHING, key]
        for day in put[key].on:
            cp.add(put[key].by(day) <= glaze.by(day - 1) + made.arrives["glazed", key][day] // 100)
        for day in finish.on:
            there = yields.glaze_percent * out[key].by(day) + made.arrives["fired", key][day]
            cp.add(100 * finish.by(day) <= there)


def _add_kiln_flows(model: Model) -> None:
    """What goes into kilns (by the start day) and comes out (by the open day), key by key."""
    made = model.made
    into: defaultdict[tuple[str, int], list[Var]] = defaultdict(list)
    from_: defaultdict[tuple[str, int], list[Var]] = defaultdict(list)
    for (slot, key), var in model.inside.items():
        into[key, slot.start].append(var)
        if slot.open < made.span:
            from_[key, slot.open].append(var)
    for key in (*made.wares, *made.lines):
        most = made.most["bisque" if key in made.wares else "fire", key]
        ins = {day: sum(vars_) for (other, day), vars_ in into.items() if other == key}
        outs = {day: sum(vars_) for (other, day), vars_ in from_.items() if other == key}
        model.into[key] = _flow(model, ins, most, f"into {key}")
        model.out[key] = _flow(model, outs, most, f"out {key}")


def _add_promises(model: Model) -> None:
    made, cp = model.made, model.cp
    by_line: defaultdict[str, list[Want]] = defaultdict(list)
    for want in made.wants:
        model.kept[want] = cp.new_int_var(0, want.asked, f"kept {want.need_key} {want.line_key}")
        most = want.asked if want.early < want.due else 0
        model.in_buffer[want] = cp.new_int_var(0, most, "")
        cp.add(model.in_buffer[want] <= model.kept[want])
        by_line[want.line_key].append(want)
    for line, wants in by_line.items():
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


def hint(*, model: Model, plan: Plan, open_days: range | None = None) -> None:
    """Tell the solver a whole plan to start from; outside ``open_days`` its counts stand."""
    made, cp = model.made, model.cp
    cp.clear_hints()  # type: ignore[no-untyped-call]

    def day_of(when: date) -> int:
        return (when - made.problem.today_date).days

    daily: Counter[tuple[str, str, int]] = Counter()
    loads: dict[tuple[str, str, int], dict[str, int]] = {}
    for job in plan.jobs:
        daily[job.work, job.key, day_of(job.date)] += job.count
    for load in plan.loads:
        start = day_of(load.start_date)
        loads[load.kiln_key, load.schedule_key, start] = dict(load.contents)
        for key, count in load.contents:
            daily["into", key, start] += count
            daily["out", key, day_of(load.open_date)] += count

    def stand(var: Var, value: int, day: int) -> None:
        cp.add_hint(var, value)
        if open_days is not None and day not in open_days:
            cp.add(var == value)

    named = [((str(work), key), flow) for (work, key), flow in model.flows.items()]
    named += [(("into", key), flow) for key, flow in model.into.items()]
    named += [(("out", key), flow) for key, flow in model.out.items()]
    for (step, key), flow in named:
        total = 0
        for day, var in sorted(flow.on.items()):
            total += daily[step, key, day]
            if step not in ("into", "out"):
                stand(var, daily[step, key, day], day)
            cp.add_hint(flow.upto[day], total)
    for slot, on in model.slot_on.items():
        cp.add_hint(on, int((slot.kiln_key, slot.schedule_key, slot.start) in loads))
    for (slot, key), var in model.inside.items():
        contents = loads.get((slot.kiln_key, slot.schedule_key, slot.start), {})
        stand(var, contents.get(key, 0), slot.start)
    first: dict[str, int] = {}
    for line, slot in model.trial:
        if line in loads.get((slot.kiln_key, slot.schedule_key, slot.start), {}):
            first[line] = min(slot.start, first.get(line, slot.start))
    for (line, slot), var in model.trial.items():
        contents = loads.get((slot.kiln_key, slot.schedule_key, slot.start), {})
        cp.add_hint(var, int(line in contents and slot.start == first[line]))
    kept = {(one.need_key, one.line_key): one for one in plan.kept}
    for want, var in model.kept.items():
        cp.add_hint(var, kept[want.need_key, want.line_key].kept)
        cp.add_hint(model.in_buffer[want], kept[want.need_key, want.line_key].in_buffer)


def read(*, model: Model, value: Any) -> Plan:
    """The plan of a solution; ``value`` gives a variable's value. Bounds are left at 0."""
    made = model.made
    jobs = [
        Job(work=work, date=made.date_of(day), key=key, count=value(var))
        for (work, key), flow in model.flows.items()
        for day, var in flow.on.items()
        if value(var)
    ]
    contents: defaultdict[Slot, Counter[str]] = defaultdict(Counter)
    for (slot, key), var in model.inside.items():
        if value(var):
            contents[slot][key] = value(var)
    kept = tuple(
        Kept(
            need_key=want.need_key,
            line_key=want.line_key,
            asked=want.asked,
            kept=value(var),
            in_buffer=value(model.in_buffer[want]),
        )
        for want, var in model.kept.items()
    )
    return Plan(
        jobs=tuple(sorted(jobs, key=lambda job: (job.date, job.work, job.key))),
        loads=tuple(
            load_of(made=made, slot=slot, contents=contents[slot])
            for slot in sorted(contents, key=lambda s: (s.start, s.kiln_key, s.schedule_key))
        ),
        kept=kept,
        cost_pence=sum(slot.cost_pence for slot in contents),
        weighted_short=sum(
            want.importance * (want.asked - value(var)) for want, var in model.kept.items()
        ),
        short_bound=0,
        cost_bound_pence=0,
        proven=False,
    )
