"""Throwing a board: pieces, their first moves, the label, and what is refused."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User

from studio.wares import rules, selectors, services
from studio.wares.models import Board, Move, Piece
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests import make

pytestmark = pytest.mark.django_db


def throw(by: User, **more: Any) -> Change:
    given: dict[str, Any] = {
        "form": make.form(),
        "clay_lot": make.clay_lot(),
        "count": 24,
        "made_date": make.AT.date(),
        "by": by,
        "at": make.AT,
    }
    return services.throw(**(given | more))


def test_it_works(potter: User) -> None:
    change = throw(potter, place="top rack")
    board = make.subject_board(change)
    assert (board.label, board.place, board.pieces.count()) == ("B1", "top rack", 24)
    assert change.said == "Threw 24 × Mug in Heron stoneware, lot 7: board B1"
    assert change.by == potter
    first = Move.objects.filter(piece__board=board)
    assert {(m.seq, m.kind, m.from_stage, m.to_stage) for m in first} == {(1, "made", "", "thrown")}
    assert first.count() == 24
    assert selectors.broken_sums() == []


def test_labels_count_on_and_fill_gaps(potter: User) -> None:
    labels = [make.subject_board(throw(potter)).label for _ in range(3)]
    assert labels == ["B1", "B2", "B3"]
    services.lose(
        board=Board.objects.get(label="B2"),
        count=24,
        parting="scrapped",
        cause="rack fell",
        by=potter,
        at=make.AT,
    )
    assert selectors.next_label() == "B2"
    again = make.subject_board(throw(potter))
    assert again == Board.objects.get(label="B2")
    assert again.pieces.count() == 24


def test_an_empty_board_taken_again_is_not_dry(potter: User) -> None:
    board = make.board("thrown", 2, label="B1")
    services.mark_dry(board=board, dry_date=make.MADE, sure=True, by=potter, at=make.AT)
    services.lose(board=board, count=2, parting="broken", cause="dropped", by=potter, at=make.AT)
    assert make.subject_board(throw(potter, board_label="B1")).dry_date is None


def test_a_label_used_again_tells_of_its_new_pieces_only(potter: User) -> None:
    board = make.board("thrown", 2, label="B1")
    services.lose(board=board, count=2, parting="broken", cause="dropped", by=potter, at=make.AT)
    again = throw(potter, board_label="B1")
    assert again.subject_id == board.id
    assert selectors.board_changes(board) == [again]


def test_a_label_in_use_is_refused(potter: User) -> None:
    make.board("thrown", 7, label="Rack 2")
    with pytest.raises(Refusal) as refused:
        throw(potter, board_label=" Rack 2 ")
    assert str(refused.value) == rules.can_use_label(label="Rack 2", holds=7)
    assert "already used by a board with 7 on it" in str(refused.value)
    assert Piece.objects.count() == 7


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"count": 0}, "1 or more"),
        ({"count": -3}, "1 or more"),
        ({"count": 501}, "500 at most"),
        ({"made_date": make.AT.date() + timedelta(days=1)}, "in the future"),
        ({"made_date": date(1026, 3, 2)}, "Check the year"),
        ({"board_label": "x" * 13}, "12 characters at most"),
    ],
)
def test_what_cannot_have_been_thrown(potter: User, more: dict[str, Any], words: str) -> None:
    with pytest.raises(Refusal, match=words):
        throw(potter, **more)
    assert not Piece.objects.exists()
    assert not Board.objects.exists()
    assert not Change.objects.exists()


def test_undo_takes_the_pieces_away(potter: User) -> None:
    change = throw(potter)
    undone = services.undo(change=change, by=potter, at=make.AT)
    assert undone.undoes == change
    assert undone.said == f"Undid: {change.said}"
    assert not Piece.objects.exists()
    assert selectors.next_label() == "B1"
    assert selectors.broken_sums() == []


def test_undo_twice_is_refused(potter: User) -> None:
    change = throw(potter)
    services.undo(change=change, by=potter, at=make.AT)
    with pytest.raises(Refusal, match="can no longer be undone: ada"):
        services.undo(change=change, by=potter, at=make.AT)


def test_undo_is_refused_once_the_pieces_went_on(potter: User) -> None:
    change = throw(potter)
    board = make.subject_board(change)
    firing = make.firing(make.bisque_schedule())
    make.pass_firing(board, to_stage="bisqued", firing=firing, by=potter, at=make.AT)
    with pytest.raises(Refusal, match=r"can no longer be undone: ada.*Opened Wren"):
        services.undo(change=change, by=potter, at=make.AT)
    assert Piece.objects.count() == 24


def test_undo_is_refused_while_the_pieces_stand_in_a_kiln(potter: User) -> None:
    change = throw(potter)
    make.in_load(make.subject_board(change), make.firing(make.bisque_schedule(), state="loaded"))
    with pytest.raises(Refusal, match="its pieces stand in Wren now"):
        services.undo(change=change, by=potter, at=make.AT)
