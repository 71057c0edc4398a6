"""Is a plan worked out, put in force and taken out again as a whole, or not at all?"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import pytest

from studio.craft import backplan as craft_backplan
from studio.craft.answer import Plan, Work
from studio.craft.problem import BadProblem, Problem
from studio.craft.referee import broken_promises
from studio.planning import services
from studio.planning.models import BackPlan, Task
from studio.planning.selectors import proposed, stored
from studio.planning.selectors.question import NOTHING_PROMISED
from studio.planning.services.seek import BrokenPlan
from studio.web.models import Change
from tests.planning.cast import NOW, TODAY, Cast
from tests.planning.proposals import accept, book, hand_plan, loads, propose, work_out

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY
SECONDS = 60.0
"""More than these small plans take on a slow computer: they end by proof, not by the clock."""


def test_the_whole_way_from_wants_to_the_kilns_book(wanted: Cast) -> None:
    wanted.board("T1", 12, made_date=TODAY - 20 * DAY)
    wanted.board("B1", 6, stage="bisqued", form=wanted.bowl)
    wanted.firing(
        wanted.little,
        wanted.gloss,
        state="firing",
        pieces=wanted.board("G1", 8, stage="glazed"),
    )
    backplan = work_out(wanted)
    problem, plan, _ = stored(backplan)
    assert backplan.state == "proposed"
    assert broken_promises(problem=problem, plan=plan) == ()
    assert plan.short == 0
    assert plan.proven
    assert plan.loads
    assert not BackPlan.objects.filter(state="accepted").exists()
    accept(wanted, backplan)
    backplan.refresh_from_db()
    assert backplan.state == "accepted"
    assert book(backplan) == loads(plan)
    asked = Counter(
        (job.work.value, job.date, job.key) for job in plan.jobs for _ in range(job.count)
    )
    told: Counter[tuple[str, date, str]] = Counter()
    for task in Task.objects.all():
        key = f"{task.form_id}-{task.clay_lot_id}"
        if task.work != Work.THROWING:
            key = str(task.form.line_set.get(coats=task.coats, schedule=task.schedule).pk)
        told[task.work, task.date, key] += task.count
    assert told == asked


def test_the_stored_plan_is_the_whole_question_and_answer(wanted: Cast) -> None:
    wanted.firing(wanted.wide, wanted.bisque, start_date=TODAY - DAY)
    backplan = work_out(wanted)
    problem, _, remarks = stored(backplan)
    assert problem.needs[0].name == "Winter sale"
    assert remarks[0].endswith("it is taken as today.")
    assert (backplan.today_date, backplan.last_date) == (TODAY, problem.last_date)


def test_a_newer_proposal_puts_the_older_aside(wanted: Cast) -> None:
    first, second = propose(wanted), propose(wanted)
    first.refresh_from_db()
    assert (first.state, proposed()) == ("put_aside", second)


def test_nothing_is_stored_when_nothing_is_promised(cast: Cast) -> None:
    cast.sale("Yesterday", TODAY - DAY, {cast.mugs: 3})
    with pytest.raises(BadProblem) as caught:
        work_out(cast)
    assert caught.value.causes == (NOTHING_PROMISED,)
    assert not BackPlan.objects.exists()
    assert not Change.objects.filter(room="planning").exists()


def test_an_answer_with_a_broken_promise_is_never_stored(
    wanted: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    def liar(*, problem: Problem, **_: object) -> Plan:
        honest = hand_plan(problem)
        return replace(
            honest,
            kept=tuple(replace(kept, kept=kept.asked) for kept in honest.kept),
        )

    monkeypatch.setattr(craft_backplan, "plan", liar)
    with pytest.raises(BrokenPlan, match="are wanted, 0 are expected"):
        work_out(wanted)
    assert not BackPlan.objects.exists()


@pytest.mark.parametrize("seconds", [0, -1, 601])
def test_a_senseless_time_is_refused(wanted: Cast, seconds: float) -> None:
    with pytest.raises(ValueError, match="a plan is sought for up to 600 s"):
        services.work_out(today_date=TODAY, seconds=seconds, by=wanted.by, at=NOW)
