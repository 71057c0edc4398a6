"""Is a plan worked out, put in force and taken out again as a whole, or not at all?"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.contrib.auth.models import User
from django.db import connection

import studio.firings.services as firings
from studio.craft import backplan as craft_backplan
from studio.craft.answer import Plan, Work
from studio.craft.plan_record import problem_from_json
from studio.craft.problem import BISQUE, BadProblem, Load, Problem
from studio.craft.referee import broken_promises
from studio.firings.models import Firing, Place, PlannedWare
from studio.planning import rules, services
from studio.planning.models import BackPlan, PlannedFiring, Task
from studio.planning.selectors import (
    drift,
    in_force,
    lost_without,
    not_needed,
    overtaken,
    proposed,
    stored,
)
from studio.planning.selectors.question import ALL_READY, NOTHING_PROMISED, ask
from studio.planning.services.seek import Answer, BrokenPlan
from studio.sales.models import Listing, SaleDay
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.planning.cast import NOW, TODAY, Cast, at, make_cast

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY
SECONDS = 60.0
"""More than these small plans take on a slow computer: they end by proof, not by the clock."""


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


@pytest.fixture
def wanted(cast: Cast) -> Cast:
    """The cast with a sale that wants 30 mugs and 10 bowls."""
    cast.sale("Winter sale", SALE, {cast.mugs: 30, cast.bowls: 10})
    return cast


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


# Putting in force.


def test_accepting_twice_is_refused(wanted: Cast) -> None:
    backplan = propose(wanted, bisque(wanted, 3))
    accept(wanted, backplan)
    with pytest.raises(Refusal, match="This plan is in force already"):
        accept(wanted, backplan)
    assert Firing.objects.filter(state="planned").count() == 1


def test_accepting_a_plan_that_was_put_aside_is_refused(wanted: Cast) -> None:
    old = propose(wanted, bisque(wanted, 3))
    propose(wanted, bisque(wanted, 4))
    with pytest.raises(Refusal, match="This plan was put aside"):
        accept(wanted, old)
    assert not Firing.objects.exists()


def test_accepting_a_plan_that_should_have_begun_is_refused(wanted: Cast) -> None:
    backplan = propose(wanted, bisque(wanted, 0))
    with pytest.raises(Refusal, match="begins with a firing on Wed 25 Nov 2026, which is past"):
        services.accept(backplan=backplan, by=wanted.by, at=at(TODAY + DAY))


@pytest.mark.parametrize(
    ("state", "days"), [("planned", 4), ("planned", 2), ("loaded", 0), ("firing", 0)]
)
def test_accepting_is_refused_when_a_kiln_day_was_taken_since(
    wanted: Cast, state: str, days: int
) -> None:
    backplan = propose(wanted, bisque(wanted, 3), bisque(wanted, 1, kiln=wanted.little))
    kiln = wanted.wide if state == "planned" else wanted.little
    wanted.firing(kiln, wanted.gloss, state=state, start_date=TODAY + days * DAY)
    with pytest.raises(Refusal, match=f"{kiln.name} is not free on .* Gloss in {kiln.name}"):
        accept(wanted, backplan)
    assert not PlannedFiring.objects.exists()
    backplan.refresh_from_db()
    assert backplan.state == "proposed"


def test_a_day_beside_another_firing_is_free(wanted: Cast) -> None:
    backplan = propose(wanted, bisque(wanted, 3))
    wanted.firing(wanted.wide, wanted.gloss, start_date=TODAY + DAY)  # days 1 and 2
    wanted.firing(wanted.wide, wanted.gloss, start_date=TODAY + 5 * DAY)
    accept(wanted, backplan)
    assert backplan.firings.count() == 1


def test_the_next_plan_keeps_moves_and_calls_off(wanted: Cast) -> None:
    first = propose(wanted, bisque(wanted, 3), bisque(wanted, 6))
    accept(wanted, first)
    keep, drop = (planned.firing for planned in first.firings.order_by("firing__start_date"))
    second = propose(wanted, bisque(wanted, 3, count=9), gloss(wanted, 8), freed=(drop,))
    change = accept(wanted, second)
    keep.refresh_from_db()
    drop.refresh_from_db()
    first.refresh_from_db()
    assert (keep.state, drop.state, first.state) == ("planned", "called_off", "put_aside")
    assert keep.planned_by.backplan == second
    assert [ware.count for ware in keep.planned_wares.all()] == [9]
    assert second.firings.count() == 2
    assert change.said == "Put a plan in force; its firings: 1 new, 1 kept, 1 called off."
    assert in_force() == second


def test_a_kept_firing_that_the_next_plan_does_not_need_stays_and_is_offered(
    wanted: Cast,
) -> None:
    first = propose(wanted, bisque(wanted, 3), bisque(wanted, 6))
    accept(wanted, first)
    _, idle = (planned.firing for planned in first.firings.order_by("firing__start_date"))
    before = book(first)
    second = propose(wanted, bisque(wanted, 3, count=9))
    problem, plan, _ = stored(second)
    assert not_needed(problem=problem, plan=plan) == [idle]
    change = accept(wanted, second)
    idle.refresh_from_db()
    assert (idle.state, idle.planned_by.backplan) == ("planned", second)
    assert not idle.planned_wares.exists()
    assert change.said == "Put a plan in force; its firings: 2 kept."
    undo(wanted, change)
    assert book(first) == before
    change = services.accept(
        backplan=second, left_out=services.LeftOut(call_off=(idle.pk,)), by=wanted.by, at=NOW
    )
    idle.refresh_from_db()
    assert idle.state == "called_off"
    assert change.said == "Put a plan in force; its firings: 1 kept, 1 called off."
    undo(wanted, change)
    idle.refresh_from_db()
    assert idle.state == "planned"


def take(cast: Cast, backplan: BackPlan, *, loads: tuple[int, ...] = (), jobs: int = 0) -> Change:
    """Put a plan in force without these loads and its first jobs."""
    out = services.LeftOut(loads=loads, jobs=tuple(range(jobs)))
    return services.accept(backplan=backplan, left_out=out, by=cast.by, at=NOW)


def test_a_part_of_a_plan_is_put_in_force_and_taken_out_again(wanted: Cast) -> None:
    backplan = work_out(wanted)
    _, plan, _ = stored(backplan)
    change = take(wanted, backplan, loads=(0,), jobs=2)
    backplan.refresh_from_db()
    assert backplan.left_out == {"loads": [0], "jobs": [0, 1]}
    assert len(book(backplan)) == len(plan.loads) - 1
    assert Task.objects.count() == len(plan.jobs) - 2
    undo(wanted, change)
    backplan.refresh_from_db()
    assert (backplan.state, backplan.left_out) == ("proposed", {})
    assert not Firing.objects.exists()
    accept(wanted, backplan)
    assert len(book(backplan)) == len(plan.loads)


def test_a_kept_firing_whose_load_is_left_out_stays_as_it_is(wanted: Cast) -> None:
    first = propose(wanted, bisque(wanted, 3, count=5))
    accept(wanted, first)
    second = propose(wanted, bisque(wanted, 3, count=9), gloss(wanted, 8))
    take(wanted, second, loads=(0,))
    (kept, new) = (row[4] for row in book(second))
    assert {kept[0][1], new[0][1]} == {5}  # 5 mugs as before, not 9, and the 5 of the new firing
    assert Firing.objects.filter(state="planned").count() == 2


@pytest.mark.parametrize(
    ("loads", "sentence"),
    [((0, 1), "Nothing is ticked"), ((7,), "That is no part of this plan")],
)
def test_a_part_that_is_none_is_refused(
    wanted: Cast, loads: tuple[int, ...], sentence: str
) -> None:
    backplan = propose(wanted, bisque(wanted, 3), gloss(wanted, 8))
    with pytest.raises(Refusal, match=sentence):
        take(wanted, backplan, loads=loads)
    assert not Firing.objects.exists()


def test_a_plan_whose_first_firing_is_past_may_be_taken_without_it(wanted: Cast) -> None:
    backplan = propose(wanted, bisque(wanted, 0), gloss(wanted, 8))
    out = services.LeftOut(loads=(0,))
    services.accept(backplan=backplan, left_out=out, by=wanted.by, at=at(TODAY + DAY))
    assert len(book(backplan)) == 1


def test_what_a_part_no_longer_keeps_is_told(wanted: Cast) -> None:
    backplan = work_out(wanted)
    problem, plan, _ = stored(backplan)
    assert lost_without(problem=problem, plan=plan, loads=(), jobs=()) == ()
    lost = lost_without(problem=problem, plan=plan, loads=range(len(plan.loads)), jobs=())
    assert any("are wanted" in sentence for sentence in lost)
    said = rules.lost_in_part(("One.", "Two.", "Three.", "Four.", "Five."))
    assert said == "Without what was left out: One. Two. Three. Four. And 1 more."


def test_a_firing_that_a_person_planned_stands_even_when_the_plan_leaves_it_empty(
    wanted: Cast,
) -> None:
    own = wanted.firing(wanted.wide, wanted.gloss, start_date=TODAY + 2 * DAY)
    accept(wanted, propose(wanted, bisque(wanted, 5)))
    own.refresh_from_db()
    assert own.state == "planned"
    assert not PlannedFiring.objects.filter(firing=own).exists()


def test_a_plan_fills_a_firing_that_a_person_planned(wanted: Cast) -> None:
    own = wanted.firing(wanted.wide, wanted.bisque, start_date=TODAY + 2 * DAY)
    backplan = propose(wanted, bisque(wanted, 2, count=7))
    accept(wanted, backplan)
    assert [planned.firing for planned in backplan.firings.all()] == [own]
    assert [ware.count for ware in own.planned_wares.all()] == [7]
    assert Firing.objects.count() == 1


def test_an_overdue_firing_that_is_filled_moves_to_today(wanted: Cast) -> None:
    own = wanted.firing(wanted.wide, wanted.bisque, start_date=TODAY - 2 * DAY)
    accept(wanted, propose(wanted, bisque(wanted, 0)))
    own.refresh_from_db()
    assert own.start_date == TODAY


def test_accepting_is_refused_when_a_firing_it_builds_on_is_gone(wanted: Cast) -> None:
    own = wanted.firing(wanted.wide, wanted.bisque, start_date=TODAY + 2 * DAY)
    backplan = propose(wanted, bisque(wanted, 2))
    Firing.objects.filter(pk=own.pk).update(state="called_off")
    with pytest.raises(Refusal, match="on which this plan builds, is no longer waiting"):
        accept(wanted, backplan)


def test_a_changed_bisque_run_is_refused(wanted: Cast) -> None:
    backplan = propose(wanted, bisque(wanted, 3))
    wanted.wide.runs.update(busy_days=3)
    with pytest.raises(Refusal, match="The bisque run of Wide was changed"):
        accept(wanted, backplan)
    assert not Firing.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_of_two_phones_at_once_one_accepts() -> None:
    people = [User.objects.create_user(name) for name in ("ada", "bo")]
    cast = make_cast(people[0])
    cast.sale("Winter sale", SALE, {cast.mugs: 30})
    backplan = propose(cast, bisque(cast, 3), gloss(cast, 6))
    gate = threading.Barrier(2)
    heard: list[str] = []

    def press(by: User) -> None:
        mine = BackPlan.objects.get(pk=backplan.pk)
        gate.wait()
        try:
            services.accept(backplan=mine, by=by, at=NOW)
            heard.append("done")
        except Refusal as refusal:
            heard.append(str(refusal))
        finally:
            connection.close()

    phones = [threading.Thread(target=press, args=(by,)) for by in people]
    for phone in phones:
        phone.start()
    for phone in phones:
        phone.join()
    assert sorted(heard) == ["This plan is in force already.", "done"]
    assert Firing.objects.count() == 2
    assert Change.objects.filter(action="accept").count() == 1


# What moved since is said, and hinders nothing.


def test_drift_is_silent_when_nothing_changed(wanted: Cast) -> None:
    backplan = propose(wanted)
    assert drift(backplan=backplan, today_date=TODAY) == ""


def test_drift_names_what_changed(wanted: Cast) -> None:
    backplan = propose(wanted)
    wanted.board("T1", 3)
    assert drift(backplan=backplan, today_date=TODAY) == (
        "Since this plan was worked out, pots have moved. Work it out again to be sure."
    )
    wanted.sale("Another", SALE - DAY, {wanted.mugs: 3})
    assert drift(backplan=backplan, today_date=TODAY + DAY) == (
        "Since this plan was worked out, today is no longer Wed 25 Nov 2026, pots have moved and "
        "what is promised has changed. Work it out again to be sure."
    )
    accept(wanted, backplan)


def test_a_plan_in_force_is_not_overtaken_by_pots_and_days(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    wanted.board("T1", 3)
    assert overtaken(backplan=backplan, today_date=TODAY + DAY, now=NOW + DAY) == ""


def test_a_plan_in_force_is_overtaken_by_promises_and_hands(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    wanted.sale("Another", SALE - DAY, {wanted.mugs: 3})
    assert overtaken(backplan=backplan, today_date=TODAY) == (
        "Since this plan was put in force, more is promised than it reckons with. "
        "Work it out again."
    )
    services.take_day_off(day=TODAY + DAY, by=wanted.by, at=NOW)
    assert overtaken(backplan=backplan, today_date=TODAY) == (
        "Since this plan was put in force, more is promised than it reckons with and the hands "
        "or days off have changed. Work it out again."
    )


def test_a_plan_in_force_is_not_overtaken_once_nothing_is_left_to_plan(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    after = SALE + DAY
    assert overtaken(backplan=backplan, today_date=after, now=at(after)) == ""


def test_a_plan_in_force_is_not_overtaken_once_all_is_ready(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    sale = SaleDay.objects.get()
    for form, count in ((wanted.mug, 30), (wanted.bowl, 10)):
        for piece in wanted.board(f"L{form.pk}", count, stage="listed", form=form):
            Listing.objects.create(sale_day=sale, piece=piece, price_pence=3200, listed_at=NOW)
    with pytest.raises(BadProblem) as caught:
        ask(today_date=TODAY)
    assert caught.value.causes == (ALL_READY,)
    assert overtaken(backplan=backplan, today_date=TODAY) == ""


def test_what_moved_is_asked_without_the_whole_question(
    wanted: Cast, django_assert_max_num_queries: Callable[[int], AbstractContextManager[object]]
) -> None:
    for label in "ABCDEFGH":
        wanted.board(label, 3)
    backplan = propose(wanted)
    with django_assert_max_num_queries(16):
        assert drift(backplan=backplan, today_date=TODAY) == ""
    with django_assert_max_num_queries(10):
        assert overtaken(backplan=backplan, today_date=TODAY) == ""


def test_a_plan_in_force_says_when_no_plan_could_be_worked_out_now(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    wanted.wide.delete()
    wanted.little.delete()
    assert "No plan could be worked out" in overtaken(backplan=backplan, today_date=TODAY)


def test_drift_says_when_no_plan_could_be_worked_out_now(wanted: Cast) -> None:
    backplan = propose(wanted)
    wanted.wide.delete()
    wanted.little.delete()
    assert "none could be worked out now" in drift(backplan=backplan, today_date=TODAY)


# Undoing.


def test_undo_brings_the_plan_before_back(wanted: Cast) -> None:
    first = propose(wanted, bisque(wanted, 3), bisque(wanted, 6))
    accept(wanted, first)
    before = book(first)
    own = wanted.firing(wanted.little, wanted.bisque, start_date=TODAY + 2 * DAY)
    PlannedWare.objects.create(firing=own, form=wanted.mug, clay_lot=wanted.clay, count=2)
    second = propose(
        wanted,
        bisque(wanted, 3, count=9),
        bisque(wanted, 2, count=3, kiln=wanted.little),
        gloss(wanted, 8),
    )
    change = accept(wanted, second)
    undoing = undo(wanted, change)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.state, second.state) == ("accepted", "proposed")
    assert book(first) == before
    assert book(second) == []
    assert [ware.count for ware in own.planned_wares.all()] == [2]
    assert not PlannedFiring.objects.filter(firing=own).exists()
    assert Firing.objects.filter(state="planned").count() == 3
    assert undoing.undoes == change
    assert Task.objects.filter(backplan=second).count() == 0


def test_undo_of_the_first_plan_leaves_none_in_force(wanted: Cast) -> None:
    backplan = propose(wanted, bisque(wanted, 3))
    undo(wanted, accept(wanted, backplan))
    assert in_force() is None
    assert proposed() == backplan
    assert not Firing.objects.exists()
    accept(wanted, backplan)
    assert Firing.objects.count() == 1


def test_undo_is_refused_after_a_firing_was_loaded(wanted: Cast) -> None:
    backplan = propose(wanted, bisque(wanted, 3), gloss(wanted, 6))
    change = accept(wanted, backplan)
    firing = backplan.firings.order_by("firing__start_date")[0].firing
    [piece] = wanted.board("T1", 1)
    place = Place.objects.create(firing=firing, piece=piece, board=piece.board)
    firing.state = "loaded"
    firing.save()
    with pytest.raises(Refusal, match="is loaded, so the plan that asked for it stays"):
        undo(wanted, change)
    place.outcome, firing.state = "taken_out", "planned"
    place.save()
    firing.save()
    with pytest.raises(Refusal, match="held pots already, so the plan"):
        undo(wanted, change)
    assert Firing.objects.filter(state="planned").count() == 2


def test_undo_keeps_what_a_person_wrote_on_a_firing_of_the_plan(wanted: Cast) -> None:
    backplan = propose(wanted, bisque(wanted, 3), gloss(wanted, 6))
    change = accept(wanted, backplan)
    firing = backplan.firings.order_by("firing__start_date")[0].firing
    on = firings.shift(firing=firing, start_date=TODAY + 9 * DAY, by=wanted.by, at=NOW)
    noted = firings.note(firing=firing, text="top shelf out", by=wanted.by, at=NOW)
    with pytest.raises(
        Refusal,
        match=r"04 Dec was changed since \(its day, its note\), so the plan",
    ):
        undo(wanted, change)
    assert Firing.objects.get(pk=firing.pk).note == "top shelf out"
    assert Firing.objects.filter(state="planned").count() == 2
    assert in_force() == backplan
    for later in (noted, on):
        firings.undo(change=later, by=wanted.by, at=NOW)
    undo(wanted, change)
    assert not Firing.objects.exists()


def test_undo_keeps_what_a_person_changed_at_a_firing_the_plan_only_filled(wanted: Cast) -> None:
    own = wanted.firing(wanted.wide, wanted.bisque, start_date=TODAY + 2 * DAY)
    change = accept(wanted, propose(wanted, bisque(wanted, 2)))
    ware = own.planned_wares.get()
    ware.count += 1
    ware.save()
    with pytest.raises(Refusal, match=r"was changed since \(what it is to hold\)"):
        undo(wanted, change)
    ware.count -= 1
    ware.save()
    undo(wanted, change)
    assert not own.planned_wares.exists()


def test_undo_is_refused_when_the_days_given_up_are_taken(wanted: Cast) -> None:
    accept(wanted, propose(wanted, bisque(wanted, 3)))
    change = accept(wanted, propose(wanted, gloss(wanted, 8)))
    wanted.firing(wanted.wide, wanted.gloss, start_date=TODAY + 4 * DAY)
    with pytest.raises(Refusal, match="The plan before it cannot come back: Wide now has"):
        undo(wanted, change)


def test_undo_is_refused_when_another_plan_is_in_force(wanted: Cast) -> None:
    change = accept(wanted, propose(wanted, bisque(wanted, 3)))
    accept(wanted, propose(wanted, bisque(wanted, 5)))
    with pytest.raises(Refusal, match="no longer the one in force"):
        undo(wanted, change)


def test_undo_twice_is_refused(wanted: Cast) -> None:
    change = accept(wanted, propose(wanted, bisque(wanted, 3)))
    undo(wanted, change)
    with pytest.raises(Refusal, match="This was undone already"):
        undo(wanted, change)


def test_working_out_cannot_be_undone(wanted: Cast) -> None:
    propose(wanted)
    with pytest.raises(Refusal, match="This cannot be undone"):
        undo(wanted, Change.objects.get(action="work_out"))


def test_putting_aside_and_back(wanted: Cast) -> None:
    backplan = propose(wanted, bisque(wanted, 3))
    change = services.put_aside(backplan=backplan, by=wanted.by, at=NOW)
    assert proposed() is None
    with pytest.raises(Refusal, match="put aside already"):
        services.put_aside(backplan=backplan, by=wanted.by, at=NOW)
    undo(wanted, change)
    assert proposed() == backplan
    accept(wanted, backplan)
    with pytest.raises(Refusal, match="This plan is in force"):
        services.put_aside(backplan=backplan, by=wanted.by, at=NOW)


def test_a_plan_aside_does_not_push_out_a_newer_one(wanted: Cast) -> None:
    change = services.put_aside(backplan=propose(wanted), by=wanted.by, at=NOW)
    propose(wanted)
    with pytest.raises(Refusal, match="There is a newer proposal"):
        undo(wanted, change)


def test_the_question_of_an_accepted_plan_is_kept(wanted: Cast) -> None:
    backplan = propose(wanted)
    kept = dict(backplan.problem)
    assert kept.pop("remarks") == []
    assert problem_from_json(kept).today_date == TODAY
