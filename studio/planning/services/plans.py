"""Work out a plan, put it in force, or put it aside.

A plan in force is firings in the kilns' book and tasks on the wall. Putting one in force is a
single transaction: the firings of the plan before it that it does not keep are called off, the
others are kept, the rest is new.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.craft.answer import Plan
from studio.craft.calendar import say_date
from studio.craft.money import show_money
from studio.craft.plan_reading import headline
from studio.craft.plan_record import plan_to_json
from studio.firings.models import Firing, Kiln
from studio.planning import rules
from studio.planning.models import BackPlan, Task
from studio.planning.selectors import in_force, stored
from studio.planning.selectors.question import question_to_json
from studio.planning.services.rows import fill_anew, make, take_over, tasks
from studio.planning.services.seek import SECONDS, Answer, seek
from studio.planning.services.sort_out import sort_out
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.selectors import the_studio
from studio.web.services import record


def work_out(
    *,
    today_date: date,
    last_date: date | None = None,
    keep_planned: bool = True,
    freed: Collection[int] = (),
    seconds: float = SECONDS,
    is_surer_sought: bool = True,
    by: User,
    at: datetime,
) -> BackPlan:
    """Seek a plan and store it as a proposal. Raises as ``services.seek``, then stores nothing."""
    answer = seek(
        today_date=today_date,
        now=at,
        last_date=last_date,
        keep_planned=keep_planned,
        freed=freed,
        seconds=seconds,
        is_surer_sought=is_surer_sought,
    )
    return propose(answer=answer, by=by, at=at)


@transaction.atomic
def propose(*, answer: Answer, by: User, at: datetime) -> BackPlan:
    """Store a plan that was found as the one proposal; older proposals are put aside."""
    problem = answer.question.problem
    BackPlan.objects.filter(state=BackPlan.State.PROPOSED).update(state=BackPlan.State.PUT_ASIDE)
    backplan = BackPlan.objects.create(
        today_date=problem.today_date,
        last_date=problem.last_date,
        problem=question_to_json(answer.question),
        plan=plan_to_json(answer.plan),
        drawn=list(answer.drawn),
        other=None
        if answer.other is None
        else {"plan": plan_to_json(answer.other), "drawn": list(answer.other_drawn)},
        follows=in_force(),
        by=by,
        made_at=at,
    )
    record(
        room="planning",
        action="work_out",
        said=f"Worked out a plan: {headline(problem=problem, plan=answer.plan)}",
        by=by,
        at=at,
        subject="backplan",
        subject_id=backplan.pk,
    )
    return backplan


@transaction.atomic
def choose_other(*, backplan: BackPlan, by: User, at: datetime) -> Change:
    """Propose the other plan of a question: the cheaper, or the surer one.

    Raises ``Refusal`` when the plan is no proposal any more or when there is no other.
    """
    mine = BackPlan.objects.select_for_update().get(pk=backplan.pk)
    refuse(rules.why_not_choose(state=mine.state, has_other=mine.other is not None))
    swap_plans(mine)
    problem, plan, _ = stored(mine)
    price = show_money(plan.cost_pence, currency=the_studio().currency)
    return record(
        room="planning",
        action="choose",
        said=f"Chose the plan of {price}: {headline(problem=problem, plan=plan)}",
        by=by,
        at=at,
        subject="backplan",
        subject_id=mine.pk,
        undo={"cost_pence": plan.cost_pence},
    )


def swap_plans(backplan: BackPlan) -> None:
    """Let a proposal and its other change places."""
    taken = dict(backplan.other or {})
    backplan.other = {"plan": backplan.plan, "drawn": backplan.drawn}
    backplan.plan, backplan.drawn = taken["plan"], taken["drawn"]
    backplan.save(update_fields=["plan", "drawn", "other"])


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftOut:
    """What of a proposal is not taken, by number; and firings it does not need, to call off."""

    loads: tuple[int, ...] = ()
    jobs: tuple[int, ...] = ()
    call_off: tuple[int, ...] = ()


WHOLE = LeftOut()


@transaction.atomic
def accept(*, backplan: BackPlan, left_out: LeftOut = WHOLE, by: User, at: datetime) -> Change:
    """Put a proposal in force, whole or in part.

    Raises ``Refusal`` for a plan that is in force, aside or past, when nothing of it is taken, and
    when a kiln day it needs was taken since. That boards moved since is no reason to refuse:
    ``selectors.drift`` says it.
    """
    today_date = timezone.localtime(at).date()
    # Both plans are locked, so that of two phones one accepts and the other reads that it did.
    locked = {
        row.pk: row
        for row in BackPlan.objects.select_for_update()
        .exclude(state=BackPlan.State.PUT_ASIDE)
        .order_by("pk")
    }
    mine = locked.get(backplan.pk)
    before = next((r for r in locked.values() if r.state == BackPlan.State.ACCEPTED), None)
    problem, plan, _ = stored(backplan)
    sentence = rules.why_not_accept(
        state=mine.state if mine else BackPlan.State.PUT_ASIDE,
        first_start_date=first_start(plan=plan, but=left_out.loads),
        today_date=today_date,
    )
    if mine is None or sentence:
        raise Refusal(sentence)
    refuse(
        rules.why_not_in_part(
            loads=len(plan.loads),
            jobs=len(plan.jobs),
            loads_out=left_out.loads,
            jobs_out=left_out.jobs,
        )
    )
    hold_kilns()
    sorted_out = sort_out(
        plan=plan,
        problem=problem,
        before=before,
        today_date=today_date,
        left_out=left_out.loads,
        call_off=left_out.call_off,
    )
    if before is not None:
        set_state(before, BackPlan.State.PUT_ASIDE)
    mine.left_out = {"loads": list(left_out.loads), "jobs": list(left_out.jobs)}
    mine.state = BackPlan.State.ACCEPTED
    mine.save(update_fields=["state", "left_out"])
    for firing in sorted_out.called_off:
        firing.state = Firing.State.CALLED_OFF
        firing.save(update_fields=["state"])
    kept = [fill_anew(mine, load, firing) for load, firing in sorted_out.kept]
    kept += [take_over(mine, firing) for firing in sorted_out.as_it_is]
    made = [make(mine, load) for load in sorted_out.new]
    Task.objects.bulk_create(tasks(mine, plan, left_out.jobs))
    return record(
        room="planning",
        action="accept",
        said=_said(
            kept=len(kept),
            made=len(made),
            called_off=len(sorted_out.called_off),
            in_part=bool(left_out.loads or left_out.jobs),
        ),
        by=by,
        at=at,
        subject="backplan",
        subject_id=mine.pk,
        undo={
            "before": before.pk if before else None,
            "made": made,
            "kept": kept,
            "called_off": [firing.pk for firing in sorted_out.called_off],
        },
    )


def first_start(*, plan: Plan, but: Collection[int] = ()) -> date | None:
    """The day of a plan's first firing, some left out by number."""
    starts = [load.start_date for number, load in enumerate(plan.loads) if number not in but]
    return min(starts, default=None)


