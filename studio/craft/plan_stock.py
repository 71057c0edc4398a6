"""How does what is made towards each date grow, stage by stage, while a plan is carried out?

Counted at the end of each day: of the pieces that a date is to receive, how many have come at
least so far. The soonest date takes first. Thrown and bisqued ware has no glaze yet; it counts for
the dates in their order, whatever the line. Losses still to come are not taken off.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from studio.craft.answer import Plan, Work
from studio.craft.problem import BISQUE, Load, Need, Problem, Stage

STAGES = (Stage.THROWN, Stage.BISQUED, Stage.GLAZED, Stage.FIRED, Stage.GRADED)
"""In the order of the columns of ``Towards.days``."""

Arrivals = dict[str, Counter[date]]
"""By ware or line: how many come so far on which day."""

_Add = Callable[[Stage, str, date, int], None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Towards:
    """A date, and how many of its pieces have come at least as far as each of ``STAGES``.

    ``days`` has a row for today and for each day on which a number changes.
    """

    need_key: str
    name: str
    due_date: date
    asked: int
    kept: int
    days: tuple[tuple[date, tuple[int, ...]], ...]


def towards(*, problem: Problem, plan: Plan) -> tuple[Towards, ...]:
    """One for each date, soonest first."""
    come = _arrivals(problem, plan)
    needs = sorted(problem.needs, key=lambda need: (need.due_date, need.key))
    rows: dict[str, list[tuple[date, tuple[int, ...]]]] = {need.key: [] for need in needs}
    for day in (day.date for day in problem.days):
        shares = [_shared(problem, plan, needs, come[stage], day, stage) for stage in STAGES]
        for need in needs:
            if day > need.due_date:
                continue
            counts = [share[need.key] for share in shares]
            # A piece that has come further has come so far: the two ways of sharing may differ.
            for i in range(len(counts) - 2, -1, -1):
                counts[i] = max(counts[i], counts[i + 1])
            if not rows[need.key] or rows[need.key][-1][1] != tuple(counts):
                rows[need.key].append((day, tuple(counts)))
    return tuple(
        Towards(
            need_key=need.key,
            name=need.name,
            due_date=need.due_date,
            asked=sum(n for _, n in need.counts),
            kept=sum(kept.kept for kept in plan.kept if kept.need_key == need.key),
            days=tuple(rows[need.key]),
        )
        for need in needs
    )


def _shared(
    problem: Problem,
    plan: Plan,
    needs: Iterable[Need],
    come: Arrivals,
    day: date,
    stage: Stage,
) -> Counter[str]:
    """Share what has come so far by a day out over the dates, the soonest first."""
    by_ware = stage in (Stage.THROWN, Stage.BISQUED)
    ware_of = {line.key: line.ware_key for line in problem.lines}
    left = {key: sum(n for when, n in days.items() if when <= day) for key, days in come.items()}
    kept = {(row.need_key, row.line_key): row.kept for row in plan.kept}
    shares: Counter[str] = Counter()
    for need in needs:
        for line, _ in need.counts:
            key = ware_of[line] if by_ware else line
            taken = min(left.get(key, 0), kept.get((need.key, line), 0))
            left[key] = left.get(key, 0) - taken
            shares[need.key] += taken
    return shares


def _arrivals(problem: Problem, plan: Plan) -> Mapping[Stage, Arrivals]:
    """When do how many come at least as far as each stage? Each includes those further along."""
    today = problem.today_date
    own: dict[Stage, Arrivals] = {stage: {} for stage in STAGES}

    def add(stage: Stage, key: str, day: date, count: int) -> None:
        own[stage].setdefault(key, Counter())[max(day, today)] += count

    for hand in problem.on_hand:
        add(min(hand.stage, Stage.GRADED, key=_rank), hand.key, today, hand.count)
    ware_of = {line.key: line.ware_key for line in problem.lines}
    filled = [load for load in problem.pinned if load.filled]
    for load in filled:
        stage = Stage.THROWN if load.schedule_key == BISQUE else Stage.GLAZED
        for key, count in load.contents:
            add(stage, key, today, count)
    further = {
        Stage.FIRED: _beyond(own[Stage.GRADED]),
        Stage.GLAZED: _beyond(own[Stage.GRADED], own[Stage.FIRED]),
    }
    by_line = _beyond(own[Stage.GRADED], own[Stage.FIRED], own[Stage.GLAZED])
    as_ware: Counter[str] = Counter()
    for key, count in by_line.items():
        as_ware[ware_of[key]] += count
    further[Stage.BISQUED] = as_ware
    further[Stage.THROWN] = as_ware + _beyond(own[Stage.BISQUED])
    for stage, counts in further.items():
        for key, count in counts.items():
            add(stage, key, today, count)
    for load in (*plan.loads, *filled):
        _open(problem, load, add)
    stages = {Work.THROWING: Stage.THROWN, Work.GLAZING: Stage.GLAZED, Work.FINISHING: Stage.GRADED}
    for job in plan.jobs:
        add(stages[job.work], job.key, job.date, job.count)
    return own


def _open(problem: Problem, load: Load, add: _Add) -> None:
    bisque = load.schedule_key == BISQUE
    percent = problem.yields.bisque_percent if bisque else problem.yields.glaze_percent
    for key, count in load.contents:
        stage = Stage.BISQUED if bisque else Stage.FIRED
        add(stage, key, load.open_date, count * percent // 100)


def _beyond(*arrivals: Arrivals) -> Counter[str]:
    found: Counter[str] = Counter()
    for one in arrivals:
        for key, days in one.items():
            found[key] += sum(days.values())
    return found


def _rank(stage: Stage) -> int:
    return list(Stage).index(stage)
