"""Which small jobs can be done together, so that the list reads like a potter's week?

A solver that has the firings right does not care whether five bowls are thrown in one sitting or
one a day; a potter does: balls are weighed, the bats are out, the hand is in. Here jobs of the same
kind and key are drawn together into fewer sittings while everything else of the plan stays: its
firings, what each date keeps, its cost and its bounds. Every step is asked of the referee, so that
nothing is drawn together that would come too late.

Laws:

1. Counts of each kind and key stay as they were.
2. A job moves whole, onto a day on which the same is done already.
3. What a date keeps before its buffer begins stays kept before it: the plan counts that, and the
   referee holds it to the count.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from studio.craft.answer import Job, Plan, Work
from studio.craft.problem import Problem
from studio.craft.referee import broken_promises

Slot = tuple[Work, str, date]


def gather(*, problem: Problem, plan: Plan) -> Plan:
    """Answer the plan with its jobs in as few sittings as a greedy search finds.

    ``plan`` must be sound; the answer is sound too and never has more jobs. The same plan gives
    the same answer. Takes about a millisecond for each step that is tried.
    """
    counts = Counter({(job.work, job.key, job.date): job.count for job in plan.jobs})
    moved = True
    while moved:
        moved = False
        # The smallest sittings first: they are the ones nobody wants.
        for slot in sorted(counts, key=lambda slot: (counts[slot], slot[2], slot[0], slot[1])):
            if slot not in counts:
                continue  # it was joined to another in this round
            for onto in _targets(slot, counts):
                tried = _joined(counts, slot, onto)
                if _is_sound(problem, plan, tried):
                    counts, moved = tried, True
                    break
    return _with_jobs(plan, counts)


def _targets(slot: Slot, counts: Counter[Slot]) -> Iterator[Slot]:
    """Answer the other sittings of the same thing, the nearest first."""
    work, key, day = slot
    others = (other for other in counts if other[:2] == (work, key) and other[2] != day)
    yield from sorted(others, key=lambda other: (abs((other[2] - day).days), other[2]))


def _joined(counts: Counter[Slot], slot: Slot, onto: Slot) -> Counter[Slot]:
    tried = counts.copy()
    tried[onto] += tried.pop(slot)
    return tried


def _is_sound(problem: Problem, plan: Plan, counts: Counter[Slot]) -> bool:
    return not broken_promises(problem=problem, plan=_with_jobs(plan, counts))


def _with_jobs(plan: Plan, counts: Counter[Slot]) -> Plan:
    jobs = tuple(
        Job(work=work, key=key, date=day, count=counts[work, key, day])
        for work, key, day in sorted(counts, key=lambda slot: (slot[2], slot[0], slot[1]))
    )
    return replace(plan, jobs=jobs)
