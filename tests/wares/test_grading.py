"""Is a board graded into firsts, seconds, refires and scrap, and what does its undoing refuse?"""

from typing import Any

import pytest
from django.contrib.auth.models import User

from studio.wares import rules, selectors, services
from studio.wares.models import Board, Piece
from studio.web.refusal import Refusal
from studio.web.services import record
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def who(potter: User) -> dict[str, Any]:
    return {"by": potter, "at": make.AT}


# --- grade ------------------------------------------------------------------------------------


def test_a_board_is_graded_into_four(who: dict[str, Any]) -> None:
    board = make.board("fired", 12, label="B3")
    change = services.grade(
        board=board,
        firsts=6,
        seconds=2,
        refires=2,
        scraps=1,
        faults={"second": "pinhole", "refire": "crawl", "scrap": "dunt"},
        **who,
    )
    assert change.said == "Graded Mug of board B3: 6 firsts, 2 seconds, 2 to refire, 1 scrapped"
    good = Board.objects.get(id=(change.undo or {})["onto"])
    assert good != board  # one is not graded yet and keeps the board: 12 - 6 - 2 - 2 - 1
    assert selectors.board_group(board).holds == "it holds 1 at fired now"
    grades = good.pieces.order_by("number").values_list("number", "grade")
    assert list(grades) == [(n, "first") for n in range(1, 7)] + [(7, "second"), (8, "second")]
    again = Piece.objects.at_stage("glazed")
    assert {(p.refires, p.number, p.grade) for p in again} == {(1, None, "")}
    assert len({p.board_id for p in again}) == 1
    scrap = Piece.objects.get(parting="scrapped")
    assert (scrap.parting_cause, scrap.faults.get().kind) == ("dunt", "dunt")
    assert scrap.faults.get().firing == scrap.glaze_firing
    assert selectors.broken_sums() == []
    services.undo(change=change, **who)
    assert selectors.board_group(board).holds == "it holds 12 at fired now"
    assert not Piece.objects.filter(number__isnull=False).exists()
    assert selectors.broken_sums() == []


def test_numbers_go_on(who: dict[str, Any]) -> None:
    make.board("graded", 3)
    assert [p.number for p in make.pieces("graded", 2)] == [4, 5]


def test_a_refire_goes_through_the_kiln_again(who: dict[str, Any]) -> None:
    board = make.board("fired", 2)
    services.grade(board=board, firsts=0, seconds=0, refires=2, **who)
    assert selectors.board_group(board).holds == "it holds 2 at glazed now"
    firing = make.firing(make.schedule())
    make.pass_firing(board, to_stage="fired", firing=firing, **who)
    services.grade(board=board, firsts=2, seconds=0, **who)
    kinds = list(board.pieces.all()[0].moves.values_list("kind", flat=True))
    assert kinds == ["made", "step", "step", "step", "refire", "step", "step"]
    assert board.pieces.all()[0].glaze_firing == firing


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"firsts": 5, "seconds": 2}, r"5 \+ 2 is 7, but 6 stand here\."),
        ({"firsts": 0, "seconds": 0}, "1 or more"),
        ({"firsts": 7, "seconds": -1}, "below 0"),
        ({"firsts": 1, "seconds": 1, "faults": {"second": "gremlin"}}, "no fault known"),
    ],
)
def test_grading_that_does_not_sum(who: dict[str, Any], more: dict[str, Any], words: str) -> None:
    board = make.board("fired", 6)
    with pytest.raises(Refusal, match=words):
        services.grade(board=board, **more, **who)
    assert board.pieces.at_stage("fired").count() == 6


def test_a_form_that_may_not_be_refired(who: dict[str, Any]) -> None:
    platter = make.form("Platter", may_refire=False)
    board = make.board("fired", 2, form=platter)
    with pytest.raises(Refusal) as refused:
        services.grade(board=board, firsts=1, seconds=0, refires=1, **who)
    assert str(refused.value) == rules.can_refire(form="Platter", may_refire=False)


@pytest.mark.parametrize("stage", ["thrown", "bisqued", "glazed", "graded"])
def test_only_fired_ware_is_graded(who: dict[str, Any], stage: str) -> None:
    with pytest.raises(Refusal, match=f"From {stage} the next|is graded already"):
        services.grade(board=make.board(stage, 2), firsts=2, seconds=0, **who)


def test_undo_of_a_grade_is_refused_once_a_piece_is_listed_or_promised(who: dict[str, Any]) -> None:
    board = make.board("fired", 2)
    change = services.grade(board=board, firsts=2, seconds=0, **who)
    piece = board.pieces.all()[0]
    services.reserve(piece=piece, kind="spare", **who)
    with pytest.raises(Refusal, match=r"No\. 1 is promised \(spare\) now"):
        services.undo(change=change, **who)
    services.release(piece=piece, **who)
    listing = record(room="sales", action="list", said="Listed No. 1", by=who["by"])
    services.list_pieces(pieces=[piece], change=listing)
    with pytest.raises(Refusal, match=r"ada, .*: Listed No\. 1\."):
        services.undo(change=change, **who)


def test_undo_finds_the_board_taken(who: dict[str, Any]) -> None:
    board = make.board("graded", 2, label="B1")
    change = services.lose(board=board, count=2, parting="broken", cause="dropped", **who)
    make.board("thrown", 5, label="B1")
    services.undo(change=change, **who)
    assert selectors.board_group(board).holds == "it holds 5 at thrown now"
    back = Piece.objects.at_stage("graded")
    assert {p.board.label for p in back if p.board} == {"B2"}
    assert selectors.broken_sums() == []
