"""Which limit keeps a plan short, and how much would come if it alone were lifted?

Each limit is lifted in turn and the question is solved again: four of every kiln on a supply
that carries them all (kiln days), hands without end for throwing, glazing or finishing,
everything dry the day after (drying), every date four weeks later (the date). A gain is what was
found in the time, so it is certain, and perhaps not all.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from studio.craft.answer import Binds, Cause, Plan
from studio.craft.backplan_frame import frame
from studio.craft.backplan_runs import Runner
from studio.craft.backplan_search import Clock, Search
from studio.craft.backplan_turns import anneal, turns_for
from studio.craft.forward import start_plan
from studio.craft.problem import HandsDay, OnHand, Problem, Stage

LATER_DAYS = 28
KILNS_MORE = 3
ENDLESS_MIN = 10**6


def causes_of(
    *, problem: Problem, plan: Plan, clock: Clock, seed: int, steps: float, until: float
) -> tuple[Cause, ...]:
    """The limits whose lifting brings pieces, the most first; looked for ``until`` so many s."""
    found = []
    for turn, limit in enumerate(Binds):
        if clock.over(until):
            break
        share = (until - clock.spent) / (len(Binds) - turn)
        gain = gain_of(
            limit=limit,
            problem=problem,
            plan=plan,
            clock=clock,
            seed=seed,
            steps=steps / len(Binds),
            until=clock.spent + share,
        )
        if gain > 0:
            found.append(Cause(binds=limit, gain=gain))
    return tuple(sorted(found, key=lambda cause: -cause.gain))


def gain_of(
    *,
    limit: Binds,
    problem: Problem,
    plan: Plan,
    clock: Clock,
    seed: int,
    steps: float,
    until: float,
) -> int:
    """How many pieces more were found with one limit lifted [pieces]."""
    made = frame(problem=lifted(problem=problem, limit=limit))
    ahead = start_plan(made=made, over=lambda: clock.over(until))
    found = min(plan, ahead, key=lambda p: p.weighted_short)

    def better(turned: Plan) -> bool:
        nonlocal found
        found = min(found, turned, key=lambda p: p.weighted_short)
        return True

    if found.weighted_short:
        anneal(
            runner=Runner(made),
            plan=found,
            turns=turns_for(made=made, steps=steps / 2),
            seed=seed,
            clock=clock,
            until=clock.spent + (until - clock.spent) / 2,
            better=better,
        )
    search = Search(
        made=made,
        shape=lambda model: model.cp.minimize(model.short),
        value_of=lambda p: p.weighted_short,
        plan=found,
        clock=clock,
        seed=seed,
        patience=6,
    )
    search.run(steps=steps / 2, until=until)
    return plan.short - search.plan.short


def lifted(*, problem: Problem, limit: Binds) -> Problem:
    """The question with one limit lifted."""
    if limit == Binds.KILN_DAYS:
        more = tuple(
            replace(kiln, key=f"{kiln.key} +{i}")
            for kiln in problem.kilns
            for i in range(1, KILNS_MORE + 1)
        )
        at_once = len(problem.kilns) + len(more)
        return replace(
            problem,
            kilns=problem.kilns + more,
            circuits=tuple(replace(one, at_once=at_once) for one in problem.circuits),
        )
    if limit == Binds.DRYING:
        return replace(
            problem,
            wares=tuple(replace(ware, drying_days=1) for ware in problem.wares),
            on_hand=tuple(_dry_tomorrow(problem, hand) for hand in problem.on_hand),
        )
    if limit == Binds.DATE:
        later = timedelta(days=LATER_DAYS)
        return replace(
            problem,
            last_date=problem.last_date + later,
            days=problem.days + _more_days(problem),
            needs=tuple(replace(need, due_date=need.due_date + later) for need in problem.needs),
        )
    return replace(problem, days=tuple(_endless(day, limit) for day in problem.days))


def _endless(day: HandsDay, limit: Binds) -> HandsDay:
    if limit == Binds.THROWING:
        return replace(day, throwing_min=ENDLESS_MIN)
    if limit == Binds.GLAZING:
        return replace(day, glazing_min=ENDLESS_MIN)
    return replace(day, finishing_min=ENDLESS_MIN)


def _dry_tomorrow(problem: Problem, hand: OnHand) -> OnHand:
    tomorrow = problem.today_date + timedelta(days=1)
    if hand.stage == Stage.THROWN and hand.ready_date > tomorrow:
        return replace(hand, ready_date=tomorrow)
    return hand


def _more_days(problem: Problem) -> tuple[HandsDay, ...]:
    """Days after the last one, with the hands of the same weekday in the last week there is."""
    days = list(problem.days)
    for _ in range(LATER_DAYS):
        pattern = days[-7] if len(days) >= 7 else days[-1]
        days.append(replace(pattern, date=days[-1].date + timedelta(days=1)))
    return tuple(days[len(problem.days) :])
