"""How is a plan told to the solver to start from, and how is its answer read back as a plan?"""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import Any

from studio.craft.answer import Job, Kept, Plan
from studio.craft.backplan_counts import counts_of
from studio.craft.backplan_frame import Slot
from studio.craft.backplan_model import Model, Var
from studio.craft.backward_walk import load_of


def hint(*, model: Model, plan: Plan) -> None:
    """Tell the solver a whole plan to start from."""
    made, cp = model.made, model.cp
    counts = model.base if model.base and model.base.plan is plan else None
    counts = counts or counts_of(made=made, plan=plan)
    cp.clear_hints()  # type: ignore[no-untyped-call]

    def say(var: Var, value: int) -> None:
        if not isinstance(var, int):
            cp.add_hint(var, value)

    named = [((str(work), key), flow) for (work, key), flow in model.flows.items()]
    for (step, key), flow in named:
        stood = counts.on(step, key)
        for day, var in flow.on.items():
            say(var, stood[day])
    named += [(("into", key), flow) for key, flow in model.into.items()]
    named += [(("out", key), flow) for key, flow in model.out.items()]
    for (step, key), flow in named:
        if flow.began:
            stood = counts.on(step, key)
            for day, var in flow.began.items():
                say(var, sum(n for when, n in stood.items() if when <= day))
    for slot, on in model.slot_on.items():
        say(on, int(bool(counts.inside(slot))))
    for (slot, key), var in model.inside.items():
        say(var, counts.inside(slot).get(key, 0))
    first: dict[str, int] = {}
    for line, slot in model.trial:
        if line in counts.inside(slot):
            first[line] = min(slot.start, first.get(line, slot.start))
    for (line, slot), var in model.trial.items():
        say(var, int(line in counts.inside(slot) and slot.start == first[line]))
    for want, var in model.kept.items():
        say(var, counts.kept[want.need_key, want.line_key].kept)
        say(model.in_buffer[want], counts.kept[want.need_key, want.line_key].in_buffer)


def read(*, model: Model, value: Any) -> Plan:
    """The plan of a solution; ``value`` gives a variable's value. Bounds are left at 0."""
    made = model.made

    def of(var: Var) -> int:
        return var if isinstance(var, int) else int(value(var))

    jobs = [
        Job(work=work, date=made.date_of(day), key=key, count=count)
        for (work, key), flow in model.flows.items()
        for day, var in flow.on.items()
        if (count := of(var))
    ]
    contents: defaultdict[Slot, Counter[str]] = defaultdict(Counter)
    for (slot, key), var in model.inside.items():
        if count := of(var):
            contents[slot][key] = count
    kept = tuple(
        Kept(
            need_key=want.need_key,
            line_key=want.line_key,
            asked=want.asked,
            kept=of(var),
            in_buffer=of(model.in_buffer[want]),
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
            want.importance * (want.asked - of(var)) for want, var in model.kept.items()
        ),
        short_bound=0,
        cost_bound_pence=0,
        proven=False,
    )
