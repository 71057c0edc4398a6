"""What was loaded is taken out again or undone, until it is too late."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from studio.firings import rules, selectors, services
from studio.wares.selectors import broken_sums
from studio.web.models import Change
from tests.firings.conftest import LONG_AGO, NOW, TODAY, World

Refused = Callable[..., str]


def test_take_out_frees_the_kiln(world: World) -> None:
    board, other = world.thrown(), world.thrown()
    firing = world.planned(world.big, world.bisque)
    world.load(firing, board)
    world.load(firing, other)
    services.take_out(firing=firing, board=board, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.state == "loaded"
    services.take_out(firing=firing, board=other, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.state == "planned"
    world.load(firing, board)
    assert selectors.firing_fill(firing).pieces == 10


def test_take_out_refusals(world: World, refused: Refused) -> None:
    board = world.thrown()
    firing = world.planned(world.big, world.bisque)
    assert refused(services.take_out, firing=firing, board=board, by=world.by, at=NOW) == (
        f"Board {board} is not in this load."
    )
    world.load(firing, board)
    world.lit(firing)
    assert refused(services.take_out, firing=firing, board=board, by=world.by, at=NOW) == (
        "Heron is lit: nothing goes in or out until it is opened."
    )


def test_undo_of_a_load(world: World) -> None:
    board = world.thrown(12)
    firing = world.planned(world.big, world.bisque)
    change = services.load(firing=firing, board=board, count=5, by=world.by, at=NOW)
    undoing = services.undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert undoing.undoes == change
    assert firing.state == "planned"
    assert board.pieces.count() == 12
    assert selectors.firing_fill(firing).pieces == 0
    assert broken_sums() == []


def test_undo_of_a_load_that_was_taken_out_since(world: World, refused: Refused) -> None:
    board, other = world.thrown(), world.thrown()
    firing = world.planned(world.big, world.bisque)
    change = services.load(firing=firing, board=board, by=world.by, at=NOW)
    world.load(firing, other)  # so that the kiln stays loaded
    services.take_out(firing=firing, board=board, by=world.by, at=NOW)
    assert refused(services.undo, change=change, by=world.by, at=NOW) == (
        "This can no longer be undone: some of it was taken out since."
    )
    assert selectors.firing_fill(firing).pieces == 10


def test_undo_of_taking_out(world: World) -> None:
    board = world.thrown()
    firing = world.planned(world.big, world.bisque)
    world.load(firing, board)
    change = services.take_out(firing=firing, board=board, by=world.by, at=NOW)
    services.undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert (firing.state, selectors.firing_fill(firing).pieces) == ("loaded", 10)


def test_undo_is_refused_when_it_is_too_late(world: World, refused: Refused) -> None:
    board = world.thrown()
    firing = world.planned(world.big, world.bisque)
    change = services.load(firing=firing, board=board, by=world.by, at=LONG_AGO)
    world.lit(firing)
    assert refused(services.undo, change=change, by=world.by, at=NOW) == (
        "This can no longer be undone: the firing of 24 Nov in Heron is firing now."
    )
    lit = Change.objects.filter(action="light").first()
    services.undo(change=lit, by=world.by, at=NOW)
    services.undo(change=change, by=world.by, at=NOW)
    assert refused(services.undo, change=change, by=world.by, at=NOW) == rules.UNDONE_ALREADY


def test_undo_of_taking_out_after_the_board_went_on(world: World, refused: Refused) -> None:
    board = world.thrown()
    firing = world.planned(world.big, world.bisque)
    world.load(firing, board)
    change = services.take_out(firing=firing, board=board, by=world.by, at=NOW)
    other = world.planned(world.small, world.bisque, start=TODAY + timedelta(days=1))
    world.load(other, board)
    assert refused(services.undo, change=change, by=world.by, at=NOW) == (
        "This can no longer be undone: the kiln or a board is in use now."
    )
    world.fired(other)
    sentence = refused(services.undo, change=change, by=world.by, at=NOW)
    assert sentence == f"This can no longer be undone: board {board} went on since."
