"""How surely do enough firsts of a line come for a date, and how many must be fired for that?

Counted at the glaze firings of a plan that open in time. Where ``Problem.past`` tells what became
of earlier batches, chances go by the record of the line and of its like: the pots of one load do
better or worse together, and now and then a load goes wrong as a whole (``craft.learnt``). Without
it each pot comes out by the stated yield, one not telling of another (``craft.losses``).

What is fired or finished counts as it stands; earlier dates take their share first. Pots of a line
are taken as spread evenly over the loads that hold it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from studio.craft.answer import Kept, Plan
from studio.craft.learnt import Batch, Learnt, Record, learn
from studio.craft.losses import chance_of_enough, number_to_start
from studio.craft.problem import BISQUE, PastStep, Problem, Stage

SURE_PERCENT = 90
"""How sure is sure enough where no wish was said: nine in ten; our own choice."""

MOST_BESIDE = 12
"""No more than twice what must come and so many beside is started for a date: where that is not
enough, bad loads are to blame and more pots are thrown after them. Our own choice."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Odds:
    """Pieces that must still come well out of glaze firings by a date, pieces put into them, and
    over how many loads, 1 at least."""

    wanted: int
    started: int
    loads: int


def odds(*, problem: Problem, plan: Plan, line_key: str, due_date: date) -> Odds:
    """What a plan puts into glaze firings for a line up to a date, and what must come of it."""
    needs = {need.key: need for need in problem.needs}
    promised = sum(
        kept.kept
        for kept in plan.kept
        if kept.line_key == line_key and needs[kept.need_key].due_date <= due_date
    )
    stands = sum(
        hand.count
        for hand in problem.on_hand
        if hand.key == line_key and hand.stage in (Stage.FIRED, Stage.GRADED, Stage.LISTED)
    )
    held = [
        dict(load.contents).get(line_key, 0)
        for load in (*plan.loads, *(pinned for pinned in problem.pinned if pinned.filled))
        if load.schedule_key != BISQUE and load.open_date + timedelta(days=1) <= due_date
    ]
    return Odds(
        wanted=max(0, promised - stands),
        started=sum(held),
        loads=max(1, sum(count > 0 for count in held)),
    )


def chance(*, problem: Problem, line_key: str, at: Odds) -> float:
    """The chance, 0 to 1, that enough firsts come."""
    if at.wanted == 0:
        return 1.0
    steps = _steps(problem, line_key)
    if steps:
        return _chance(steps, at.started, at.wanted, at.loads)
    return chance_of_enough(
        started=at.started, wanted=at.wanted, good_percent=problem.yields.glaze_percent
    )


def enough(*, problem: Problem, line_key: str, at: Odds) -> int | None:
    """The least number in those loads that is as sure as wished; None where no number is.

    Where bad loads alone forbid the wished chance, more loads help and more pots do not. By a
    record no number beyond twice the wanted and ``MOST_BESIDE`` is named.
    """
    wish = problem.sure_percent or SURE_PERCENT
    steps = _steps(problem, line_key)
    if steps:
        return _enough(steps, at.wanted, at.loads, wish)
    good = problem.yields.glaze_percent
    return number_to_start(
        wanted=at.wanted, good_percent=good, chance_percent=100 if good == 100 else wish
    )


def spares_lacking(*, problem: Problem, plan: Plan, line_key: str, due_date: date) -> int:
    """Pots more to be glaze fired for a date to be as sure as is wished [pieces]."""
    at = odds(problem=problem, plan=plan, line_key=line_key, due_date=due_date)
    return max(0, (enough(problem=problem, line_key=line_key, at=at) or 0) - at.started)


def is_sure(*, problem: Problem, plan: Plan, kept: Kept) -> bool:
    """Does all that was asked come, as surely as is wished or hardly less?

    Hardly less is half of what is left to certainty, at most 5 in 100: 9 in 10 as one says it.
    """
    if kept.short:
        return False
    [due_date] = [need.due_date for need in problem.needs if need.key == kept.need_key]
    at = odds(problem=problem, plan=plan, line_key=kept.line_key, due_date=due_date)
    wish = (problem.sure_percent or SURE_PERCENT) / 100
    return chance(problem=problem, line_key=kept.line_key, at=at) >= wish - min(
        0.05, (1 - wish) / 2
    )


