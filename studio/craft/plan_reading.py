"""What does a plan say, in words and rows that a potter reads?

Pure: a question and its answer in, sentences and rows out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from studio.craft.answer import Binds, Plan, Work
from studio.craft.backplan import latest_throw_dates
from studio.craft.calendar import say_date
from studio.craft.plan_odds import (
    Odds,
    chance,
    odds,
    say_chance,
    spare,
    spares_lacking,
)
from studio.craft.plan_slack import slack_days
from studio.craft.problem import BISQUE, Load, Problem

FREED_BY = {
    Binds.KILN_DAYS: "another kiln day, or a firing elsewhere",
    Binds.THROWING: "more throwing time, or another pair of hands at the wheel",
    Binds.GLAZING: "more glazing time",
    Binds.FINISHING: "more time for grading, photographs and listing",
    Binds.DRYING: "ware that was thrown earlier; drying cannot be hurried without cracks",
    Binds.DATE: "a later date",
}


def counted(count: int, name: str) -> str:
    """'9 × Porridge bowl': a form is called by its name, whatever the count."""
    return f"{count} × {name}"


def headline(*, problem: Problem, plan: Plan) -> str:
    """'34 of 40 wanted by Sat 9 Jan 2027; 6 short: kiln days bind.'"""
    asked = sum(kept.asked for kept in plan.kept)
    by = say_date(max(need.due_date for need in problem.needs))
    if not plan.short:
        late = f", {plan.in_buffer} of them inside the buffer days" if plan.in_buffer else ""
        return f"All {asked} wanted by {by} come in time{late}."
    binding = _binding(plan)
    return (
        f"{asked - plan.short} of {asked} wanted by {by}; {plan.short} short"
        f"{': ' + binding if binding else ''}."
    )


def _binding(plan: Plan) -> str:
    causes = sorted((c for c in plan.causes if c.gain > 0), key=lambda c: -c.gain)
    names = [cause.binds.value for cause in causes[:2]]
    if not names:
        return ""
    one = len(names) == 1 and names[0] in (Binds.DATE, Binds.DRYING)
    return f"{' and '.join(names)} {'binds' if one else 'bind'}"


def proof(*, problem: Problem, plan: Plan) -> str:
    """What is known about better plans: none exists, or how much better one could be at best."""
    if plan.proven:
        less = "no other plan brings more" if plan.short else "no other plan costs less"
        return f"Nothing better exists: with these kilns, hands and dates {less}."
    if plan.weighted_short <= plan.short_bound:
        more = "No other plan brings more." if plan.short else "Everything is kept."
        return f"{more} A cheaper one may exist; it was not found in {_seconds(plan)}."
    least = min(need.importance for need in problem.needs)
    fewer = min(plan.short, -(-(plan.weighted_short - plan.short_bound) // least))
    return (
        f"This is the best plan found in {_seconds(plan)}, not proven to be the best there is: "
        f"at best {fewer} fewer could be short. Give it more time to look on."
    )


def _seconds(plan: Plan) -> str:
    return "a second" if plan.seconds < 1.5 else f"{plan.seconds:.0f} seconds"


def is_open(plan: Plan) -> bool:
    """Is something short that a longer search might still bring?"""
    return plan.weighted_short > plan.short_bound


@dataclass(frozen=True, kw_only=True, slots=True)
class FiringRow:
    """One firing as the plan has it: proposed, kept from before, or under way."""

    kiln: str
    schedule: str
    start_date: date
    open_date: date
    contents: tuple[tuple[str, int], ...]
    used_percent: int
    standing: str
    slack_days: int | None = None
    """Days it may slip before a kept piece misses its date; None where it cannot slip alone."""

    @property
    def pieces(self) -> int:
        """Pieces it holds."""
        return sum(count for _, count in self.contents)

    @property
    def holds(self) -> str:
        """What it holds, in words; '' when nothing."""
        return ", ".join(counted(count, name) for name, count in self.contents)


def firing_rows(*, problem: Problem, plan: Plan, schedules: Mapping[str, str]) -> list[FiringRow]:
    """Every firing the plan reckons with, by start; ``schedules`` names them by key."""
    appointments = [load for load in problem.pinned if not load.filled]
    slack = slack_days(problem=problem, plan=plan)
    rows = []
    for load in plan.loads:
        kept = next((a for a in appointments if same_slot(a, load)), None)
        if kept is not None:
            appointments.remove(kept)
        row = _row(problem, load, schedules, "kept" if kept else "new")
        rows.append(replace(row, slack_days=slack[load]))
    # What such a firing was meant to hold stands in other loads of this plan now.
    rows += [
        _row(problem, replace(load, contents=()), schedules, "not needed") for load in appointments
    ]
    rows += [_row(problem, load, schedules, "under way") for load in problem.pinned if load.filled]
    return sorted(rows, key=lambda row: (row.start_date, row.kiln))


def same_slot(a: Load, b: Load) -> bool:
    """Do two loads stand for one use of a kiln?"""
    return (a.kiln_key, a.schedule_key, a.start_date, a.busy_days) == (
        b.kiln_key,
        b.schedule_key,
        b.start_date,
        b.busy_days,
    )


def _row(problem: Problem, load: Load, schedules: Mapping[str, str], standing: str) -> FiringRow:
    kiln = next(kiln for kiln in problem.kilns if kiln.key == load.kiln_key)
    wares = {ware.key: ware for ware in problem.wares}
    names = {line.key: line.name for line in problem.lines}
    ware_of = {line.key: line.ware_key for line in problem.lines}
    bisque = load.schedule_key == BISQUE
    used = sum(
        wares[key if bisque else ware_of[key]].room_tenths * count for key, count in load.contents
    )
    return FiringRow(
        kiln=kiln.name,
        schedule="bisque" if bisque else schedules.get(load.schedule_key, load.schedule_key),
        start_date=load.start_date,
        open_date=load.open_date,
        contents=tuple(
            sorted((wares[key].name if bisque else names[key], n) for key, n in load.contents)
        ),
        used_percent=round(100 * used / kiln.room_tenths(load.schedule_key)),
        standing=standing,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkRow:
    """So many of one thing to throw, glaze or finish on a day."""

    name: str
    count: int
    minutes: int

    def __str__(self) -> str:
        return counted(self.count, self.name)


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkDay:
    """All hand work of one day, and the kilns that are started and opened on it."""

    date: date
    throwing: tuple[WorkRow, ...]
    glazing: tuple[WorkRow, ...]
    finishing: tuple[WorkRow, ...]
    starts: tuple[FiringRow, ...]
    opens: tuple[FiringRow, ...]

    @property
    def throwing_min(self) -> int:
        """Minutes at the wheel."""
        return sum(row.minutes for row in self.throwing)

    @property
    def kinds(self) -> tuple[tuple[str, tuple[WorkRow, ...]], ...]:
        """The kinds of work that this day has, by name."""
        kinds = (
            ("Throw", self.throwing),
            ("Glaze", self.glazing),
            ("Grade, photograph and list", self.finishing),
        )
        return tuple((name, rows) for name, rows in kinds if rows)


def work_days(*, problem: Problem, plan: Plan, schedules: Mapping[str, str]) -> list[WorkDay]:
    """Every day on which there is something to do, in order."""
    firings = firing_rows(problem=problem, plan=plan, schedules=schedules)
    firings = [row for row in firings if row.standing != "not needed"]
    days = (
        {job.date for job in plan.jobs}
        | {row.start_date for row in firings}
        | {row.open_date for row in firings}
    )
    return [
        WorkDay(
            date=day,
            throwing=_work(problem, plan, Work.THROWING, day),
            glazing=_work(problem, plan, Work.GLAZING, day),
            finishing=_work(problem, plan, Work.FINISHING, day),
            starts=tuple(row for row in firings if row.start_date == day),
            opens=tuple(row for row in firings if row.open_date == day),
        )
        for day in sorted(days)
        if day >= problem.today_date
    ]


def _work(problem: Problem, plan: Plan, work: Work, day: date) -> tuple[WorkRow, ...]:
    wares = {ware.key: ware for ware in problem.wares}
    lines = {line.key: line for line in problem.lines}
    counts: Counter[str] = Counter()
    for job in plan.jobs:
        if job.work == work and job.date == day:
            counts[job.key] += job.count
    rows = []
    for key, count in counts.items():
        ware = wares[key] if work == Work.THROWING else wares[lines[key].ware_key]
        each = {
            Work.THROWING: ware.throwing_min,
            Work.GLAZING: ware.glazing_min,
            Work.FINISHING: ware.finishing_min,
        }[work]
        name = ware.name if work == Work.THROWING else lines[key].name
        rows.append(WorkRow(name=name, count=count, minutes=each * count))
    return tuple(sorted(rows, key=lambda row: row.name))


@dataclass(frozen=True, kw_only=True, slots=True)
class KeptRow:
    """What one date gets of one line, and how sure that is."""

    need_key: str
    line_key: str
    need: str
    due_date: date
    line: str
    asked: int
    kept: int
    in_buffer: int
    how_sure: str
    more_to_be_sure: int
    spare: int
    """Pots in glaze firings beyond those that bring enough on average, for this date and each
    later one; 0 where no spares are asked for."""
    latest_throw_date: date | None

    @property
    def short(self) -> int:
        """Pieces that this plan does not bring."""
        return self.asked - self.kept


def kept_rows(*, problem: Problem, plan: Plan) -> list[KeptRow]:
    """Every want of every date, soonest first."""
    needs = {need.key: need for need in problem.needs}
    names = {line.key: line.name for line in problem.lines}
    latest = latest_throw_dates(problem)
    rows = []
    for kept in sorted(
        plan.kept, key=lambda k: (needs[k.need_key].due_date, k.need_key, names[k.line_key])
    ):
        need = needs[kept.need_key]
        line, due_date = kept.line_key, need.due_date
        at = odds(problem=problem, plan=plan, line_key=line, due_date=due_date)
        rows.append(
            KeptRow(
                need_key=need.key,
                line_key=line,
                need=need.name,
                due_date=need.due_date,
                line=names[kept.line_key],
                asked=kept.asked,
                kept=kept.kept,
                in_buffer=kept.in_buffer,
                how_sure=_how_sure(problem, line, at) if kept.kept else "",
                more_to_be_sure=spares_lacking(
                    problem=problem, plan=plan, line_key=line, due_date=due_date
                )
                if kept.kept
                else 0,
                spare=spare(problem=problem, plan=plan, line_key=line, due_date=due_date)
                if kept.kept
                else 0,
                latest_throw_date=latest.get((kept.need_key, kept.line_key)),
            )
        )
    return rows


def _how_sure(problem: Problem, line_key: str, at: Odds) -> str:
    if at.wanted == 0:
        return "sure: fired already"
    return say_chance(chance(problem=problem, line_key=line_key, at=at))


@dataclass(frozen=True, kw_only=True, slots=True)
class CauseRow:
    """A limit, how many more would come without it, and what would ease it."""

    binds: str
    gain: int
    freed_by: str


def cause_rows(plan: Plan) -> Iterator[CauseRow]:
    """The limits that bind, the one that costs most first."""
    for cause in sorted(plan.causes, key=lambda cause: -cause.gain):
        if cause.gain > 0:
            yield CauseRow(binds=cause.binds.value, gain=cause.gain, freed_by=FREED_BY[cause.binds])
