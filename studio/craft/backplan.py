"""From the dates back: which loads, which throwing, which glazing keep what is promised?

In order: the least shortfall, weighted by the importance of the need; then the fewest pieces
that eat into buffer days, weighted alike; then the least cost; then slack before dates and even
work. What a plan means is written in ``studio.craft.referee``; every plan returned obeys it.

A shortfall is an answer, not an error: ``Plan.causes`` tells what would free it.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date

from studio.craft.answer import Cause, Ended, FiringMore, Plan
from studio.craft.backplan_causes import causes_of
from studio.craft.backplan_counts import on_slots
from studio.craft.backplan_frame import Frame, Slot, frame
from studio.craft.backplan_model import Model
from studio.craft.backplan_more import firings_more
from studio.craft.backplan_polish import polish
from studio.craft.backplan_runs import Runner
from studio.craft.backplan_search import STEPS_A_SECOND, Clock, Search, Stop
from studio.craft.backplan_short_guide import Guide
from studio.craft.backplan_told import Tell, Teller, eaten, sound
from studio.craft.backplan_told import UnsoundPlan as UnsoundPlan
from studio.craft.backplan_turns import anneal, turns_for
from studio.craft.backward import first_plan
from studio.craft.backward_walk import drafts_of, walk
from studio.craft.calendar import DAY, LeadTime, MayDo, NoSuchDay, any_day, lead_time
from studio.craft.forward import MANNERS, go_ahead
from studio.craft.problem import BISQUE, Need, PlanKiln, Problem

PROMISES_SHARE, COST_SHARE, POLISH_SHARE = 0.55, 0.3, 0.15
"""Shares of the steps: promises first, then cost, then slack and even work."""

TURNS_SHARE = 0.7
"""Of all steps, for turning calendars; the other shares are of the rest."""

SHORT_TURNS_SHARE, GUIDE_SHARE, FILL_SHARE = 0.5, 0.85, 0.35
"""While something is short: shares for turning, for the floor beside it, for filling."""

SLOW = 3.0
"""So many times what its steps usually take the floor may take."""

LATER = 0.2
"""Share of the clock by which all that follows may then end later; causes have what is left."""

PRESS = 4.0
"""What missing pieces weigh while calendars are turned, when there will be some in the end."""

CAUSES_SHARE = 0.3
"""Of the steps when something is short; taken from what the cost would have."""


class NotFoundInTime(RuntimeError):
    """The search ended before any plan was there. Not the same as impossible: see ``Outcome``."""

    def __init__(self, *, seconds: float) -> None:
        self.seconds = seconds
        super().__init__(f"No plan was found in {seconds:g} seconds; give it more time.")


def steps_for(*, seconds: float) -> int:
    """The steps that so many seconds usually hold on two threads; at least 1."""
    return max(1, round(seconds * STEPS_A_SECOND))


def plan(
    *,
    problem: Problem,
    steps: int | None = None,
    seconds: float = 10.0,
    seed: int = 1,
    progress: Tell | None = None,
    stop: Stop | None = None,
    before: Plan | None = None,
) -> Plan:
    """The best plan found for a question with so many ``steps``, within so many ``seconds``.

    ``steps`` is the effort, counted by the solver and not by the clock; left out, it is what the
    seconds usually hold. The same seed and steps give the same plan, unless the clock or a stop
    ends the search before (``Plan.ended`` tells). ``progress`` is told the first plan and each
    better one. ``stop`` is asked often; once it says yes the best plan so far is the answer.

    ``before`` is the plan in force: after promises and buffers, and ahead of cost, as few of its
    firings as possible are moved or dropped (``studio.craft.plan_changes`` lists what changed).

    A shortfall is an answer: ``Plan.outcome`` tells a proven one from one that more time might
    mend. Raises ``NotFoundInTime`` when the search ended before any plan was there. Bad data is
    refused before, where a question is made (``BadProblem``).
    """
    clock = Clock(seconds=seconds, stop=stop)
    if clock.over(seconds):
        raise NotFoundInTime(seconds=seconds)
    made = frame(problem=problem)
    teller = Teller(made=made, clock=clock, progress=progress)
    best = first_plan(made=made)
    teller.tell(best)
    if not made.wants:
        return sound(
            problem, replace(best, proven=True, ended=Ended.PROOF, seconds=round(clock.spent, 3))
        )
    effort = float(steps or steps_for(seconds=seconds))
    stand: set[Slot] = set()
    if before is not None:
        stand = on_slots(made, before)
        again = walk(made, drafts_of(made=made, plan=before))
        if _mark(made, again, stand) < _mark(made, best, stand):
            best = again
            teller.tell(best)
    with ThreadPoolExecutor(1) as beside:
        teller.begin(beside)
        best, guide = _turned(made, best, clock, seed, teller, effort, stand)
        teller.end()
    return _improve(made, best, clock, seed, teller, effort * (1 - TURNS_SHARE), stand, guide)


def _mark(made: Frame, plan: Plan, stand: set[Slot]) -> tuple[int, int, int, int]:
    """Which of two plans is better when some firings are in force: the lower one."""
    gone = len(stand - on_slots(made, plan)) if stand else 0
    return plan.weighted_short, plan.in_buffer, gone, plan.cost_pence


def _turned(
    made: Frame,
    best: Plan,
    clock: Clock,
    seed: int,
    teller: Teller,
    steps: float,
    stand: set[Slot],
) -> tuple[Plan, Guide | None]:
    """The best of going ahead in a few manners, and its calendar turned and turned.

    While something is short the floor is sought beside that, and its calendars
    are tried: turned, or filled.
    """
    until = clock.seconds * TURNS_SHARE
    runner = Runner(made)
    for manner in MANNERS:
        if clock.over(until):
            break
        ahead = go_ahead(runner=runner, manner=manner)
        if _mark(made, ahead, stand) < _mark(made, best, stand):
            best = ahead
            teller.tell(best)
    found = best
    effort_seconds = steps / STEPS_A_SECOND
    guide = None
    if best.weighted_short:
        within = min(clock.seconds, clock.spent + SLOW * effort_seconds) * GUIDE_SHARE
        guide = Guide(made=made, clock=clock, until=within)

    def better(plan: Plan) -> bool:
        nonlocal found
        if _mark(made, plan, stand) < _mark(made, found, stand):
            found = plan
            teller.tell(plan)
            return True
        return False

    surely = guide is not None and guide.is_short_surely(ahead=best)

    def turn(plan: Plan, steps: float, until: float) -> None:
        anneal(
            runner=runner,
            plan=plan,
            turns=turns_for(made=made, steps=steps),
            seed=seed,
            clock=clock,
            until=until,
            better=better,
            stand=frozenset(stand),
            press=PRESS if surely else 1.0,
        )

    if not surely:
        turn(best, steps * TURNS_SHARE, until)
    if guide is None:
        return found, None
    turning, often = steps * SHORT_TURNS_SHARE / 2, list[Plan]()
    if surely:
        until = clock.seconds * SHORT_TURNS_SHARE
        often = guide.often(runner=runner, until=until)
        for one in often:
            better(one)
        turn(best if guide.is_usual else found, turning, (clock.spent + until) / 2)
    guide.want(still=found.weighted_short > 0)
    filled: list[Plan] = []
    if found.weighted_short and guide.is_few:
        filled_by = until + clock.seconds * FILL_SHARE / 2
        filled = guide.filled(steps=steps * FILL_SHARE, by=until, until=filled_by, seed=seed)
        for one in filled:
            better(one)
    if often and not filled:
        turn(often[0] if guide.is_usual else found, turning, until)
    return found, guide if found.weighted_short else None


def rank(plan: Plan) -> tuple[int, int, int]:
    """Which of two plans is better, in short: the one whose rank is lower."""
    return plan.weighted_short, plan.in_buffer, plan.cost_pence


def _improve(
    made: Frame,
    best: Plan,
    clock: Clock,
    seed: int,
    teller: Teller,
    steps: float,
    stand: set[Slot],
    guide: Guide | None,
) -> Plan:
    problem, seconds = made.problem, clock.seconds
    late = LATER if guide else 0.0
    first, spent = _seek_promises(
        made, best, clock, seed, teller, steps * PROMISES_SHARE, late + PROMISES_SHARE
    )
    best = first.plan
    scale = _scale(made)
    short_bound = max(guide.least() if guide else 0, -(-first.bound // scale))
    teller.short_bound = min(best.weighted_short, short_bound)
    tail = CAUSES_SHARE if best.weighted_short else 0.0

    def keep_promises(model: Model) -> None:
        model.cp.add(scale * model.short + model.eaten <= first.value)

    a_change = 1 + best.cost_pence + sum(slot.cost_pence for slot in stand)

    def save_cost(model: Model) -> None:
        keep_promises(model)
        there = sum(model.slot_on[slot] for slot in stand if slot in model.slot_on)
        model.cp.minimize(model.cost + a_change * (len(stand) - there))

    def cost_and_changes(plan: Plan) -> int:
        return plan.cost_pence + a_change * len(stand - on_slots(made, plan))

    floor = teller.best_floor(best)
    before_polish = PROMISES_SHARE + COST_SHARE - tail
    second = Search(
        made=made,
        shape=save_cost,
        value_of=cost_and_changes,
        plan=best,
        clock=clock,
        seed=seed,
        bound=floor,
        on_better=teller.tell,
    )

    def keep_firings(model: Model) -> None:
        keep_promises(model)
        for slot in stand & on_slots(made, second.plan):
            # An appointment that was kept for nothing holds no piece, so a part does not say it.
            if slot in model.slot_on:
                model.cp.add(model.slot_on[slot] == 1)

    second.run(steps=steps * before_polish - spent, until=seconds * (late + before_polish))
    best = polish(
        made=made,
        limits=keep_firings,
        plan=second.plan,
        clock=clock,
        until=seconds * (1 - tail + late / 2),
        steps=steps * POLISH_SHARE,
        seed=seed,
    )
    causes: tuple[Cause, ...] = ()
    more: tuple[FiringMore, ...] = ()
    if best.weighted_short:
        until = clock.spent + 0.7 * (seconds - clock.spent)
        causes = causes_of(
            problem=problem,
            plan=best,
            clock=clock,
            seed=seed,
            steps=0.7 * steps * tail,
            until=until,
        )
        more = firings_more(
            problem=problem, plan=best, clock=clock, seed=seed, steps=0.3 * steps * tail
        )
    if guide and best.weighted_short:
        short_bound = max(short_bound, guide.wait())
    proven = first.proven and second.proven
    return sound(
        problem,
        replace(
            best,
            short_bound=min(best.weighted_short, short_bound),
            cost_bound_pence=best.cost_pence
            if second.proven
            else min(best.cost_pence, floor if stand else second.bound),
            proven=proven,
            causes=causes,
            firings_more=more,
            seconds=round(clock.spent, 3),
            ended=_ended(clock, proven),
        ),
    )


def _ended(clock: Clock, proven: bool) -> Ended:
    if clock.stopped:
        return Ended.STOP
    if clock.ran_out:
        return Ended.CLOCK
    return Ended.PROOF if proven else Ended.STEPS


def _scale(made: Frame) -> int:
    """One more than all buffers together can weigh: a short piece outweighs them all."""
    return 1 + sum(want.importance * want.asked for want in made.wants)


def _seek_promises(
    made: Frame, best: Plan, clock: Clock, seed: int, teller: Teller, steps: float, by: float
) -> tuple[Search, float]:
    scale = _scale(made)
    search = Search(
        made=made,
        shape=lambda model: model.cp.minimize(scale * model.short + model.eaten),
        value_of=lambda p: scale * p.weighted_short + eaten(made=made, plan=p),
        plan=best,
        clock=clock,
        seed=seed,
        on_better=teller.tell,
        patience=6,
    )
    spent = search.run(steps=steps, until=clock.seconds * by)
    return search, spent


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
