"""Which firings of an older plan does a new plan keep, which does it call off, which are new?"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date

from studio.craft.answer import Plan
from studio.craft.plan_reading import same_slot
from studio.craft.problem import Load, Problem
from studio.firings.models import Firing
from studio.firings.selectors import span
from studio.firings.selectors.kilns import TAKES_DAYS
from studio.planning import rules
from studio.planning.models import BackPlan
from studio.planning.selectors.fixed import schedule_key
from studio.planning.selectors.parts import not_needed, stands_for
from studio.web.refusal import Refusal


@dataclass(kw_only=True, slots=True)
class Sorted:
    """The loads of a plan beside the firings that stand in the book."""

    kept: list[tuple[Load, Firing]] = field(default_factory=list)
    new: list[Load] = field(default_factory=list)
    as_it_is: list[Firing] = field(default_factory=list)
    called_off: list[Firing] = field(default_factory=list)


def sort_out(
    *,
    plan: Plan,
    problem: Problem,
    before: BackPlan | None,
    today_date: date,
    left_out: Collection[int] = (),
    call_off: Collection[int] = (),
) -> Sorted:
    """Match a plan's loads to waiting firings of the same kiln, schedule, day and length.

    A firing of the plan before that was let go of, and that matches no load, is called off. One
    that was kept stays: emptied when no load fills it, as it is when its load is ``left_out`` (by
    number). One that a person planned is left standing; a load may fill it, when the plan was
    worked out with it. ``call_off`` are the numbers of firings that the plan does not need and
    nobody wants to keep.

    Raises ``Refusal`` when a kiln day was taken since, or a firing the plan builds on is gone.
    """
    standing = list(
        Firing.objects.filter(state__in=TAKES_DAYS)
        .select_related("kiln", "schedule")
        .order_by("start_date", "id")
    )
    waiting = [firing for firing in standing if firing.state == Firing.State.PLANNED]
    ours = set(before.firings.values_list("firing_id", flat=True)) if before else set()
    found = Sorted()
    for number, load in enumerate(plan.loads):
        builds_on_one = any(
            same_slot(load, pinned) for pinned in problem.pinned if not pinned.filled
        )
        usable = [
            firing
            for firing in waiting
            if stands_for(firing, load, problem.today_date) and (builds_on_one or firing.pk in ours)
        ]
        if number in left_out:
            found.as_it_is += [firing for firing in usable[:1] if firing.pk in ours]
            waiting = [firing for firing in waiting if firing not in usable[:1]]
        elif usable:
            found.kept.append((load, usable[0]))
            waiting.remove(usable[0])
        elif builds_on_one:
            raise Refusal(
                rules.kept_firing_gone(
                    kiln=_kiln_name(problem, load.kiln_key), start_date=load.start_date
                )
            )
        else:
            found.new.append(load)
    idle = not_needed(problem=problem, plan=plan)
    for firing in waiting:
        if firing in idle and firing.pk in call_off:
            found.called_off.append(firing)
        elif firing in idle and firing.pk in ours:
            found.kept.append((_emptied(firing, today_date), firing))
        elif firing.pk in ours:
            found.called_off.append(firing)
    gone = {firing.pk for firing in found.called_off}
    _refuse_taken(
        found.new,
        # A firing that was overdue when the plan was worked out was weighed there (see ``fixed``).
        [f for f in standing if f.pk not in gone and not _overdue(f, problem.today_date)],
        problem,
        today_date,
    )
    return found


def taken_from(*, firings: Iterable[Firing], but: Iterable[int], today_date: date) -> list[str]:
    """Which of these firings cannot stand on their days again, in words."""
    out = set(but)
    others = [
        other
        for other in Firing.objects.filter(state__in=TAKES_DAYS).select_related("kiln", "schedule")
        if other.pk not in out
    ]
    found = []
    for firing in firings:
        start, end = firing.start_date, span(firing=firing, today_date=firing.start_date)[1]
        for other in others:
            first, free = span(firing=other, today_date=today_date)
            if other.kiln_id == firing.kiln_id and start < free and first < end:
                found.append(f"{firing.kiln} now has {other} on those days")
                break
    return found


def _overdue(firing: Firing, on: date) -> bool:
    return firing.state == Firing.State.PLANNED and firing.start_date < on


def _refuse_taken(
    new: list[Load], standing: list[Firing], problem: Problem, today_date: date
) -> None:
    for load in new:
        for firing in standing:
            start, free = span(firing=firing, today_date=today_date)
            if (
                str(firing.kiln_id) == load.kiln_key
                and load.start_date < free
                and start < load.open_date
            ):
                raise Refusal(
                    rules.kiln_day_taken(
                        kiln=_kiln_name(problem, load.kiln_key),
                        start_date=load.start_date,
                        by=str(firing),
                    )
                )


def _emptied(firing: Firing, today_date: date) -> Load:
    """A kept firing that no load of the plan fills: its kiln stays taken, and it holds nothing."""
    return Load(
        kiln_key=str(firing.kiln_id),
        schedule_key=schedule_key(firing.schedule),
        start_date=max(firing.start_date, today_date),
        busy_days=firing.busy_days,
        contents=(),
    )


def _kiln_name(problem: Problem, key: str) -> str:
    return next((kiln.name for kiln in problem.kilns if kiln.key == key), key)
