"""Is there a plan for today's question, and does it keep what it promises?

Seeking takes seconds and touches no row, so it is done outside any transaction; what it finds is
stored by ``services.propose``.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import date, datetime

from studio.craft import backplan
from studio.craft.answer import Plan, Progress
from studio.craft.backplan import NotFoundInTime
from studio.craft.gather import gather
from studio.craft.plan_spares import with_spares
from studio.craft.plan_surer import surer
from studio.craft.plan_trim import without_needless_throwing
from studio.craft.problem import Load, Problem
from studio.craft.referee import broken_promises
from studio.planning.selectors.packs import Packer, packer
from studio.planning.selectors.parts import plan_before
from studio.planning.selectors.question import Question, ask
from studio.planning.services.packing import Look, packed, placed, tighter

SECONDS = 8.0
"""How long a plan is sought when nobody says otherwise: as long as one waits for a page."""

LONGEST_SECONDS = 600.0

SPARE_SECONDS = 60.0
"""The outer limit of seeking spares for a plan once it is found; it takes a second or two."""

AGAIN_SHARE = 0.5
"""Of the steps of a search, for each search after it: with less room, or for a surer plan."""

AGAIN_PATIENCE = 4.0
"""How many times longer than the first search such a search may take where the computer is busy:
its steps end it, so that a busy computer leads to no worse plan. Our own choice."""

WORTH_PERCENT = 20
"""A surer plan is proposed where it costs at most so much more, else the cheaper one is; the other
is offered beside it. Our own choice."""


class BrokenPlan(RuntimeError):
    """The planner's answer breaks its own promises; it is a fault of the program, never stored."""

    def __init__(self, broken: tuple[str, ...]) -> None:
        self.broken = broken
        super().__init__("The plan that was found breaks its promises: " + " ".join(broken))


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """A question with the plan that was found for it and checked.

    ``other`` is one for another price: surer and dearer, or cheaper and less sure. ``drawn`` are
    the numbers of the loads of a plan that were packed piece by piece and stand whole.
    """

    question: Question
    plan: Plan
    other: Plan | None = None
    drawn: tuple[int, ...] = ()
    other_drawn: tuple[int, ...] = ()

    @property
    def turned(self) -> Answer:
        """The same with the other plan in the first place; itself where there is one plan."""
        if self.other is None:
            return self
        return replace(
            self,
            plan=self.other,
            drawn=self.other_drawn,
            other=self.plan,
            other_drawn=self.drawn,
        )


def seek(
    *,
    today_date: date,
    now: datetime | None = None,
    last_date: date | None = None,
    keep_planned: bool = True,
    freed: Collection[int] = (),
    seconds: float = SECONDS,
    stop: Callable[[], bool] | None = None,
    is_surer_sought: bool = True,
) -> Answer:
    """Ask the question of today (at the moment ``now``) and seek a plan within so many seconds.

    Raises ``BadProblem`` with every cause when no plan could be sought, and as ``answered``.
    """
    question = ask(
        today_date=today_date,
        now=now,
        last_date=last_date,
        keep_planned=keep_planned,
        freed=freed,
    )
    return answered(
        question=question,
        seconds=seconds,
        stop=stop,
        before=plan_before(),
        packer=packer(question.problem),
        is_surer_sought=is_surer_sought,
    )


