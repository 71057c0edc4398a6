"""How many days may each firing of a plan slip, and by when must each line be thrown?

A firing slips alone: all others stay on their days, and the hands that wait for it follow as soon
as they can, the most urgent first. It may slip until a piece that the plan keeps would come after
its date, the kiln is wanted again, or the supply carries no more that day. Buffer days may be
eaten, for that is what they are for. What slips this far still passes the referee (tested); a
cleverer turn of the work might allow more.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from studio.craft.answer import Job, Kept, Plan, Work
from studio.craft.backplan import latest_throw_dates
from studio.craft.backplan_frame import NEVER, Frame, frame, share_up
from studio.craft.problem import BISQUE, Load, Problem

MOST_DAYS = 60
"""More slack than this is not counted."""


def slack_days(*, problem: Problem, plan: Plan) -> dict[Load, int]:
    """How many days each firing of a sound plan may slip before a kept piece misses its date."""
    made = frame(problem=problem)
    return {load: _slack(made, plan, load) for load in plan.loads}


def slipped(*, problem: Problem, plan: Plan, load: Load, days: int) -> Plan | None:
    """The plan with one firing so many days later and the work behind it; None if it cannot be.

    Every kept piece is counted as eating into its buffer, which the referee allows.
    """
    return _slipped(frame(problem=problem), plan, load, days)


def _slack(made: Frame, plan: Plan, load: Load) -> int:
    """The most days; days on which no firing may start are passed over."""
    slack = 0
    may: list[int] = []
    for days in range(1, MOST_DAYS + 1):
        start = (load.start_date - made.problem.today_date).days + days
        if start >= made.span or _in_the_way(made, plan, load, days):
            break
        if made.problem.days[start].may_start and not _is_too_many(made, plan, load, days):
            may.append(days)
    # Once it is too late it stays too late, so a few looks further and further ahead are enough.
    low, high, step = 0, len(may), 1
    while low < high:
        look = min(low + step, high) - 1
        if _jobs_after(made, plan, load, may[look]) is None:
            high, step = look, 1
        else:
            slack, low, step = may[look], look + 1, 2 * step
    return slack


def _slipped(made: Frame, plan: Plan, load: Load, days: int) -> Plan | None:
    jobs = _jobs_after(made, plan, load, days)
    if jobs is None:
        return None
    later = replace(load, start_date=load.start_date + timedelta(days=days))
    early = {want.need_key for want in made.wants if want.early < want.due}
    return replace(
        plan,
        jobs=jobs,
        loads=tuple(later if one == load else one for one in plan.loads),
        kept=tuple(
            replace(one, in_buffer=one.kept if one.need_key in early else 0) for one in plan.kept
        ),
    )


def _standing(made: Frame, plan: Plan, load: Load) -> list[Load]:
    """All other uses of kilns: the plan's, and the pinned ones that none of its loads fills."""
    filled = {(one.kiln_key, one.start_date) for one in plan.loads}
    pinned = [
        one
        for one in made.problem.pinned
        if one.filled or (one.kiln_key, one.start_date) not in filled
    ]
    return [one for one in plan.loads if one != load] + pinned


def _in_the_way(made: Frame, plan: Plan, load: Load, days: int) -> bool:
    """Would the kiln, slipped this far, still be busy when it is wanted next?"""
    opens = load.open_date + timedelta(days=days)
    return any(
        one.kiln_key == load.kiln_key and load.start_date < one.start_date < opens
        for one in _standing(made, plan, load)
    )


def _is_too_many(made: Frame, plan: Plan, load: Load, days: int) -> bool:
    """Do too many kilns of its circuit start on that day already?"""
    circuit_of = {kiln.key: kiln.circuit_key for kiln in made.problem.kilns}
    circuit = circuit_of[load.kiln_key]
    start = load.start_date + timedelta(days=days)
    starts = sum(
        one.start_date == start and circuit_of[one.kiln_key] == circuit
        for one in _standing(made, plan, load)
    )
    at_once = next(c.at_once for c in made.problem.circuits if c.key == circuit)
    return starts >= at_once


