"""Which small jobs can be done together, so that the list reads like a potter's week?

A solver that has the firings right does not care whether five bowls are thrown in one sitting or
one a day; a potter does: balls are weighed, the bats are out, the hand is in. Here jobs of the same
kind and key are drawn together into fewer sittings while everything else of the plan stays: its
firings, what each date keeps, its cost and its bounds. What stands on every shelf on every morning
is kept in a book as the referee reckons it, so that nothing is drawn together that would come too
late; the referee has the last word.

Laws:

1. Counts of each kind and key stay as they were.
2. A job moves whole, onto a day on which the same is done already.
3. What a date keeps before its buffer begins stays kept before it: the plan counts that, and the
   referee holds it to the count.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from studio.craft.answer import Job, Plan, Work
from studio.craft.problem import Problem
from studio.craft.referee import Shelf, arrivals, broken_promises, takings

Slot = tuple[Work, str, date]


def gather(*, problem: Problem, plan: Plan) -> Plan:
    """Answer the plan with its jobs in as few sittings as a greedy search finds.

    ``plan`` must be sound; the answer is sound too and never has more jobs. The same plan gives
    the same answer.
    """
    counts = Counter({(job.work, job.key, job.date): job.count for job in plan.jobs})
    book = _book(problem, plan)
    days_of: defaultdict[tuple[Work, str], set[date]] = defaultdict(set)
    for work, key, day in counts:
        days_of[work, key].add(day)
    moved = True
    while moved:
        moved = False
        # The smallest sittings first: they are the ones nobody wants.
        for slot in sorted(counts, key=lambda slot: (counts[slot], slot[2], slot[0], slot[1])):
            if slot not in counts:
                continue  # it was joined to another in this round
            work, key, day = slot
            for onto in _nearest(day, days_of[work, key]):
                if book.move(slot, onto, counts[slot]):
                    counts[work, key, onto] += counts.pop(slot)
                    days_of[work, key].remove(day)
                    moved = True
                    break
    gathered = _with_jobs(plan, counts)
    # A book that differed from the referee's would be a fault; the plan as it was is sound.
    return plan if broken_promises(problem=problem, plan=gathered) else gathered


def _nearest(day: date, days: set[date]) -> Iterator[date]:
    """Answer the other sittings of the same thing, the nearest first."""
    yield from sorted(days - {day}, key=lambda other: (abs((other - day).days), other))


@dataclass(kw_only=True, slots=True)
class _Book:
    """Minutes left of each day, and what is left on each shelf after each day [hundredths]."""

    problem: Problem
    minutes: dict[tuple[Work, date], int]
    left: dict[Shelf, list[int]]
    each_min: dict[tuple[Work, str], int]
    before: dict[tuple[Work, str], Shelf]
    after: dict[tuple[Work, str], tuple[Shelf, int, int]]
    """Where a job's pieces come to stand, after how many days, and how much of each."""

    def move(self, slot: Slot, onto: date, count: int) -> bool:
        """Move a job to another day, if the day has the minutes and no shelf runs out."""
        work, key, day = slot
        minutes = self.each_min[work, key] * count
        if self.minutes[work, onto] < minutes:
            return False
        was, will = self._no(day), self._no(onto)
        shelf, lag, each = self.after[work, key]
        if will < was and (work, key) in self.before:
            changed, first, end, amount = self.before[work, key], will, was, 100 * count
        elif will > was:
            changed, first, end, amount = shelf, was + lag, will + lag, each * count
        else:
            changed, first, end, amount = shelf, 0, 0, 0
        left = self.left[changed]
        if any(left[i] < amount for i in range(first, min(end, len(left)))):
            return False
        self.minutes[work, day] += minutes
        self.minutes[work, onto] -= minutes
        if (work, key) in self.before:
            self._shift(self.before[work, key], was, will, 100 * count)
        self._shift(shelf, will + lag, was + lag, each * count)
        return True

    def _no(self, day: date) -> int:
        return (day - self.problem.today_date).days

    def _shift(self, shelf: Shelf, was: int, will: int, amount: int) -> None:
        """Take an amount from a shelf on another day (or put it there, the days exchanged)."""
        left, sign = self.left[shelf], 1 if will > was else -1
        for i in range(min(was, will), min(max(was, will), len(left))):
            left[i] += sign * amount


def _book(problem: Problem, plan: Plan) -> _Book:
    wares = {ware.key: ware for ware in problem.wares}
    lines = {line.key: wares[line.ware_key] for line in problem.lines}
    yields = problem.yields
    each_min: dict[tuple[Work, str], int] = {}
    before: dict[tuple[Work, str], Shelf] = {}
    after: dict[tuple[Work, str], tuple[Shelf, int, int]] = {}
    for key, ware in wares.items():
        each_min[Work.THROWING, key] = ware.throwing_min
        after[Work.THROWING, key] = ("dry", key), ware.drying_days, yields.drying_percent
    for key, ware in lines.items():
        each_min[Work.GLAZING, key] = ware.glazing_min
        each_min[Work.FINISHING, key] = ware.finishing_min
        before[Work.GLAZING, key] = "bisqued", ware.key
        before[Work.FINISHING, key] = "fired", key
        after[Work.GLAZING, key] = ("glazed", key), 1, 100
        after[Work.FINISHING, key] = ("finished", key), 1, 100
    minutes = {}
    for day in problem.days:
        minutes[Work.THROWING, day.date] = day.throwing_min
        minutes[Work.GLAZING, day.date] = day.glazing_min
        minutes[Work.FINISHING, day.date] = day.finishing_min
    for job in plan.jobs:
        minutes[job.work, job.date] -= each_min[job.work, job.key] * job.count
    return _Book(
        problem=problem,
        minutes=minutes,
        left=_left(problem, plan),
        each_min=each_min,
        before=before,
        after=after,
    )


def _left(problem: Problem, plan: Plan) -> dict[Shelf, list[int]]:
    """What is left on each shelf when a day's takings are gone, in hundredths of a piece."""
    span = len(problem.days)
    daily: defaultdict[Shelf, list[int]] = defaultdict(lambda: [0] * span)
    come, gone = arrivals(problem, plan), takings(problem, plan)
    for i in range(span):
        day = problem.today_date + timedelta(days=i)
        for shelf, pieces in come.get(day, {}).items():
            daily[shelf][i] += int(100 * pieces)
        for shelf, count in gone.get(day, {}).items():
            daily[shelf][i] -= 100 * count
    for left in daily.values():
        for i in range(1, span):
            left[i] += left[i - 1]
    return daily


def _with_jobs(plan: Plan, counts: Counter[Slot]) -> Plan:
    jobs = tuple(
        Job(work=work, key=key, date=day, count=counts[work, key, day])
        for work, key, day in sorted(counts, key=lambda slot: (slot[2], slot[0], slot[1]))
    )
    return replace(plan, jobs=jobs)
