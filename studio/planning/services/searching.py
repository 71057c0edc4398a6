"""Look for a plan beside the request: tell how far it has come, stop it, keep the best.

A search is a thread of the server process. The solver in it touches no row; a keeper beside it
writes a sign of life, and the best plan so far when there is a better one, each in one short
statement, so that nobody else waits for the database. When the process ends, the signs stop; who
looks next closes the search and keeps its best.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from threading import Event, Thread

from django.contrib.auth.models import User
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from studio.craft.answer import Ended, Plan, Progress
from studio.craft.backplan import NotFoundInTime
from studio.craft.plan_record import plan_from_json, plan_to_json
from studio.planning import rules
from studio.planning.models import Search
from studio.planning.selectors.packs import Packer, packer
from studio.planning.selectors.parts import plan_before
from studio.planning.selectors.question import Question, question_from_json, question_to_json
from studio.planning.services.plans import propose
from studio.planning.services.seek import Answer, answered, checked
from studio.web.refusal import refuse

log = logging.getLogger(__name__)

LOOKS_EVERY_S = 0.25
"""How often the keeper asks whether to stop, and writes a better plan down."""

BEATS_EVERY = timedelta(seconds=3)
SILENT_AFTER = timedelta(seconds=15)
"""After so long without a sign of life a search is taken as cut off."""


@dataclass(kw_only=True, slots=True)
class Look:
    """What the solver has come to, read by the keeper beside it."""

    before: Plan | None = None
    packer: Packer | None = None
    best: Plan | None = None
    answer: Answer | None = None
    wrong: BaseException | None = None
    stop: Event = field(default_factory=Event)

    def told(self, progress: Progress) -> None:
        """Keep a better plan with what is proven so far."""
        self.best = replace(
            progress.plan,
            short_bound=progress.short_bound,
            cost_bound_pence=progress.cost_bound_pence,
            seconds=progress.seconds,
        )


def in_a_thread(search_id: int) -> None:
    """Look beside the request, in a thread that a closing server does not wait for."""
    Thread(
        target=_run_and_leave, args=(search_id,), name=f"search {search_id}", daemon=True
    ).start()


launch: Callable[[int], None] = in_a_thread
"""How a search is started once its row is there; tests look in place."""


@transaction.atomic
def begin(
    *,
    question: Question,
    seconds: float,
    keep_planned: bool = True,
    freed: tuple[int, ...] = (),
    by: User,
    at: datetime,
) -> Search:
    """Begin to look for a plan. Raises ``Refusal`` while another search is looking."""
    running = Search.objects.select_for_update().filter(state=Search.State.LOOKING).first()
    if running is not None and not tend(search=running, at=at):
        begun_at = timezone.localtime(running.begun_at)
        refuse(rules.why_not_begin(begun_at=begun_at, by=running.by.get_username()))
    search = Search.objects.create(
        last_date=question.problem.last_date,
        keep_planned=keep_planned,
        freed=list(freed),
        seconds=seconds,
        problem=question_to_json(question),
        by=by,
        begun_at=at,
        beat_at=at,
    )
    transaction.on_commit(lambda: launch(search.pk))
    return search


@transaction.atomic
def ask_to_stop(*, search: Search, at: datetime) -> Search:
    """Ask a search to end and keep its best. Raises ``Refusal`` when it has ended already."""
    tend(search=search, at=at)
    now = Search.objects.select_for_update().get(pk=search.pk)
    refuse(rules.why_not_stop(state=now.state))
    now.stop_asked = True
    now.save(update_fields=["stop_asked"])
    return now


@transaction.atomic
def tend(*, search: Search, at: datetime) -> bool:
    """Close a search that gives no sign of life any more; its best becomes the proposal."""
    if search.state != Search.State.LOOKING or search.beat_at >= at - SILENT_AFTER:
        return False
    mine = Search.objects.select_for_update().get(pk=search.pk)
    if mine.state != Search.State.LOOKING or mine.beat_at >= at - SILENT_AFTER:
        return False
    mine.state, mine.ended_at = Search.State.CUT_OFF, at
    mine.said = [rules.cut_off(lasted_s=(mine.beat_at - mine.begun_at).total_seconds())]
    if mine.best is not None:
        question = question_from_json(mine.problem)
        plan = checked(problem=question.problem, plan=plan_from_json(mine.best))
        _keep(mine, Answer(question=question, plan=plan), at)
    mine.save()
    return True


def _run_and_leave(search_id: int) -> None:
    try:
        run(search_id)
    except Exception:
        log.exception("The search %s could not be finished", search_id)
    finally:
        connection.close()


def run(search_id: int) -> None:
    """Look, keep the row up to date meanwhile, and close it."""
    search = Search.objects.get(pk=search_id)
    question = question_from_json(search.problem)
    look = Look(before=plan_before(), packer=packer(question.problem))
    solver = Thread(target=_solve, args=(question, search.seconds, look), daemon=True)
    solver.start()
    written: Plan | None = None
    beat_at = search.beat_at
    while solver.is_alive():
        solver.join(LOOKS_EVERY_S)
        best, now = look.best, timezone.now()
        if best is written and now - beat_at < BEATS_EVERY and not look.stop.is_set():
            _heed(search_id, look)
            continue
        if _beat(search_id, look, best if best is not written else None, now):
            written, beat_at = best, now
    _close(search_id, look)


def _solve(question: Question, seconds: float, look: Look) -> None:
    try:
        look.answer = answered(
            question=question,
            seconds=seconds,
            progress=look.told,
            stop=look.stop.is_set,
            before=look.before,
            packer=look.packer,
        )
    except BaseException as wrong:
        look.wrong = wrong


def _heed(search_id: int, look: Look) -> None:
    """Stop when somebody asked for it, or when the row was closed by someone else."""
    mine = Search.objects.filter(pk=search_id, state=Search.State.LOOKING)
    if mine.values_list("stop_asked", flat=True).first() in (None, True):
        look.stop.set()


def _beat(search_id: int, look: Look, better: Plan | None, at: datetime) -> bool:
    """Write a sign of life and a better plan. A database that is busy is tried again later."""
    told: dict[str, object] = {"beat_at": at}
    if better is not None:
        told["best"] = plan_to_json(better)
    try:
        Search.objects.filter(pk=search_id, state=Search.State.LOOKING).update(**told)
        _heed(search_id, look)
    except DatabaseError:
        log.warning("The search %s could not write its sign of life", search_id)
        return False
    return True


@transaction.atomic
def _close(search_id: int, look: Look) -> None:
    mine = Search.objects.select_for_update().select_related("by").get(pk=search_id)
    if mine.state != Search.State.LOOKING:
        return
    at = timezone.now()
    mine.ended_at = at
    if look.answer is not None:
        stopped = mine.stop_asked and look.answer.plan.ended == Ended.STOP
        mine.state = Search.State.STOPPED if stopped else Search.State.FOUND
        mine.said = [rules.stopped(lasted_s=look.answer.plan.seconds)] if stopped else []
        _keep(mine, look.answer, at)
    elif isinstance(look.wrong, NotFoundInTime):
        mine.state = Search.State.NOT_FOUND
        mine.said = [
            rules.nothing_yet() if mine.stop_asked else rules.not_found(seconds=look.wrong.seconds)
        ]
    else:
        log.error("A search ended by a fault", exc_info=look.wrong)
        mine.state, mine.said = Search.State.FAULT, [rules.UNSOUND]
    mine.save()


def _keep(search: Search, answer: Answer, at: datetime) -> None:
    """Make the best plan of a search the proposal; how it ended is a remark on it."""
    question = answer.question
    told = replace(question, remarks=(*search.said, *question.remarks))
    search.backplan = propose(answer=replace(answer, question=told), by=search.by, at=at)