def answered(
    *,
    question: Question,
    seconds: float = SECONDS,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
    before: Plan | None = None,
    packer: Packer | None = None,
    is_surer_sought: bool = True,
) -> Answer:
    """Seek a plan for a question; ``progress`` is told each better one, ``stop`` is asked often.

    Of the plan ``before`` as few firings as possible are moved or dropped. With a ``packer`` every
    load is packed, after the seconds given, and where one leaves pieces over that fit nowhere else
    the plan is sought again; what came of that is said in the question's remarks. Spares go into
    what room is left; where dates stay less sure than the question wishes a surer plan is sought,
    unless ``is_surer_sought`` is false: that saves half of the time.

    Raises ``NotFoundInTime``, ``BrokenPlan`` when the referee finds a promise broken, and
    ``ValueError`` for a time that is not above 0 and at most 600 seconds.
    """
    if not 0 < seconds <= LONGEST_SECONDS:
        raise ValueError(f"a plan is sought for up to {LONGEST_SECONDS:.0f} s, not {seconds:g} s")
    halt = stop or (lambda: False)
    problem = question.problem
    found = backplan.plan(
        problem=problem, seconds=seconds, progress=progress, stop=stop, before=before
    )

    def again(asked: Problem, near: Plan | None) -> Plan:
        steps = max(1, round(AGAIN_SHARE * backplan.steps_for(seconds=seconds)))
        patience = AGAIN_PATIENCE * seconds
        return backplan.plan(problem=asked, steps=steps, seconds=patience, stop=stop, before=near)

    look, asked = None, problem
    if packer is not None:
        look = Look(packer=packer, stop=halt)
        tried = packed(
            problem=problem, plan=found, look=look, seek=lambda tighter: again(tighter, before)
        )
        found, asked = tried.plan, tried.tightened
        question = replace(question, remarks=(*question.remarks, *tried.remarks))
    checked(problem=problem, plan=found)  # spares are added to a sound plan only
    found = without_needless_throwing(problem=problem, plan=found)
    cheap = checked(problem=problem, plan=_spared(problem, found, look, halt))

    if not is_surer_sought:
        return Answer(question=question, plan=cheap, drawn=_drawn(cheap, look))
    room = [asked]

    def near(more: Problem, plan: Plan) -> Plan | None:
        if halt():
            return None
        try:
            return again(replace(more, kilns=room[-1].kilns, wares=room[-1].wares), plan)
        except NotFoundInTime:
            return None

    def finish(plan: Plan) -> Plan | None:
        if broken_promises(problem=problem, plan=plan):
            return None
        plan = without_needless_throwing(problem=problem, plan=plan)
        there = plan if look is None else placed(problem, plan, look)
        if look is not None and (over := look.over(there)):
            room.append(tighter(room[-1], over, look))
            return None
        return _spared(problem, there, look, halt)

    sure = surer(problem=problem, plan=cheap, seek=near, finish=finish)
    if sure is None:
        return Answer(question=question, plan=cheap, drawn=_drawn(cheap, look))
    plan = checked(problem=problem, plan=sure)
    if plan.cost_pence <= cheap.cost_pence:
        return Answer(question=question, plan=plan, drawn=_drawn(plan, look))
    found_both = Answer(
        question=question,
        plan=plan,
        other=cheap,
        drawn=_drawn(plan, look),
        other_drawn=_drawn(cheap, look),
    )
    is_worth = 100 * plan.cost_pence <= (100 + WORTH_PERCENT) * cheap.cost_pence
    return found_both if is_worth else found_both.turned


def _spared(problem: Problem, plan: Plan, look: Look | None, stop: Callable[[], bool]) -> Plan:
    ends = time.monotonic() + SPARE_SECONDS

    def stands(load: Load) -> bool:
        return look is None or look.stands(load)

    return with_spares(
        problem=problem,
        plan=plan,
        stands=stands,
        stop=lambda: time.monotonic() > ends or stop(),
    )


def _drawn(plan: Plan, look: Look | None) -> tuple[int, ...]:
    if look is None:
        return ()
    return tuple(
        number
        for number, load in enumerate(plan.loads)
        if look.packer.can_pack(load) and look.seen.get(load) == Counter()
    )


def checked(*, problem: Problem, plan: Plan) -> Plan:
    """A plan with its loads gathered, once the referee has passed it. Raises ``BrokenPlan``."""
    gathered = gather(problem=problem, plan=plan)
    broken = broken_promises(problem=problem, plan=gathered)
    if broken:
        raise BrokenPlan(broken)
    return gathered
