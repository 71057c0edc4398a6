"""Of two people at the same moment, does one act and the other read what happened?

Real threads with their own connections, on whichever database the tests run on.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.contrib.auth.models import User
from django.db import connection

from studio.firings import services
from studio.firings.models import Firing, Kiln, Place
from studio.wares import services as wares
from studio.wares.models import Move, Piece
from studio.wares.selectors import board_group, broken_sums
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.firings.conftest import NOW, TODAY, World, make_world

pytestmark = pytest.mark.django_db(transaction=True)

PHONES = 4
Step = Callable[[int], object]


@pytest.fixture
def shared(transactional_db: None) -> World:
    """A studio that other threads can see."""
    return make_world(User.objects.create_user("ada", password="wedge the clay first"))


def at_once(step: Step, *, phones: int = PHONES) -> list[str]:
    """Run a step on many phones at the same moment; the sentences of those that were refused."""
    gate = Barrier(phones)

    def one(number: int) -> str:
        try:
            gate.wait(timeout=20)
            step(number)
        except Refusal as refusal:
            return str(refusal)
        finally:
            connection.close()
        return ""

    with ThreadPoolExecutor(phones) as pool:
        return list(pool.map(one, range(phones)))


def test_one_phone_opens_the_kiln(shared: World) -> None:
    board = shared.thrown(12)
    firing = shared.planned(shared.big, shared.bisque)
    shared.load(firing, board)
    shared.lit(firing)
    said = at_once(
        lambda n: services.open_kiln(
            firing=firing, opened_at=NOW, lost={board.pk: (1, "knock")}, by=shared.by, at=NOW
        )
    )
    assert said.count("") == 1
    assert {one for one in said if one} == {
        "This firing was opened already (ada at 10:00 on 25 Nov)."
    }
    assert Change.objects.filter(action="open_kiln").count() == 1
    assert Move.objects.filter(kind="step").count() == 11
    assert Piece.objects.filter(parting="broken").count() == 1
    assert broken_sums() == []


def test_a_board_goes_into_one_of_two_kilns(shared: World) -> None:
    board = shared.thrown(12)
    firings = [shared.planned(kiln, shared.bisque) for kiln in (shared.big, shared.small)]
    said = at_once(
        lambda n: services.load(firing=firings[n % 2], board=board, by=shared.by, at=NOW)
    )
    assert said.count("") == 1
    assert all(
        not one or "is in another load" in one or "is in this load already" in one for one in said
    )
    assert Place.objects.filter(outcome="").count() == 12


def test_two_halves_of_a_board(shared: World) -> None:
    """Each phone saw 12 and takes 7: the second is told that the board has changed."""
    board = shared.thrown(12)
    firing = shared.planned(shared.big, shared.bisque)
    seen = board_group(board).seen
    said = at_once(
        lambda n: services.load(
            firing=firing, board=board, count=7, seen=seen, by=shared.by, at=NOW
        )
    )
    assert said.count("") == 1
    assert all(not one or f"Board {board} is not as you saw it" in one for one in said)
    assert Place.objects.filter(outcome="").count() == 7
    assert broken_sums() == []


def test_loading_and_losing_at_the_same_moment(shared: World) -> None:
    """Either the board is loaded and cannot be touched, or it broke and less is loaded."""
    board = shared.thrown(12)
    firing = shared.planned(shared.big, shared.bisque)

    def step(number: int) -> object:
        if number % 2:
            return wares.lose(
                board=board, count=12, parting="broken", cause="shelf fell", by=shared.by, at=NOW
            )
        return services.load(firing=firing, board=board, by=shared.by, at=NOW)

    said = at_once(step, phones=2)
    assert said.count("") == 1
    standing = Place.objects.filter(outcome="")
    assert standing.count() in (0, 12)
    assert not standing.exclude(piece__parting="").exists()
    assert broken_sums() == []


def test_one_kiln_is_planned_once(shared: World) -> None:
    said = at_once(
        lambda n: services.plan_firing(
            kiln=shared.big, schedule=shared.six, start_date=TODAY, by=shared.by, at=NOW
        )
    )
    assert said.count("") == 1
    assert Firing.objects.count() == 1


def test_one_kiln_does_one_firing(shared: World) -> None:
    boards = [shared.thrown(3) for _ in range(PHONES)]
    firings = [shared.planned(shared.big, shared.bisque) for _ in range(PHONES)]
    said = at_once(
        lambda n: services.load(firing=firings[n], board=boards[n], by=shared.by, at=NOW)
    )
    assert said.count("") == 1
    assert all(not one or one.startswith("Heron is busy:") for one in said)
    assert Firing.objects.filter(state="loaded").count() == 1


def test_one_phone_lights_and_one_takes_out(shared: World) -> None:
    board = shared.thrown(12)
    firing = shared.planned(shared.big, shared.bisque)
    shared.load(firing, board)

    def step(number: int) -> object:
        if number % 2:
            return services.take_out(firing=firing, board=board, by=shared.by, at=NOW)
        return services.light(firing=firing, lit_at=NOW, by=shared.by, at=NOW)

    said = at_once(step, phones=2)
    assert said.count("") == 1
    firing.refresh_from_db()
    standing = Place.objects.filter(outcome="").count()
    assert (firing.state, standing) in {("firing", 12), ("planned", 0)}


def test_one_of_two_kilns_is_lit_on_a_circuit_for_one(shared: World) -> None:
    Kiln.objects.filter(pk=shared.small.pk).update(circuit=shared.big.circuit)
    firings = [shared.planned(kiln, shared.bisque) for kiln in (shared.big, shared.small)]
    for firing in firings:
        shared.load(firing, shared.thrown(3))
    said = at_once(
        lambda n: services.light(firing=firings[n], lit_at=NOW, by=shared.by, at=NOW), phones=2
    )
    assert said.count("") == 1
    assert next(one for one in said if one).startswith(
        "The circuit shed carries one kiln heating at once, and "
    )
    assert Firing.objects.filter(state="firing").count() == 1


def test_one_undo_of_an_opening(shared: World) -> None:
    board = shared.thrown(12)
    firing = shared.planned(shared.big, shared.bisque)
    shared.load(firing, board)
    shared.fired(firing)
    change = Change.objects.get(action="open_kiln")
    said = at_once(lambda n: services.undo(change=change, by=shared.by, at=NOW))
    assert said.count("") == 1
    assert Move.objects.filter(kind="undo").count() == 12
    assert broken_sums() == []
