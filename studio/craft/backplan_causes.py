"""Which limit keeps a plan short, and how much would come if it alone were lifted?

Each limit is lifted in turn and the question is solved again from the plan that is there:
kiln days (as many kilns as one likes), throwing, glazing or finishing minutes (hands without
end), drying (everything dry the day after), the date (four weeks later for every need). A gain
is what was found in the time, so it is certain, and perhaps not all.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from studio.craft.backplan_frame import frame
from studio.craft.backplan_model import build
from studio.craft.backplan_search import Clock, Search
from studio.craft.problem import Binds, Cause, HandsDay, OnHand, Plan, Problem, Stage

LATER_DAYS = 28


def causes_of(
    *, problem: Problem, plan: Plan, clock: Clock, seed: int, steps: float
) -> tuple[Cause, ...]:
    """The limits whose lifting brings pieces, the most first."""
    found = []
    for turn, limit in enumerate(Binds):
        share = (clock.seconds - clock.spent) / (len(Binds) - turn)
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
    made = frame(problem=lifted(problem=problem, limit=limit), free_kilns=limit == Binds.KILN_DAYS)
    model = build(made=made, lifted=limit)
    search = Search(
        model=model,
        objective=model.short,
        value_of=lambda p: p.weighted_short,
        plan=plan,
        clock=clock,
        seed=seed,
    )
    search.run(steps=steps, until=until)
    return plan.short - search.plan.short


def lifted(*, problem: Problem, limit: Binds) -> Problem:
    """The question with drying or dates lifted; limits of hands and kilns stay in it."""
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
    return problem


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
