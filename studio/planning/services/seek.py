"""Is there a plan for today's question, and does it keep what it promises?

Seeking takes seconds and touches no row, so it is done outside any transaction; what it finds is
stored by ``services.propose``.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import date, datetime

from studio.craft import backplan
from studio.craft.answer import Plan, Progress
from studio.craft.gather import gather
from studio.craft.plan_spares import with_spares
from studio.craft.problem import Load, Problem
from studio.craft.referee import broken_promises
from studio.planning.selectors.packs import Packer, packer
from studio.planning.selectors.parts import plan_before
from studio.planning.selectors.question import Question, ask
from studio.planning.services.packing import packed

SECONDS = 8.0
"""How long a plan is sought when nobody says otherwise: as long as one waits for a page."""

LONGEST_SECONDS = 600.0

SPARE_SECONDS = 10.0
"""How long spares are sought for a plan once it is found, at the most; our own choice."""


class BrokenPlan(RuntimeError):
    """The planner's answer breaks its own promises; it is a fault of the program, never stored."""

    def __init__(self, broken: tuple[str, ...]) -> None:
        self.broken = broken
        super().__init__("The plan that was found breaks its promises: " + " ".join(broken))


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """A question with the plan that was found for it and checked."""

    question: Question
    plan: Plan


def seek(
    *,
    today_date: date,
    now: datetime | None = None,
    last_date: date | None = None,
    keep_planned: bool = True,
    freed: Collection[int] = (),
    seconds: float = SECONDS,
    stop: Callable[[], bool] | None = None,
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
    )


def answered(
    *,
    question: Question,
    seconds: float = SECONDS,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
    before: Plan | None = None,
    packer: Packer | None = None,
) -> Answer:
    """Seek a plan for a question; ``progress`` is told each better one, ``stop`` is asked often.

    Of the plan ``before`` as few firings as possible are moved or dropped. With a ``packer`` every
    load is packed, after the seconds given, and where one leaves pieces over the plan is sought
    again; what came of that is said in the question's remarks. Spares are added at the end, so
    far as the question asks for them and they fit.

    Raises ``NotFoundInTime``, ``BrokenPlan`` when the referee finds a promise broken, and
    ``ValueError`` for a time that is not above 0 and at most 600 seconds.
    """
    if not 0 < seconds <= LONGEST_SECONDS:
        raise ValueError(f"a plan is sought for up to {LONGEST_SECONDS:.0f} s, not {seconds:g} s")

    def sought(problem: Problem, seconds: float) -> Plan:
        return backplan.plan(
            problem=problem, seconds=seconds, progress=progress, stop=stop, before=before
        )

    problem = question.problem
    found = sought(problem, seconds)
    if packer is not None:
        tried = packed(
            problem=problem,
            plan=found,
            packer=packer,
            seek=lambda tighter: sought(tighter, seconds / 2),
            stop=stop or (lambda: False),
        )
        found = tried.plan
        question = replace(question, remarks=(*question.remarks, *tried.remarks))
    ends = time.monotonic() + SPARE_SECONDS

    def stands(load: Load) -> bool:
        return packer is None or not packer.without_room(load)

    checked(problem=problem, plan=found)  # spares are added to a sound plan only
    spared = with_spares(
        problem=problem,
        plan=found,
        stands=stands,
        stop=lambda: time.monotonic() > ends or (stop is not None and stop()),
    )
    return Answer(question=question, plan=checked(problem=problem, plan=spared))


def checked(*, problem: Problem, plan: Plan) -> Plan:
    """A plan with its loads gathered, once the referee has passed it. Raises ``BrokenPlan``."""
    gathered = gather(problem=problem, plan=plan)
    broken = broken_promises(problem=problem, plan=gathered)
    if broken:
        raise BrokenPlan(broken)
    return gathered
