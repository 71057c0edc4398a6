"""Is there a plan for today's question, and does it keep what it promises?

Seeking takes seconds and touches no row, so it is done outside any transaction; what it finds is
stored by ``services.propose``.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from threading import Lock
from weakref import WeakValueDictionary

from studio.craft import backplan
from studio.craft.answer import Plan
from studio.craft.gather import gather
from studio.craft.referee import broken_promises
from studio.planning.selectors.question import Question, ask

SECONDS = 8.0
"""How long a plan is sought when nobody says otherwise: as long as one waits for a page."""

LONGEST_SECONDS = 600.0


_held: WeakValueDictionary[str, Lock] = WeakValueDictionary()
_holding = Lock()


@contextmanager
def one_at_a_time(key: str) -> Iterator[None]:
    """Let a second tap on the same form wait for what the first one finds.

    Holds within one server process, which is how a studio is served; beside several processes a
    second tap would seek again, and still be stored only once, by the form's key.
    """
    with _holding:
        lock = _held.setdefault(key, Lock())
    with lock:
        yield


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
    seconds: float = SECONDS,
) -> Answer:
    """Ask the question of today (at the moment ``now``) and seek a plan within so many seconds.

    Raises ``BadProblem`` with every cause when no plan could be sought, ``BrokenPlan`` when the
    referee finds a promise broken, ``ValueError`` for a time that is not above 0.
    """
    if not 0 < seconds <= LONGEST_SECONDS:
        raise ValueError(f"a plan is sought for up to {LONGEST_SECONDS:.0f} s, not {seconds:g} s")
    question = ask(today_date=today_date, now=now, last_date=last_date, keep_planned=keep_planned)
    found = backplan.plan(problem=question.problem, seconds=seconds)
    plan = gather(problem=question.problem, plan=found)
    broken = broken_promises(problem=question.problem, plan=plan)
    if broken:
        raise BrokenPlan(broken)
    return Answer(question=question, plan=plan)