def spare(*, problem: Problem, plan: Plan, line_key: str, due_date: date) -> int:
    """Pots in glaze firings beyond those that bring enough on average, for a date [pieces].

    What opens early for a later date is no spare of the date before.
    """
    if not problem.sure_percent:
        return 0
    left = []
    for need in problem.needs:
        if need.due_date >= due_date and line_key in dict(need.counts):
            at = odds(problem=problem, plan=plan, line_key=line_key, due_date=need.due_date)
            left.append(at.started - -(-100 * at.wanted // problem.yields.glaze_percent))
    return max(0, min(left))


def say_chance(chance: float) -> str:
    """'very likely, 9 in 10'; a chance is 0 to 1."""
    if chance >= 0.99:
        return "as good as sure"
    for least, words in (
        (0.85, "very likely"),
        (0.65, "likely"),
        (0.35, "about even"),
        (0.15, "unlikely"),
    ):
        if chance >= least:
            return f"{words}, {max(1, min(9, round(10 * chance)))} in 10"
    return "very unlikely, less than 2 in 10"


Steps = tuple[Learnt, ...]


def _steps(problem: Problem, line_key: str) -> Steps:
    """What is learnt of a line at each step from glazing on; empty where nothing is told of it."""
    if not problem.past:
        return ()
    ware_key = next(line.ware_key for line in problem.lines if line.key == line_key)
    steps = tuple(_learnt(step, (line_key, ware_key)) for step in problem.past)
    return tuple(step for step in steps if step is not None)


@lru_cache(maxsize=512)
def _learnt(step: PastStep, keys: tuple[str, str]) -> Learnt | None:
    own = next((kind for kind in step.kinds if kind.key in keys), None)
    if own is None:
        return None
    form, body, rest = [], [], []
    for other in step.kinds:
        batches = tuple(Batch(good=good, of=of) for good, of in other.batches)
        if other is own or not batches:
            continue
        if other.form_key == own.form_key:
            form.append(batches)
        elif other.body_key == own.body_key:
            body.append(batches)
        else:
            rest.append(batches)
    record = Record(
        line=tuple(Batch(good=good, of=of) for good, of in own.batches),
        form=tuple(form),
        body=tuple(body),
        rest=tuple(rest),
    )
    return learn(record, guess_percent=step.guess_percent)


@lru_cache(maxsize=4096)
def _chance(steps: Steps, started: int, wanted: int, loads: int) -> float:
    """The chance that so many put to the first step give enough after the last.

    As ``learnt.chance_through``; what the last step gives is kept from one question to the next.
    """
    if wanted > started:
        return 0.0
    *before, last = steps
    if not before:
        return _last(last, started, wanted, loads)
    first, rest = steps[0], steps[1:]
    come = first.out_of(started)
    return min(
        1.0,
        sum(
            float(come[n]) * _chance(rest, n, wanted, loads)
            for n in range(wanted, started + 1)
            if come[n] > 1e-9
        ),
    )


@lru_cache(maxsize=16384)
def _last(step: Learnt, started: int, wanted: int, loads: int) -> float:
    return step.chance_of_enough(started=started, wanted=wanted, loads=loads)


@lru_cache(maxsize=4096)
def _enough(steps: Steps, wanted: int, loads: int, wish: int) -> int | None:
    low, high, most = wanted - 1, wanted, 2 * wanted + MOST_BESIDE
    while _chance(steps, high, wanted, loads) < wish / 100:
        low, high = high, high + max(high // 8, 1)
        if high > most:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        is_enough = _chance(steps, middle, wanted, loads) >= wish / 100
        low, high = (low, middle) if is_enough else (middle, high)
    return high