def _said(*, kept: int, made: int, called_off: int, in_part: bool) -> str:
    parts = [f"{made} new" if made else "", f"{kept} kept" if kept else ""]
    parts.append(f"{called_off} called off" if called_off else "")
    firings = ", ".join(part for part in parts if part) or "none"
    part = " in part" if in_part else ""
    return f"Put a plan in force{part}; its firings: {firings}."


def hold_kilns() -> None:
    """Hold every kiln, so that nobody plans or loads a firing while the book is rewritten."""
    list(Kiln.objects.select_for_update().order_by("pk").values_list("pk"))


def set_state(backplan: BackPlan, state: str) -> None:
    """Save where a plan stands."""
    backplan.state = state
    backplan.save(update_fields=["state"])


@transaction.atomic
def put_aside(*, backplan: BackPlan, by: User, at: datetime) -> Change:
    """Put a proposal aside. Raises ``Refusal`` for one that is in force or aside already."""
    mine = BackPlan.objects.select_for_update().get(pk=backplan.pk)
    refuse(rules.why_not_put_aside(state=mine.state))
    set_state(mine, BackPlan.State.PUT_ASIDE)
    return record(
        room="planning",
        action="put_aside",
        said=f"Put the plan of {say_date(mine.today_date)} aside.",
        by=by,
        at=at,
        subject="backplan",
        subject_id=mine.pk,
        undo={"state": BackPlan.State.PROPOSED.value},
    )