def _jobs_after(made: Frame, plan: Plan, load: Load, days: int) -> tuple[Job, ...] | None:
    """The plan's jobs with those that wait for a slipped load done later, or None."""
    if load.schedule_key != BISQUE and _breaks_a_trial(made, plan, load, days):
        return None
    work = Work.GLAZING if load.schedule_key == BISQUE else Work.FINISHING
    later = replace(load, start_date=load.start_date + timedelta(days=days))
    loads = [later if one == load else one for one in plan.loads]
    batches = list(_batches(made, plan, loads, work))
    jobs = _follow(made, loads, batches, work)
    if jobs is None:
        return None
    return tuple(
        sorted(
            (*(job for job in plan.jobs if job.work != work), *jobs),
            key=lambda job: (job.date, job.work, job.key),
        )
    )


def _breaks_a_trial(made: Frame, plan: Plan, load: Load, days: int) -> bool:
    """Is a line of this load tried in it, or was to be tried before, and the order would turn?"""
    opens = load.open_date + timedelta(days=days)
    untried = {line.key for line in made.problem.lines if not line.proven}
    for key, _ in load.contents:
        if key in untried:
            mine = [one for one in plan.loads if key in dict(one.contents)]
            after = [one.start_date for one in mine if one.start_date >= load.open_date]
            if any(start < opens for start in after):
                return True
    return False


@dataclass(kw_only=True, slots=True)
class _Batch:
    """Pieces of a line for the hands: not before day ``release``, by day ``deadline``."""

    key: str
    count: int
    release: int
    deadline: int


def _day(made: Frame, when: date) -> int:
    return (when - made.problem.today_date).days


def _batches(made: Frame, plan: Plan, loads: list[Load], work: Work) -> Iterator[_Batch]:
    """A plan's jobs of one kind, split where the days differ by which they have to be done."""
    jobs: defaultdict[str, Counter[int]] = defaultdict(Counter)
    for job in plan.jobs:
        if job.work == work:
            jobs[job.key][_day(made, job.date)] += job.count
    for key, by_day in jobs.items():
        asked = list(_asked(made, plan.kept, loads, key, work))
        done = 0
        for release, count in sorted(by_day.items()):
            while count:
                deadline, upto = next(
                    ((day, total) for day, total in asked if total > done), (NEVER, NEVER)
                )
                part = min(count, upto - done)
                yield _Batch(key=key, count=part, release=release, deadline=deadline)
                done, count = done + part, count - part


