"""Two people want the same piece: the second waits for the first, then reads what it is now.

The first acts and keeps its transaction open until the second stands at a lock (PostgreSQL) or at
the one pen of the database (SQLite), so that the narrow moment between reading and writing is met
each time.
"""

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection, transaction

from studio.wares import selectors, services
from studio.wares.models import Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.services import record
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)
WAITING = """
    SELECT count(*) FROM pg_locks
    WHERE NOT granted AND pg_backend_pid() = ANY (pg_blocking_pids(pid))
"""


def second_meets_first(first: Callable[[], Any], second: Callable[[], Any]) -> Any:
    """Run the second while the first is not committed; answer what the second answered."""
    acted, done = threading.Event(), threading.Event()
    answers: list[Any] = []

    def go() -> None:
        acted.wait(timeout=30)
        try:
            answers.append(second())
        except Exception as fault:
            answers.append(fault)
        finally:
            done.set()
            connection.close()

    thread = threading.Thread(target=go)
    thread.start()
    try:
        with transaction.atomic():
            first()
            acted.set()
            _until_it_waits(done)
    finally:
        acted.set()
        thread.join(timeout=60)
    return answers[0]


def _until_it_waits(done: threading.Event) -> None:
    if connection.vendor != "postgresql":
        done.wait(timeout=0.2)
        return
    for _ in range(500):
        with connection.cursor() as cursor:
            cursor.execute(WAITING)
            row = cursor.fetchone()
        if done.wait(timeout=0.02) or (row and row[0]):
            return


@pytest.fixture
def two() -> tuple[User, User]:
    return make.user("ada"), make.user("bo")


class Both:
    """A graded board of three, and what can be done with its first piece."""

    def __init__(self, ada: User, bo: User) -> None:
        self.ada, self.bo = ada, bo
        self.board = make.board("graded", 3, label="B1")
        self.other = make.board("graded", 3, label="B2")
        self.graded = Change.objects.filter(action="grade").order_by("id")[0]
        self.piece = self.board.pieces.order_by("id")[0]

    def do(self, what: str, by: User) -> Any:
        who: dict[str, Any] = {"by": by, "at": make.AT}
        one = self.board.pieces.model.objects.select_related("form", "board").get(id=self.piece.id)
        match what:
            case "promise":
                return services.reserve(piece=one, kind="held", note=by.username, **who)
            case "part":
                return services.part(piece=one, parting="kept", **who)
            case "list":
                with transaction.atomic():
                    change = record(room="sales", action="list", said="Listed", by=by, undo={})
                    services.list_pieces(pieces=[one], change=change)
                    return change
            case "split":
                return services.split(board=self.board, count=2, **who)
            case "merge":
                return services.merge(board=self.board, into=self.other, **who)
            case "ungrade":
                return services.undo(change=self.graded, **who)
        raise ValueError(what)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("promise", "list"),
        ("list", "promise"),
        ("promise", "part"),
        ("part", "promise"),
        ("promise", "promise"),
        ("promise", "ungrade"),
        ("ungrade", "promise"),
        ("split", "ungrade"),
    ],
)
def test_the_second_is_refused(two: tuple[User, User], first: str, second: str) -> None:
    both = Both(*two)
    answer = second_meets_first(lambda: both.do(first, two[0]), lambda: both.do(second, two[1]))
    assert isinstance(answer, Refusal), answer
    piece = Piece.objects.get(id=both.piece.id)
    promised = Reservation.objects.filter(piece=piece).exists()
    assert promised == (first == "promise")
    assert (piece.stage, piece.parting) == {
        "list": ("listed", ""),
        "part": ("graded", "kept"),
        "ungrade": ("fired", ""),
    }.get(first, ("graded", ""))
    assert selectors.broken_sums() == []


@pytest.mark.parametrize("first", ["list", "part", "promise"])
def test_a_release_is_not_undone_on_a_piece_that_is_taken(
    two: tuple[User, User], first: str
) -> None:
    both = Both(*two)
    both.do("promise", two[1])
    released = services.release(piece=both.piece, by=two[1], at=make.AT)
    answer = second_meets_first(
        lambda: both.do(first, two[0]),
        lambda: services.undo(change=released, by=two[1], at=make.AT),
    )
    assert isinstance(answer, Refusal), answer
    notes = list(Reservation.objects.values_list("note", flat=True))
    assert notes == (["ada"] if first == "promise" else [])


@pytest.mark.parametrize("second", ["split", "merge", "part", "list"])
@pytest.mark.parametrize("first", ["split", "merge", "part", "list"])
def test_a_piece_that_left_stands_on_no_board(
    two: tuple[User, User], first: str, second: str
) -> None:
    """Both may act where one can follow the other; a loser is told, and nothing is half done."""
    both = Both(*two)
    answer = second_meets_first(lambda: both.do(first, two[0]), lambda: both.do(second, two[1]))
    assert isinstance(answer, Change | Refusal), answer
    acted = {first, second} if isinstance(answer, Change) else {first}
    piece = Piece.objects.get(id=both.piece.id)
    assert (piece.board is None) == bool(acted & {"part", "list"})
    assert (piece.parting, piece.stage) == (
        "kept" if "part" in acted else "",
        "listed" if "list" in acted else "graded",
    )
    left = 1 if piece.board is None else 0
    assert Piece.objects.filter(board__isnull=False).count() == 3 + 3 - left
    assert selectors.broken_sums() == []
