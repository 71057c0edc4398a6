"""Among plans that keep as much and cost as little: which leaves slack, and is even work?

Slack is counted in piece-days: for each of the seven days before a promise has to be there
(its date less its buffer), how many of its pieces are not finished yet. Fewer is better. Then,
with the kiln calendar standing, the busiest day of each kind of work is made as light as it can
be, and nothing is thrown that no promise needs. Neither is proven least; both are kindness.
"""

from __future__ import annotations

from collections import Counter, defaultdict

from studio.craft.answer import Plan, Work
from studio.craft.backplan_frame import Frame
from studio.craft.backplan_model import Model, Var
from studio.craft.backplan_search import Clock, Search, Shape, solve

SLACK_DAYS = 7


def polish(
    *,
    made: Frame,
    limits: Shape,
    plan: Plan,
    clock: Clock,
    until: float,
    steps: float,
    seed: int,
) -> Plan:
    """The plan made slacker and then more even; the same promises at the same cost.

    ``limits`` adds what the stages before have reached.
    """
    kept = {(one.need_key, one.line_key): one for one in plan.kept}

    def stand(model: Model) -> None:
        limits(model)
        model.cp.add(model.cost <= plan.cost_pence)
        for want, var in model.kept.items():
            model.cp.add(var == kept[want.need_key, want.line_key].kept)
            model.cp.add(model.in_buffer[want] == kept[want.need_key, want.line_key].in_buffer)

    def slacken(model: Model) -> None:
        stand(model)
        model.cp.minimize(_missing(model, plan))

    search = Search(
        made=made,
        shape=slacken,
        value_of=lambda p: piece_days_missing(made=made, plan=p),
        plan=plan,
        clock=clock,
        seed=seed,
    )
    search.run(steps=steps * 0.7, until=clock.spent + 0.7 * (until - clock.spent))

    def even_out(model: Model) -> None:
        stand(model)
        model.cp.add(_missing(model, plan) <= search.value)
        model.cp.minimize(_unevenness(model))

    search.shape = even_out
    left = max(0.2, until - clock.spent)
    if clock.over(until) or search.is_heavy:
        return search.plan
    found = solve(model=search.around(set()), steps=steps * 0.3, seconds=left, seed=seed, habit=2)
    clock.ran_out = clock.ran_out or found.cut
    return found.plan or search.plan


def _promised_by(made: Frame, plan: Plan) -> dict[tuple[str, int], int]:
    """Pieces of a line that have to be there by the morning of a day on which some fall due."""
    kept = {(one.need_key, one.line_key): one for one in plan.kept}
    promised = {}
    for line in made.lines:
        for day in {want.early for want in made.wants if want.line_key == line}:
            promised[line, day] = sum(
                kept[want.need_key, line].kept - kept[want.need_key, line].in_buffer
                for want in made.wants
                if want.line_key == line and want.early <= day
            )
    return promised


def piece_days_missing(*, made: Frame, plan: Plan) -> int:
    """Piece-days that a plan is late for a week of slack before each promise."""
    finished: defaultdict[str, Counter[int]] = defaultdict(Counter)
    for job in plan.jobs:
        if job.work == Work.FINISHING:
            finished[job.key][(job.date - made.problem.today_date).days] += job.count
    total = 0
    for (line, day), promised in _promised_by(made, plan).items():
        for before in range(max(0, day - SLACK_DAYS), day):
            there = made.arrives["finished", line][before] // 100
            there += sum(n for when, n in finished[line].items() if when < before)
            total += max(0, promised - there)
    return total


def _missing(model: Model, plan: Plan) -> Var:
    made, cp = model.made, model.cp
    parts: list[Var] = []
    for (line, day), promised in _promised_by(made, plan).items():
        finish = model.flows[Work.FINISHING, line]
        for before in range(max(0, day - SLACK_DAYS), day):
            open_ = promised - made.arrives["finished", line][before] // 100
            if open_ > 0:
                late = cp.new_int_var(0, open_, "")
                cp.add(late >= open_ - finish.by(before - 1))
                parts.append(late)
    return sum(parts)


def _unevenness(model: Model) -> Var:
    """The busiest day's minutes of each kind of work, and every piece thrown."""
    made, cp = model.made, model.cp
    total: Var = 0
    for work in Work:
        minutes: defaultdict[int, list[Var]] = defaultdict(list)
        for (kind, key), flow in model.flows.items():
            if kind != work:
                continue
            ware = made.wares[key] if work == Work.THROWING else made.ware_of(key)
            for day, var in flow.on.items():
                minutes[day].append(int(getattr(ware, f"{work}_min")) * var)
                total += var
        most = max((int(getattr(d, f"{work}_min")) for d in made.problem.days), default=0)
        peak = cp.new_int_var(0, max(1, most), "")
        for parts in minutes.values():
            cp.add(sum(parts) <= peak)
        total += peak
    return total
