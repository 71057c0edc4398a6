"""Is a plan put in force whole or in part, and never over what was taken since?"""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.db import connection

from studio.firings.models import Firing
from studio.planning import rules, services
from studio.planning.models import BackPlan, PlannedFiring, Task
from studio.planning.selectors import in_force, lost_without, not_needed, stored
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.planning.cast import NOW, TODAY, Cast, at, make_cast
from tests.planning.proposals import accept, bisque, book, gloss, propose, undo, work_out

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY
SECONDS = 60.0
"""More than these small plans take on a slow computer: they end by proof, not by the clock."""


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
