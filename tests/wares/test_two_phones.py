"""Two phones at the same moment: one wins, the other is told, and nothing is done by half.

Both really run at once, each in a thread with a connection of its own, on whichever database the
tests use. First a control shows that the start line works: both threads are let go together.
"""

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse

from studio.wares import selectors, services
from studio.wares.models import Board, Move, Piece
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests import make
from tests.conftest import MODEL_BACKEND

pytestmark = pytest.mark.django_db(transaction=True)
Act = Callable[[User], Any]


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """Run all at the same moment; answer what each answered, or the Refusal it raised."""
    line = threading.Barrier(len(acts))
    answers: list[Any] = [None] * len(acts)

    def go(n: int, act: Callable[[], Any]) -> None:
        try:
            line.wait(timeout=30)
            answers[n] = act()
        except Exception as fault:
            answers[n] = fault
        finally:
            connection.close()

    threads = [threading.Thread(target=go, args=(n, act)) for n, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return answers


def one_wins(answers: list[Any]) -> str:
    """Assert that one acted and the other was refused, and answer what the loser was told."""
    told = [str(answer) for answer in answers if isinstance(answer, Refusal)]
    won = [answer for answer in answers if isinstance(answer, Change)]
    assert (len(won), len(told)) == (1, 1), answers
    return told[0]


@pytest.fixture
def two() -> tuple[User, User]:
    return make.user("ada"), make.user("bo")


@pytest.mark.parametrize("whole", [True, False])
def test_both_glaze_the_same_board(two: tuple[User, User], whole: bool) -> None:
    board = make.board("bisqued", 12, label="B1")
    coats, schedule = make.coats(), make.schedule()
    seen = selectors.board_group(board).seen
    count = 12 if whole else 5

    def glaze(by: User) -> Change:
        return services.glaze(
            board=board, coats=coats, schedule=schedule, count=count, seen=seen, by=by, at=make.AT
        )

    told = one_wins(at_once(lambda: glaze(two[0]), lambda: glaze(two[1])))
    assert told.startswith("Board B1 is not as you saw it: it holds ")
    assert told.endswith("Nothing was changed.")
    winner = Change.objects.get(action="glaze").by
    assert f"{winner.username}, 20 Mar 10:04: Glazed {count} × Mug" in told
    assert Piece.objects.at_stage("glazed").count() == count
    assert Move.objects.filter(to_stage="glazed").count() == count
    assert selectors.broken_sums() == []


def test_one_loses_what_the_other_grades(two: tuple[User, User]) -> None:
    board = make.board("fired", 6)
    seen = selectors.board_group(board).seen
    who: dict[str, Any] = {"seen": seen, "at": make.AT}
    answers = at_once(
        lambda: services.grade(board=board, firsts=6, seconds=0, by=two[0], **who),
        lambda: services.lose(
            board=board, count=6, parting="broken", cause="dropped", by=two[1], **who
        ),
    )
    one_wins(answers)
    total = selectors.sums()
    assert {total.on_hand["graded"], total.partings["broken"]} == {0, 6}
    assert selectors.broken_sums() == []


def test_pieces_that_were_read_before_another_moved_them(two: tuple[User, User]) -> None:
    """No board is held here: the conditional update alone decides."""
    pieces = make.pieces("graded", 4)

    def part(by: User) -> Change:
        return services.part(piece=pieces[0], parting="kept", by=by, at=make.AT)

    told = one_wins(at_once(lambda: part(two[0]), lambda: part(two[1])))
    assert "No. 1 is kept already." in told or "Somebody else was quicker" in told
    assert Move.objects.filter(kind="parting").count() == 1
    assert selectors.broken_sums() == []


def test_stale_pieces_are_refused_though_no_board_is_held(two: tuple[User, User]) -> None:
    board = make.board("bisqued", 3)
    stale = list(board.pieces.all())
    services.glaze(
        board=board, coats=make.coats(), schedule=make.schedule(), count=3, by=two[0], at=make.AT
    )
    before = Change.objects.count()
    with pytest.raises(Refusal) as refused, transaction.atomic():
        services.part_pieces(
            pieces=stale,
            parting="scrapped",
            cause="x",
            change=Change.objects.filter(action="glaze").get(),
        )
    assert str(refused.value).startswith("Somebody else was quicker with these pieces. ada, ")
    assert Change.objects.count() == before
    assert Piece.objects.at_stage("glazed").count() == 3


def test_both_take_the_next_label(two: tuple[User, User]) -> None:
    form, clay_lot = make.form(), make.clay_lot()

    def throw(by: User) -> Change:
        return services.throw(
            form=form, clay_lot=clay_lot, count=3, made_date=make.AT.date(), by=by, at=make.AT
        )

    answers = at_once(lambda: throw(two[0]), lambda: throw(two[1]))
    assert all(isinstance(answer, Change) for answer in answers), answers
    assert set(Board.objects.values_list("label", flat=True)) == {"B1", "B2"}
    assert Piece.objects.count() == 3 + 3


def test_two_boards_are_numbered_at_once(two: tuple[User, User]) -> None:
    one, other = make.board("fired", 8), make.board("fired", 8)

    def grade(board: Board, by: User) -> Change:
        return services.grade(board=board, firsts=8, seconds=0, by=by, at=make.AT)

    answers = at_once(lambda: grade(one, two[0]), lambda: grade(other, two[1]))
    assert all(isinstance(answer, Change) for answer in answers), answers
    numbers = Piece.objects.order_by("number").values_list("number", flat=True)
    assert list(numbers) == list(range(1, 17))  # 8 + 8, each once


def test_two_boards_are_counted_in_at_once(two: tuple[User, User]) -> None:
    kind = {
        "form": make.form(),
        "clay_lot": make.clay_lot(),
        "coats": make.coats(),
        "schedule": make.schedule(),
    }

    def count_in(by: User) -> Change:
        return services.count_in(
            **kind, stage="graded", count=8, made_date=make.MADE, by=by, at=make.AT
        )

    answers = at_once(lambda: count_in(two[0]), lambda: count_in(two[1]))
    assert [type(answer) for answer in answers] == [Change, Change], answers
    numbers = Piece.objects.order_by("number").values_list("number", flat=True)
    assert list(numbers) == list(range(1, 17))  # 8 + 8, each once
    assert sorted(Board.objects.values_list("label", flat=True)) == ["B1", "B2"]
    assert selectors.broken_sums() == []


def test_two_merges_crosswise(two: tuple[User, User]) -> None:
    one, other = make.board("bisqued", 4, label="B1"), make.board("bisqued", 4, label="B2")
    answers = at_once(
        lambda: services.merge(board=one, into=other, by=two[0], at=make.AT),
        lambda: services.merge(board=other, into=one, by=two[1], at=make.AT),
    )
    assert sum(isinstance(answer, Change) for answer in answers) == 1, answers
    assert {one.pieces.count(), other.pieces.count()} == {0, 8}


def test_both_undo_the_same(two: tuple[User, User]) -> None:
    board = make.board("bisqued", 4)
    change = services.lose(
        board=board, count=2, parting="broken", cause="dropped", by=two[0], at=make.AT
    )
    answers = at_once(
        lambda: services.undo(change=change, by=two[0], at=make.AT),
        lambda: services.undo(change=change, by=two[1], at=make.AT),
    )
    assert "can no longer be undone" in one_wins(answers)
    assert board.pieces.count() == 4
    assert selectors.broken_sums() == []


def test_both_promise_the_same(two: tuple[User, User]) -> None:
    piece = make.piece("graded")

    def promise(by: User) -> Change:
        return services.reserve(piece=piece, kind="claim", note=by.username, by=by, at=make.AT)

    assert "promised already" in one_wins(at_once(lambda: promise(two[0]), lambda: promise(two[1])))


def test_the_same_form_arrives_twice_at_once(two: tuple[User, User]) -> None:
    board = make.board("bisqued", 12)
    url = reverse("wares:lose", args=[board.id])
    typed = {
        "form_key": "2b9d7a52-0d0a-4b43-9c86-4e3a2f9f2c11",
        "seen": selectors.board_group(board).seen,
        "count": 2,
        "parting": "broken",
        "fault": "knock",
    }
    clients = [Client(), Client()]
    for client in clients:
        client.force_login(two[0], backend=MODEL_BACKEND)
    answers = at_once(*(lambda client=client: client.post(url, typed) for client in clients))
    assert [answer.status_code for answer in answers] == [302, 302]
    assert len({answer.headers["Location"] for answer in answers}) == 1
    assert board.pieces.count() == 10  # 12 - 2, not 12 - 4
