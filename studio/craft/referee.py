"""Does this plan keep every promise, if each day is lived through as planned?

The referee replays a plan morning by morning with exact fractions and shares nothing with the
solver but the question itself. Its laws are the meaning of a plan; the solver must obey them:

1.  Hands. Throwing, glazing and finishing of a day fit the minutes of that day. Nothing is done
    before ``today_date`` or after ``last_date``.
2.  Drying. What is thrown on day t is dry on the morning of t + ``drying_days``; the drying yield
    is lost there. Thrown pieces on hand that are ready today or earlier are dry already and lose
    nothing; those ready later lose the drying yield on that morning.
3.  Bisque. A bisque load takes pieces that are dry by the morning of its start. They are out on
    its ``open_date`` (start + busy days), less the bisque yield.
4.  Glazing. A bisqued piece of the line's ware may be glazed from the morning it is out. It may
    be loaded from the morning after.
5.  Glaze firing. A load has one schedule and holds only lines of that schedule. They are out on
    its ``open_date``, less the glaze yield.
6.  Finishing. A fired piece may be graded, photographed and listed from the morning it is out. It
    is there the morning after. Pieces on hand that are graded or listed are finished.
7.  Promises. A kept piece is finished by the morning of its need's ``due_date``. It is counted
    ``in_buffer`` unless it is finished by the morning of ``due_date - buffer_days`` (or of today,
    if that is later). A finished piece serves one need. A need never keeps more than it asks.
8.  Counts. Yields turn whole counts into expected counts, kept as exact fractions; what is taken
    from a stage up to any moment never exceeds what was expected there by then.
9.  Room. What a load holds fits the kiln's room for its kind and the kiln's clear height.
10. Kilns. A load starts on a planned day that may start one, lasts as long as the kiln's run of
    that schedule, and never overlaps another load of the kiln, pinned ones included.
11. Circuits. At most ``at_once`` kilns of a circuit start on one day (the day they heat).
12. Trials. The first load of an unproven line is its trial: in a kiln that takes trials, within
    the trial sizes. No other piece of the line is loaded before the trial is open. A pinned,
    filled load of the line counts as its trial, whatever its size. From a load on that starts
    once the trial is open, the line is taken as proven.
13. Pinned loads. A filled one brings its contents on its open date, with the usual yields; they
    are not on hand before. One that is not filled keeps its kiln, and one load of the plan with
    the same kiln, schedule, start and length may take its place, even on a day off.
14. Share. A glaze load holds of a line on trial at most the rule's share of the kiln's glaze
    room; in a kiln that takes trials it may always hold as much as a trial.
15. Sums. The plan's cost, weighted shortfall and list of promises are what its loads and counts
    add up to.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from fractions import Fraction

from studio.craft.answer import Plan, Work
from studio.craft.problem import BISQUE, Load, Problem, Stage

DAY = timedelta(days=1)

_PLACE = {
    Stage.THROWN: "dry",
    Stage.BISQUED: "bisqued",
    Stage.GLAZED: "glazed",
    Stage.FIRED: "fired",
    Stage.GRADED: "finished",
    Stage.LISTED: "finished",
}
_DONE = {Work.THROWING: "thrown", Work.GLAZING: "glazed", Work.FINISHING: "finished"}

Shelf = tuple[str, str]
"""A place where pieces stand: (dry, bisqued, glazed, fired or finished; ware or line key)."""
Stock = defaultdict[Shelf, Fraction]


def broken_promises(*, problem: Problem, plan: Plan) -> tuple[str, ...]:
    """Every law this plan breaks, one sentence each; empty when the plan is sound."""
    unknown = tuple(_unknown_keys(problem, plan))
    if unknown:
        return unknown
    return (
        *_hands(problem, plan),
        *_loads(problem, plan),
        *_overlaps(problem, plan),
        *_circuits(problem, plan),
        *_trials(problem, plan),
        *_shares(problem, plan),
        *_sums(problem, plan),
        *_replay(problem, plan),
    )


def _unknown_keys(problem: Problem, plan: Plan) -> Iterator[str]:
    wares = {ware.key for ware in problem.wares}
    lines = {line.key for line in problem.lines}
    kilns = {kiln.key for kiln in problem.kilns}
    asked = {(need.key, line) for need in problem.needs for line, _ in need.counts}
    for job in plan.jobs:
        if job.key not in (wares if job.work == Work.THROWING else lines):
            yield f"{job.date}: a {job.work} job names an unknown {job.key}."
    for load in plan.loads:
        if load.kiln_key not in kilns:
            yield f"{load.start_date}: a load names an unknown kiln {load.kiln_key}."
        for key, _ in load.contents:
            if key not in (wares if load.schedule_key == BISQUE else lines):
                yield f"{load.start_date}: a load holds an unknown {key}."
    for kept in plan.kept:
        if (kept.need_key, kept.line_key) not in asked:
            yield f"A promise of {kept.line_key} to {kept.need_key} was never asked for."


def _hands(problem: Problem, plan: Plan) -> Iterator[str]:
    wares = {ware.key: ware for ware in problem.wares}
    ware_of = {line.key: wares[line.ware_key] for line in problem.lines}
    days = {day.date: day for day in problem.days}
    used: Counter[tuple[date, Work]] = Counter()
    for job in plan.jobs:
        ware = wares[job.key] if job.work == Work.THROWING else ware_of[job.key]
        minutes = {
            Work.THROWING: ware.throwing_min,
            Work.GLAZING: ware.glazing_min,
            Work.FINISHING: ware.finishing_min,
        }[job.work]
        if job.date not in days:
            yield f"{job.date}: {job.work} of {job.key} lies outside the days planned."
        else:
            used[job.date, job.work] += minutes * job.count
    for (when, work), minutes in sorted(used.items()):
        day = days[when]
        there = {
            Work.THROWING: day.throwing_min,
            Work.GLAZING: day.glazing_min,
            Work.FINISHING: day.finishing_min,
        }[work]
        if minutes > there:
            yield f"{when}: {work} takes {minutes} min, only {there} min are there."


def _takes_place_of(problem: Problem, load: Load) -> Load | None:
    """The kept appointment that a load of the plan fills, if any (law 13)."""
    for pinned in problem.pinned:
        same = (
            pinned.kiln_key == load.kiln_key
            and pinned.schedule_key == load.schedule_key
            and pinned.start_date == load.start_date
            and pinned.busy_days == load.busy_days
        )
        if same and not pinned.filled:
            return pinned
    return None


def _loads(problem: Problem, plan: Plan) -> Iterator[str]:
    kilns = {kiln.key: kiln for kiln in problem.kilns}
    wares = {ware.key: ware for ware in problem.wares}
    lines = {line.key: line for line in problem.lines}
    days = {day.date: day for day in problem.days}
    for load in plan.loads:
        kiln, when = kilns[load.kiln_key], load.start_date
        run, day = kiln.run(load.schedule_key), days.get(when)
        kept = _takes_place_of(problem, load)
        if run is None:
            yield f"{when}: {kiln.name} does not fire {load.schedule_key}."
        elif kept is None and run.busy_days != load.busy_days:
            yield f"{when}: {kiln.name} is busy {run.busy_days} days, not {load.busy_days}."
        if day is None:
            yield f"{when}: a load of {kiln.name} starts outside the days planned."
        elif kept is None and not day.may_start:
            yield f"{when}: {kiln.name} starts on a day that may start no firing."
        if not load.contents:
            yield f"{when}: {kiln.name} is fired empty."
        used = 0
        for key, count in load.contents:
            if load.schedule_key != BISQUE:
                if lines[key].schedule_key != load.schedule_key:
                    yield (
                        f"{when}: {lines[key].name} is fired to {lines[key].schedule_key}, "
                        f"the load of {kiln.name} to {load.schedule_key}."
                    )
                key = lines[key].ware_key
            used += wares[key].room_tenths * count
            if wares[key].height_mm > kiln.clear_height_mm:
                yield (
                    f"{when}: {wares[key].name} is {wares[key].height_mm} mm high, "
                    f"{kiln.name} clears {kiln.clear_height_mm} mm."
                )
        room = kiln.room_tenths(load.schedule_key)
        if used > room:
            yield f"{when}: {kiln.name} holds {used} tenths of room, only {room} are there."


def _overlaps(problem: Problem, plan: Plan) -> Iterator[str]:
    names = {kiln.key: kiln.name for kiln in problem.kilns}
    filled = {id(_takes_place_of(problem, load)) for load in plan.loads}
    standing = [pinned for pinned in problem.pinned if id(pinned) not in filled]
    placed: list[Load] = []
    for load in plan.loads:
        for other in (*standing, *placed):
            if (
                load.kiln_key == other.kiln_key
                and load.start_date < other.open_date
                and other.start_date < load.open_date
            ):
                yield (
                    f"{load.start_date}: {names[load.kiln_key]} is still busy with the load "
                    f"of {other.start_date}."
                    if other.start_date <= load.start_date
                    else f"{load.start_date}: {names[load.kiln_key]} would still be busy when "
                    f"the load of {other.start_date} starts."
                )
        placed.append(load)


def _circuits(problem: Problem, plan: Plan) -> Iterator[str]:
    circuit_of = {kiln.key: kiln.circuit_key for kiln in problem.kilns}
    filled = {id(_takes_place_of(problem, load)) for load in plan.loads}
    starts: Counter[tuple[date, str]] = Counter()
    for load in (*plan.loads, *(p for p in problem.pinned if id(p) not in filled)):
        starts[load.start_date, circuit_of[load.kiln_key]] += 1
    planned = {(load.start_date, circuit_of[load.kiln_key]) for load in plan.loads}
    at_once = {circuit.key: circuit.at_once for circuit in problem.circuits}
    for when, key in sorted(planned):
        if starts[when, key] > at_once[key]:
            yield (
                f"{when}: {starts[when, key]} kilns start on circuit {key}, "
                f"it carries {at_once[key]}."
            )


def _trials(problem: Problem, plan: Plan) -> Iterator[str]:
    takes_trials = {kiln.key: kiln.takes_trials for kiln in problem.kilns}
    rule = problem.trial_rule
    for line in problem.lines:
        if line.proven:
            continue
        opened = [
            pinned.open_date
            for pinned in problem.pinned
            if pinned.filled and pinned.schedule_key != BISQUE and line.key in dict(pinned.contents)
        ]
        loads = sorted(
            (
                load
                for load in plan.loads
                if load.schedule_key != BISQUE and line.key in dict(load.contents)
            ),
            key=lambda load: (load.start_date, load.open_date),
        )
        for load in loads:
            if opened and load.start_date >= min(opened):
                continue
            count = dict(load.contents)[line.key]
            if load is loads[0] and not takes_trials[load.kiln_key]:
                yield f"{load.start_date}: {line.name} is unproven; this kiln takes no trials."
            elif load is loads[0] and not rule.least_pieces <= count <= rule.most_pieces:
                yield (
                    f"{load.start_date}: {line.name} is unproven; a trial is "
                    f"{rule.least_pieces} to {rule.most_pieces} pieces, not {count}."
                )
            elif load is not loads[0]:
                yield f"{load.start_date}: {line.name} is loaded before its trial is open."
            if load is loads[0]:
                opened.append(load.open_date)


def _shares(problem: Problem, plan: Plan) -> Iterator[str]:
    kilns = {kiln.key: kiln for kiln in problem.kilns}
    wares = {ware.key: ware for ware in problem.wares}
    rule = problem.trial_rule
    lines = {line.key: line for line in problem.lines}
    for load in plan.loads:
        kiln = kilns[load.kiln_key]
        for key, count in load.contents:
            if load.schedule_key == BISQUE or not lines[key].is_tried_in(load.kiln_key):
                continue
            takes = wares[lines[key].ware_key].room_tenths * count
            in_share = 100 * takes <= rule.share_percent * kiln.glaze_room_tenths
            as_a_trial = kiln.takes_trials and count <= rule.most_pieces
            if not (in_share or as_a_trial):
                yield (
                    f"{load.start_date}: {lines[key].name} is on trial; {count} of it take more "
                    f"than {rule.share_percent} % of {kiln.name}."
                )


def _sums(problem: Problem, plan: Plan) -> Iterator[str]:
    kilns = {kiln.key: kiln for kiln in problem.kilns}
    cost = 0
    for load in plan.loads:
        run = kilns[load.kiln_key].run(load.schedule_key)
        cost += run.cost_pence if run else 0
    if cost != plan.cost_pence:
        yield f"The loads cost {cost} pence, the plan says {plan.cost_pence}."
    asked = {(need.key, line): n for need in problem.needs for line, n in need.counts}
    listed = Counter((kept.need_key, kept.line_key) for kept in plan.kept)
    for pair in asked:
        if listed[pair] != 1:
            yield f"The promise of {pair[1]} to {pair[0]} is listed {listed[pair]} times, not once."
    importance = {need.key: need.importance for need in problem.needs}
    weighted = 0
    for kept in plan.kept:
        weighted += importance[kept.need_key] * kept.short
        wanted = asked[kept.need_key, kept.line_key]
        if kept.asked != wanted:
            yield f"{kept.need_key} asks for {wanted} of {kept.line_key}, not {kept.asked}."
    if weighted != plan.weighted_short:
        yield f"The weighted shortfall is {weighted}, the plan says {plan.weighted_short}."


def _replay(problem: Problem, plan: Plan) -> Iterator[str]:
    """Live through the mornings: what arrives, then what is taken; no shelf goes below nothing."""
    names = {ware.key: ware.name for ware in problem.wares}
    names |= {line.key: line.name for line in problem.lines}
    arrives = arrivals(problem, plan)
    taken = takings(problem, plan)
    stock: defaultdict[Shelf, Fraction] = defaultdict(Fraction)
    for morning in sorted({*arrives, *taken}):
        for shelf, pieces in arrives[morning].items():
            stock[shelf] += pieces
        for shelf, count in sorted(taken[morning].items()):
            if stock[shelf] < count:
                place, key = shelf
                yield (
                    f"{morning}: {count} {place} {names[key]} are wanted, "
                    f"{float(stock[shelf]):g} are expected."
                )
            stock[shelf] = max(Fraction(0), stock[shelf] - count)


def arrivals(problem: Problem, plan: Plan) -> defaultdict[date, Stock]:
    """What comes to stand on which shelf on each morning, if all goes as planned."""
    today, yields = problem.today_date, problem.yields
    wares = {ware.key: ware for ware in problem.wares}
    drying = Fraction(yields.drying_percent, 100)
    arrives: defaultdict[date, Stock] = defaultdict(lambda: defaultdict(Fraction))
    for hand in problem.on_hand:
        lost = hand.stage == Stage.THROWN and hand.ready_date > today
        pieces = hand.count * (drying if lost else 1)
        arrives[max(today, hand.ready_date)][_PLACE[hand.stage], hand.key] += pieces
    for job in plan.jobs:
        if job.work == Work.THROWING:
            dry_date = job.date + wares[job.key].drying_days * DAY
            arrives[dry_date]["dry", job.key] += job.count * drying
        else:
            arrives[job.date + DAY][_DONE[job.work], job.key] += job.count
    for load in (*plan.loads, *(pinned for pinned in problem.pinned if pinned.filled)):
        bisque = load.schedule_key == BISQUE
        percent = yields.bisque_percent if bisque else yields.glaze_percent
        for key, count in load.contents:
            place = "bisqued" if bisque else "fired"
            arrives[max(today, load.open_date)][place, key] += count * Fraction(percent, 100)
    return arrives


def takings(problem: Problem, plan: Plan) -> defaultdict[date, Counter[Shelf]]:
    """What is taken from which shelf on each day."""
    ware_of = {line.key: line.ware_key for line in problem.lines}
    needs = {need.key: need for need in problem.needs}
    taken: defaultdict[date, Counter[Shelf]] = defaultdict(Counter)
    for load in plan.loads:
        place = "dry" if load.schedule_key == BISQUE else "glazed"
        for key, count in load.contents:
            taken[load.start_date][place, key] += count
    for job in plan.jobs:
        if job.work == Work.GLAZING:
            taken[job.date]["bisqued", ware_of[job.key]] += job.count
        elif job.work == Work.FINISHING:
            taken[job.date]["fired", job.key] += job.count
    for kept in plan.kept:
        need = needs[kept.need_key]
        early_date = max(problem.today_date, need.due_date - need.buffer_days * DAY)
        taken[early_date]["finished", kept.line_key] += kept.kept - kept.in_buffer
        taken[need.due_date]["finished", kept.line_key] += kept.in_buffer
    return taken
