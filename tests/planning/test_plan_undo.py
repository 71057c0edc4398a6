"""Does undoing a plan bring back what was before it, and when is that refused?"""

from __future__ import annotations

from datetime import timedelta

import pytest

import studio.firings.services as firings
from studio.craft.plan_record import problem_from_json
from studio.firings.models import Firing, Place, PlannedWare
from studio.planning import services
from studio.planning.models import PlannedFiring, Task
from studio.planning.selectors import in_force, proposed
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.planning.cast import NOW, TODAY, Cast
from tests.planning.proposals import accept, bisque, book, gloss, propose, undo

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY


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


def test_undo_beside_a_newer_proposal_puts_the_plan_aside(wanted: Cast) -> None:
    change = accept(wanted, backplan := propose(wanted, bisque(wanted, 3)))
    newer = propose(wanted, bisque(wanted, 4))
    undo(wanted, change)
    backplan.refresh_from_db()
    assert backplan.state == "put_aside"  # one proposal at a time, and that is the newer one
    assert proposed() == newer


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