def _asked(
    made: Frame, kept: tuple[Kept, ...], loads: list[Load], key: str, work: Work
) -> Iterator[tuple[int, int]]:
    """(day, how many of a line have to be done by then in all), the stock netted."""
    taken: Counter[int] = Counter()
    if work == Work.GLAZING:
        for load in loads:
            if load.schedule_key != BISQUE:
                taken[_day(made, load.start_date)] += dict(load.contents).get(key, 0)
    else:
        due = {want.need_key: want.due for want in made.wants}
        for one in kept:
            if one.line_key == key:
                taken[due[one.need_key]] += one.kept
    place = "glazed" if work == Work.GLAZING else "finished"
    total = 0
    for day in sorted(taken):
        total += taken[day]
        yield day - 1, max(0, total - made.arrives[place, key][day] // 100)


def _follow(made: Frame, loads: list[Load], batches: list[_Batch], work: Work) -> list[Job] | None:
    """Do each batch as soon as it may and can be, the most urgent first; None if one is late."""
    glazing = work == Work.GLAZING
    place = "bisqued" if glazing else "fired"
    coming: defaultdict[int, Counter[str]] = defaultdict(Counter)
    percent = made.problem.yields.bisque_percent if glazing else made.problem.yields.glaze_percent
    for load in loads:
        if (load.schedule_key == BISQUE) == glazing:
            for key, count in load.contents:
                coming[_day(made, load.open_date)][key] += count * percent
    for day, key, count in _standing_by(made, place):
        coming[day][key] += count
    shelf: Counter[str] = Counter()
    waiting = sorted(batches, key=lambda b: b.release, reverse=True)
    open_: list[_Batch] = []
    jobs = []
    for day, hands in enumerate(made.problem.days):
        shelf.update(coming[day])
        while waiting and waiting[-1].release <= day:
            open_.append(waiting.pop())
        minutes = hands.glazing_min if glazing else hands.finishing_min
        done: Counter[str] = Counter()
        for batch in sorted(open_, key=lambda b: (b.deadline, b.key)):
            ware = made.ware_of(batch.key)
            each_min = ware.glazing_min if glazing else ware.finishing_min
            there = shelf[ware.key if glazing else batch.key] // 100
            can = min(batch.count, there, minutes // each_min if each_min else NEVER)
            shelf[ware.key if glazing else batch.key] -= 100 * can
            minutes -= can * each_min
            batch.count -= can
            done[batch.key] += can
            if batch.count and batch.deadline <= day:
                return None
        open_ = [batch for batch in open_ if batch.count]
        jobs += [
            Job(work=work, date=hands.date, key=key, count=count)
            for key, count in done.items()
            if count
        ]
    return None if open_ or waiting else jobs


def _standing_by(made: Frame, place: str) -> Iterator[tuple[int, str, int]]:
    """(day, key, hundredths) of what comes to stand somewhere without the plan."""
    for key in made.wares if place == "bisqued" else made.lines:
        counts = made.arrives[place, key]
        if counts[-1]:
            before = 0
            for day, count in enumerate(counts):
                if count > before:
                    yield day, key, count - before
                before = count


@dataclass(frozen=True, kw_only=True, slots=True)
class ThrowBy:
    """So many of a line still have to be thrown for a need, by a day; None: it is too late."""

    line_key: str
    need_key: str
    count: int
    latest_date: date | None


def throw_by(*, problem: Problem) -> tuple[ThrowBy, ...]:
    """For every line what has to be thrown for its first date that stock does not serve.

    What stands in the studio serves the earliest dates first, each line its own and the lines of
    a ware in the order of their dates. Counts hold the losses on the way [pieces].
    """
    made, latest, yields = frame(problem=problem), latest_throw_dates(problem), problem.yields
    bisqued = {key: made.arrives["bisqued", key][-1] for key in made.wares}
    dry = {key: made.arrives["dry", key][-1] for key in made.wares}
    stock = {
        key: (made.arrives["finished", key][-1] // 100, made.arrives["fired", key][-1])
        for key in made.lines
    }
    glazed = {key: made.arrives["glazed", key][-1] // 100 for key in made.lines}
    asked: Counter[str] = Counter()
    put: Counter[str] = Counter()
    found: dict[str, ThrowBy] = {}
    for want in sorted(made.wants, key=lambda w: (w.early, w.line_key)):
        key, ware = want.line_key, made.ware_of(want.line_key)
        asked[key] += want.asked
        finished, fired = stock[key]
        fire = share_up(
            hundredths=100 * (asked[key] - finished) - fired, percent=yields.glaze_percent
        )
        glaze = max(0, fire - glazed[key] - put[key])
        put[key] += glaze
        from_bisqued = min(100 * glaze, bisqued[ware.key])
        bisqued[ware.key] -= from_bisqued
        bisque = share_up(hundredths=100 * glaze - from_bisqued, percent=yields.bisque_percent)
        from_dry = min(100 * bisque, dry[ware.key])
        dry[ware.key] -= from_dry
        throw = share_up(hundredths=100 * bisque - from_dry, percent=yields.drying_percent)
        if throw and key not in found:
            found[key] = ThrowBy(
                line_key=key,
                need_key=want.need_key,
                count=throw,
                latest_date=latest.get((want.need_key, key)),
            )
    return tuple(
        sorted(found.values(), key=lambda one: (one.latest_date or date.min, one.line_key))
    )
