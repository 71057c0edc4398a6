"""Plans worked out or laid by hand, and the kilns' book beside them."""

from __future__ import annotations

from datetime import date, timedelta

from studio.craft.answer import Plan
from studio.craft.problem import BISQUE, Load, Problem
from studio.firings.models import Firing
from studio.planning import services
from studio.planning.models import BackPlan
from studio.planning.selectors.question import ask
from studio.planning.services.seek import Answer
from studio.web.models import Change
from tests.planning.cast import NOW, TODAY, Cast

DAY = timedelta(days=1)
SECONDS = 60.0


def work_out(cast: Cast, **given: object) -> BackPlan:
    return services.work_out(
        today_date=TODAY,
        seconds=SECONDS,
        by=cast.by,
        at=NOW,
        **given,  # type: ignore[arg-type]
    )


def accept(cast: Cast, backplan: BackPlan) -> Change:
    return services.accept(backplan=backplan, by=cast.by, at=NOW + timedelta(minutes=5))


def undo(cast: Cast, change: Change) -> Change:
    return services.undo(change=change, by=cast.by, at=NOW + timedelta(minutes=9))


def book(backplan: BackPlan) -> list[tuple[str, str, date, int, tuple[tuple[str, int], ...]]]:
    """The firings of a plan as loads: kiln, schedule, start, days, contents."""
    rows = []
    for planned in backplan.firings.select_related("firing__schedule"):
        firing = planned.firing
        bisque = firing.schedule.kind == "bisque"
        contents = []
        for ware in firing.planned_wares.all():
            key = f"{ware.form_id}-{ware.clay_lot_id}"
            if ware.coats_id is not None:
                line = ware.form.line_set.get(coats=ware.coats, schedule=firing.schedule)
                key = str(line.pk)
            contents.append((key, ware.count))
        rows.append(
            (
                str(firing.kiln_id),
                BISQUE if bisque else str(firing.schedule_id),
                firing.start_date,
                firing.busy_days,
                tuple(sorted(contents)),
            )
        )
    return sorted(rows)


def loads(plan: Plan) -> list[tuple[str, str, date, int, tuple[tuple[str, int], ...]]]:
    return sorted(
        (
            load.kiln_key,
            load.schedule_key,
            load.start_date,
            load.busy_days,
            tuple(sorted(load.contents)),
        )
        for load in plan.loads
    )


def hand_plan(problem: Problem, *made: Load) -> Plan:
    """A plan of loads alone that keeps nothing; for what the book does with it."""
    from studio.craft.answer import Kept

    return Plan(
        jobs=(),
        loads=made,
        kept=tuple(
            Kept(need_key=need.key, line_key=line, asked=n, kept=0)
            for need in problem.needs
            for line, n in need.counts
        ),
        cost_pence=0,
        weighted_short=0,
        short_bound=0,
        cost_bound_pence=0,
        proven=False,
    )


def propose(cast: Cast, *made: Load, moment: int = 0, freed: tuple[Firing, ...] = ()) -> BackPlan:
    """Store a plan of these loads for the question as it stands."""
    question = ask(today_date=TODAY, freed=[firing.pk for firing in freed])
    return services.propose(
        answer=Answer(question=question, plan=hand_plan(question.problem, *made)),
        by=cast.by,
        at=NOW + timedelta(seconds=moment),
    )


def bisque(cast: Cast, days: int, count: int = 5, *, kiln: object = None) -> Load:
    return Load(
        kiln_key=str((kiln or cast.wide).pk),  # type: ignore[attr-defined]
        schedule_key=BISQUE,
        start_date=TODAY + days * DAY,
        busy_days=2,
        contents=((f"{cast.mug.pk}-{cast.clay.pk}", count),),
    )


def gloss(cast: Cast, days: int, count: int = 5) -> Load:
    return Load(
        kiln_key=str(cast.little.pk),
        schedule_key=str(cast.gloss.pk),
        start_date=TODAY + days * DAY,
        busy_days=2,
        contents=((str(cast.mugs.pk), count),),
    )
