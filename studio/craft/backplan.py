"""From the dates back: which loads, which throwing, which glazing keep what is promised?

In order: the least shortfall, weighted by the importance of the need; then the fewest pieces
that eat into buffer days, weighted alike; then the least cost; then slack before dates and even
work. What a plan means is written in ``studio.craft.referee``; every plan returned obeys it.

A shortfall is an answer, not an error: ``Plan.causes`` tells what would free it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

from studio.craft.answer import Cause, Plan
from studio.craft.backplan_causes import causes_of
from studio.craft.backplan_cuts import cost_floor
from studio.craft.backplan_frame import Frame, frame
from studio.craft.backplan_model import Model
from studio.craft.backplan_polish import polish
from studio.craft.backplan_search import STEPS_A_SECOND, Clock, Search
from studio.craft.calendar import DAY, LeadTime, MayDo, NoSuchDay, any_day, lead_time
from studio.craft.forward import start_plan
from studio.craft.problem import BISQUE, Need, PlanKiln, Problem
from studio.craft.referee import broken_promises

Progress = Callable[[Plan], None]


class NotFoundInTime(RuntimeError):
    """The time ran out before any plan was there. Not the same as impossible: see BadProblem."""

    def __init__(self, *, seconds: float) -> None:
        self.seconds = seconds
        super().__init__(f"No plan was found in {seconds:g} seconds; give it more time.")


class UnsoundPlan(RuntimeError):
    """A plan breaks its own promises: a fault of the planner. ``causes`` are the sentences."""

    def __init__(self, *causes: str) -> None:
        self.causes = causes
        super().__init__(" ".join(causes))


def plan(
    *, problem: Problem, seconds: float = 10.0, seed: int = 1, progress: Progress | None = None
) -> Plan:
    """The best plan found for a question within ``seconds``.

    The same ``seed`` gives the same plan, unless the clock stops the search early (a slow
    computer). ``progress`` is told each better plan on the way; its bounds are not proven yet.

    Raises ``NotFoundInTime`` when the clock ran out before any plan was there (``BadProblem`` is
    raised where a question is made: it is impossible, whatever the time).
    """
    clock = Clock(seconds=seconds)
    made = frame(problem=problem)
    best = start_plan(made=made)
    if clock.left <= 0:
        raise NotFoundInTime(seconds=seconds)
    tell = _teller(problem, progress)
    tell(best)
    if not made.wants:
        return _sound(problem, replace(best, proven=True, seconds=clock.spent))
    steps = seconds * STEPS_A_SECOND
    first, spent = _seek_promises(made, best, clock, seed, tell, steps * 0.55)
    best = first.plan
    scale = _scale(made)
    short_bound = -(-first.bound // scale) if first.bound > 0 else 0
    tail = 0.3 if best.weighted_short else 0.0

    def keep_promises(model: Model) -> None:
        model.cp.add(scale * model.short + model.eaten <= first.value)

    def save_cost(model: Model) -> None:
        keep_promises(model)
        model.cp.minimize(model.cost)

    least_importance = min(want.importance for want in made.wants)
    floor = cost_floor(made=made, short=best.weighted_short // least_importance)
    second = Search(
        made=made,
        shape=save_cost,
        value_of=lambda p: p.cost_pence,
        plan=best,
        clock=clock,
        seed=seed,
        bound=floor,
        on_better=tell,
    )
    second.run(steps=steps * (0.85 - tail) - spent, until=seconds * (0.85 - tail))
    best = polish(
        made=made,
        limits=keep_promises,
        plan=second.plan,
        clock=clock,
        until=seconds * (1 - tail),
        steps=steps * 0.15,
        seed=seed,
    )
    causes: tuple[Cause, ...] = ()
    if best.weighted_short:
        causes = causes_of(problem=problem, plan=best, clock=clock, seed=seed, steps=steps * tail)
    return _sound(
        problem,
        replace(
            best,
            short_bound=min(best.weighted_short, short_bound),
            cost_bound_pence=min(best.cost_pence, second.bound),
            proven=first.proven and second.proven,
            causes=causes,
            seconds=round(clock.spent, 3),
        ),
    )


def _scale(made: Frame) -> int:
    """One more than all buffers together can weigh: a short piece outweighs them all."""
    return 1 + sum(want.importance * want.asked for want in made.wants)


def eaten(*, made: Frame, plan: Plan) -> int:
    """Weighted pieces of a plan that come inside their buffer days."""
    importance = {want.need_key: want.importance for want in made.wants}
    return sum(importance[kept.need_key] * kept.in_buffer for kept in plan.kept)


def _seek_promises(
    made: Frame, best: Plan, clock: Clock, seed: int, tell: Progress, steps: float
) -> tuple[Search, float]:
    scale = _scale(made)
    search = Search(
        made=made,
        shape=lambda model: model.cp.minimize(scale * model.short + model.eaten),
        value_of=lambda p: scale * p.weighted_short + eaten(made=made, plan=p),
        plan=best,
        clock=clock,
        seed=seed,
        on_better=tell,
        patience=6,
    )
    spent = search.run(steps=steps, until=clock.seconds * 0.55)
    return search, spent


def _teller(problem: Problem, progress: Progress | None) -> Progress:
    def tell(better: Plan) -> None:
        if progress:
            progress(_sound(problem, better))

    return tell


def _sound(problem: Problem, found: Plan) -> Plan:
    broken = broken_promises(problem=problem, plan=found)
    if broken:
        raise UnsoundPlan(*broken)
    return found


def latest_throw_dates(problem: Problem) -> dict[tuple[str, str], date]:
    """The last day to throw each line for each need, by (need key, line key).

    Counted back by ``studio.craft.calendar`` over the days of the problem, with the quickest
    kilns that take the ware. A line nobody has fired yet counts back from its trial, whose
    opening must come before the other pieces are loaded. A pair is left out when no day from
    today on is early enough, or no kiln fires it.
    """
    dates = {}
    for need in problem.needs:
        for line_key, _ in need.counts:
            found = _latest_throw(problem, need, line_key)
            if found is not None:
                dates[need.key, line_key] = found
    return dates


def _latest_throw(problem: Problem, need: Need, line_key: str) -> date | None:
    line = next(line for line in problem.lines if line.key == line_key)
    ware = next(ware for ware in problem.wares if ware.key == line.ware_key)
    days = {day.date: day for day in problem.days}
    fitting = [kiln for kiln in problem.kilns if kiln.clear_height_mm >= ware.height_mm]
    bisque = _quickest(fitting, BISQUE)
    glaze = _quickest(fitting, line.schedule_key)
    trial = _quickest([kiln for kiln in fitting if kiln.takes_trials], line.schedule_key)
    if bisque is None or glaze is None or (trial is None and not line.proven):
        return None

    def has(minutes: str, each: int) -> MayDo:
        return lambda day: day in days and int(getattr(days[day], minutes)) >= each

    def count_back(
        due_date: date, buffer_days: int, glaze_busy_days: int, may_finish: MayDo
    ) -> LeadTime:
        return lead_time(
            due_date=due_date,
            buffer_days=buffer_days,
            drying_days=ware.drying_days,
            bisque_busy_days=bisque,
            glaze_busy_days=glaze_busy_days,
            may_throw=has("throwing_min", ware.throwing_min),
            may_start=lambda day: day in days and days[day].may_start,
            may_glaze=has("glazing_min", ware.glazing_min),
            may_finish=may_finish,
        )

    try:
        finishes = has("finishing_min", ware.finishing_min)
        main = count_back(need.due_date, need.buffer_days, glaze, finishes)
        if line.proven:
            return main.throw_date
        # The trial has to be open on the day the main load starts; finishing it can wait.
        return count_back(main.glaze_start_date + DAY, 0, trial or 0, any_day).throw_date
    except NoSuchDay:
        return None


def _quickest(kilns: list[PlanKiln], schedule_key: str) -> int | None:
    runs = (kiln.run(schedule_key) for kiln in kilns)
    return min((run.busy_days for run in runs if run), default=None)
