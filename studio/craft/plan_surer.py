"""What must a plan start so that its dates are as sure as is wished, and what does that cost?

A plan is sought for the good pieces that are asked for, losses reckoned by their mean; that is
enough about every other time. Here the same question is asked once more from the start, with the
pots that are still lacking beside it as wants of their own: so many that the glaze firings hold
what ``plan_odds.enough`` says, by the date. The search may throw and light what that takes. What
it finds is told of the question as it was asked, and both answers are kept, so that the potter
chooses between them by price.

Laws:

1. A promise comes before any spare: where a spare and a promise want the same place, the spare
   waits. An answer that keeps less, or eats more of a buffer, than the plan before is not taken.
2. The referee passes the answer against the question as asked, spares being pots started beyond
   what is promised; nobody is promised more.
3. A firing is not lit for a date that does not get as sure as wished by it: such wants are left
   out and the question is asked again, ``MOST_ROUNDS`` times at the most.
4. Bounds stay those of the question as asked: the least shortfall, and the least cost of plans
   that bring as much, however sure they are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

from studio.craft.answer import Job, Kept, Plan, Work
from studio.craft.plan_odds import enough, is_sure, odds
from studio.craft.problem import Need, Problem, Stage
from studio.craft.referee import broken_promises

MOST_ROUNDS = 2
SPARE = "spares of "
"""How the key of a want begins that asks for spares only."""

_WEIGHT = 4
"""So much more does a promise weigh than a spare; what comes of it is judged afterwards."""

Want = tuple[str, str]
"""A need and a line of it, by key."""
Seek = Callable[[Problem, Plan], Plan | None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Surer:
    """What a surer plan gives for its price: wants that became as sure as wished, firings and
    pence more (fewer: below 0) than the plan it is set beside."""

    wants: tuple[Want, ...]
    firings: int
    pence: int


def surer(
    *,
    problem: Problem,
    plan: Plan,
    seek: Seek,
    finish: Callable[[Plan], Plan | None] = lambda found: found,
) -> Plan | None:
    """A plan in which more wants are as sure as wished and none less; None where none was found.

    ``seek`` looks for a plan of a question close to another plan. ``finish`` is what is done to a
    plan before it is judged; None from it says that the plan cannot be used and that ``seek`` may
    know better now.
    """
    tried = lacking(problem=problem, plan=plan)
    best: Plan | None = None
    was = sure_wants(problem=problem, plan=plan)
    for _ in range(MOST_ROUNDS):
        if not tried:
            break
        more = with_spares_asked(problem=problem, plan=plan, wants=tried)
        found = seek(more, plan)
        if found is None:
            break
        made = finish(as_asked(problem=problem, found=found, plan=plan))
        if made is None:
            continue
        if not _may_stand_for(problem, plan, made):
            break
        if best is None or _worth(problem, plan, made) > _worth(problem, plan, best):
            best = made
        reached = tried & sure_wants(problem=problem, plan=made)
        if reached == tried:
            break
        tried = reached
    if best is None or not sure_wants(problem=problem, plan=best) > was:
        return None
    return best


def sure_wants(*, problem: Problem, plan: Plan) -> frozenset[Want]:
    """The wants that come whole and as surely as is wished."""
    return frozenset(
        (kept.need_key, kept.line_key)
        for kept in plan.kept
        if is_sure(problem=problem, plan=plan, kept=kept)
    )


def lacking(*, problem: Problem, plan: Plan) -> frozenset[Want]:
    """The wants that come whole on average, less surely than is wished; more pots would help."""
    if not problem.sure_percent:
        return frozenset()
    sure = sure_wants(problem=problem, plan=plan)
    due = {need.key: need.due_date for need in problem.needs}
    found = set()
    for kept in plan.kept:
        want = kept.need_key, kept.line_key
        at = odds(problem=problem, plan=plan, line_key=kept.line_key, due_date=due[kept.need_key])
        least = enough(problem=problem, line_key=kept.line_key, at=at)
        if not kept.short and want not in sure and least is not None:
            found.add(want)
    return frozenset(found)


def with_spares_asked(*, problem: Problem, plan: Plan, wants: Collection[Want]) -> Problem:
    """The question with spares as needs beside it, for the wants named and those sure already.

    Each asks for so many good ones that the mean yield makes the wished number of them started.
    """
    sure = sure_wants(problem=problem, plan=plan) | set(wants)
    asked: Counter[str] = Counter()
    spares = []
    for need in sorted(problem.needs, key=lambda need: (need.due_date, need.key)):
        counts = []
        for line_key, _ in need.counts:
            if (need.key, line_key) not in sure:
                continue
            at = odds(problem=problem, plan=plan, line_key=line_key, due_date=need.due_date)
            least = enough(problem=problem, line_key=line_key, at=at) or 0
            if (need.key, line_key) not in wants:
                least = min(least, at.started)  # sure as it is: no more than that
            good = (least - 1) * problem.yields.glaze_percent // 100 + 1 if least else 0
            more = good - at.wanted - asked[line_key]
            if more > 0:
                counts.append((line_key, more))
                asked[line_key] += more
        if counts:
            spares.append(
                Need(
                    key=f"{SPARE}{need.key}",
                    name=f"Spares for {need.name}",
                    due_date=need.due_date,
                    buffer_days=0,
                    importance=1,
                    counts=tuple(counts),
                )
            )
    weighed = [replace(need, importance=need.importance * _WEIGHT) for need in problem.needs]
    return replace(problem, needs=(*weighed, *spares))


def as_asked(*, problem: Problem, found: Plan, plan: Plan) -> Plan:
    """What was found with spares beside, told of the question as asked; bounds are ``plan``'s.

    Pots of the same line serve the promise before they are spares: those that come before the
    buffer first. Spares are not graded by the plan: nobody is promised them.
    """
    importance = {need.key: need.importance for need in problem.needs}
    kept = tuple(row for row in found.kept if not row.need_key.startswith(SPARE))
    return replace(
        plan,
        jobs=_graded_as_kept(problem, found, kept),
        loads=found.loads,
        kept=kept,
        cost_pence=found.cost_pence,
        weighted_short=sum(importance[row.need_key] * row.short for row in kept),
        proven=False,
        seconds=round(plan.seconds + found.seconds, 3),
        ended=found.ended,
    )


def gain(*, problem: Problem, plan: Plan, other: Plan) -> Surer:
    """What ``plan`` gives over ``other``, and for how many firings and pence more."""
    more = sure_wants(problem=problem, plan=plan) - sure_wants(problem=problem, plan=other)
    order = [(kept.need_key, kept.line_key) for kept in plan.kept]
    return Surer(
        wants=tuple(want for want in order if want in more),
        firings=len(plan.loads) - len(other.loads),
        pence=plan.cost_pence - other.cost_pence,
    )


def _graded_as_kept(problem: Problem, found: Plan, kept: tuple[Kept, ...]) -> tuple[Job, ...]:
    """The jobs, of grading only the earliest: as many pieces as are kept and not graded yet."""
    left: Counter[str] = Counter()
    for row in kept:
        left[row.line_key] += row.kept
    for hand in problem.on_hand:
        if hand.stage in (Stage.GRADED, Stage.LISTED):
            left[hand.key] -= hand.count
    jobs = []
    for job in sorted(found.jobs, key=lambda job: job.date):
        if job.work is not Work.FINISHING:
            jobs.append(job)
            continue
        count = min(job.count, max(0, left[job.key]))
        left[job.key] -= count
        if count:
            jobs.append(replace(job, count=count))
    return tuple(jobs)


def _may_stand_for(problem: Problem, plan: Plan, made: Plan) -> bool:
    """Does it keep as much of every want, as early, and pass the referee?"""
    before = {(row.need_key, row.line_key): row for row in plan.kept}
    return all(
        row.kept >= before[row.need_key, row.line_key].kept
        and row.in_buffer <= before[row.need_key, row.line_key].in_buffer
        for row in made.kept
    ) and not broken_promises(problem=problem, plan=made)


def _worth(problem: Problem, plan: Plan, made: Plan) -> tuple[int, int]:
    """More wants sure, then the cheaper; less than nothing where one became less sure."""
    sure, was = (sure_wants(problem=problem, plan=one) for one in (made, plan))
    return (len(sure) if sure >= was else -1, -made.cost_pence)
