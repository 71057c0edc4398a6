"""Boards: dry, split, put together, named and lost from; first as it works, then each refusal."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User

from studio.firings.models import Place
from studio.wares import rules, selectors, services
from studio.wares.models import Board, Fault, Piece
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.services import record
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def who(potter: User) -> dict[str, Any]:
    return {"by": potter, "at": make.AT}


# --- dry --------------------------------------------------------------------------------------


def test_a_board_is_marked_dry_and_not_again(who: dict[str, Any]) -> None:
    board = make.board("thrown", 6)
    change = services.mark_dry(board=board, dry_date=make.MADE + timedelta(days=7), **who)
    assert "called bone dry on 09 Mar" in change.said
    assert selectors.board_group(Board.objects.get(id=board.id)).shows_stage == "dry"
    services.undo(change=change, **who)
    assert Board.objects.get(id=board.id).dry_date is None


@pytest.mark.parametrize(
    ("days", "words"),
    [(-1, "thrown on 02 Mar 2026, so it cannot have been dry on 01 Mar"), (60, "in the future")],
)
def test_dry_on_a_day_that_cannot_be(who: dict[str, Any], days: int, words: str) -> None:
    board = make.board("thrown", 6)
    with pytest.raises(Refusal, match=words):
        services.mark_dry(board=board, dry_date=make.MADE + timedelta(days=days), **who)
    assert Board.objects.get(id=board.id).dry_date is None


def test_dry_long_before_its_time_is_asked(who: dict[str, Any]) -> None:
    board = make.board("thrown", 6)  # a mug takes 7 days: 3 are under half, 4 are not
    early = make.MADE + timedelta(days=3)
    with pytest.raises(Refusal, match=r"usually dries in 7 days.*not cold to the cheek"):
        services.mark_dry(board=board, dry_date=early, **who)
    assert Board.objects.get(id=board.id).dry_date is None
    services.mark_dry(board=board, dry_date=early, sure=True, **who)
    assert Board.objects.get(id=board.id).dry_date == early
    other = make.board("thrown", 6)
    services.mark_dry(board=other, dry_date=make.MADE + timedelta(days=4), **who)


def test_only_thrown_ware_dries(who: dict[str, Any]) -> None:
    board = make.board("bisqued", 6)
    with pytest.raises(Refusal, match="is bisqued: only a thrown board"):
        services.mark_dry(board=board, dry_date=make.MADE, sure=True, **who)


def test_a_dry_board_in_a_kiln_or_fired_stays_dry(who: dict[str, Any]) -> None:
    board = make.board("thrown", 6, label="B1")
    change = services.mark_dry(board=board, dry_date=make.MADE, sure=True, **who)
    make.in_load(board, make.firing(make.bisque_schedule(), state="loaded"))
    with pytest.raises(Refusal, match="board B1 stands in Wren now"):
        services.undo(change=change, **who)
    Place.objects.update(outcome="taken_out")
    firing = make.firing(make.bisque_schedule())
    make.pass_firing(board, to_stage="bisqued", firing=firing, **who)
    with pytest.raises(Refusal, match="board B1 is bisqued now"):
        services.undo(change=change, **who)


def test_what_comes_back_does_not_stand_in_a_kiln(who: dict[str, Any]) -> None:
    board = make.board("bisqued", 6, label="B1")
    change = services.lose(board=board, count=2, parting="broken", cause="dropped", **who)
    make.in_load(board, make.firing(make.bisque_schedule(), state="loaded"))
    services.undo(change=change, **who)
    assert {(group.board.label, group.count) for group in selectors.boards_now()} == {
        ("B1", 4),
        ("B2", 2),
    }


def test_two_boards_that_are_taken_come_back_as_two(who: dict[str, Any]) -> None:
    mugs = make.board("graded", 2, label="B1")
    bowls = make.board("graded", 2, label="B2", form=make.form("Bowl"))
    change = record(room="sales", action="list", said="Listed 4", by=who["by"], undo={})
    pieces = [*mugs.pieces.select_related("form"), *bowls.pieces.select_related("form")]
    services.list_pieces(pieces=pieces, change=change)
    make.board("thrown", 5, label="B1")
    make.board("thrown", 5, label="B2")
    undoing = record(room="sales", action="undo", said="Undid", by=who["by"])
    services.put_back(change=change, undoing=undoing)
    graded = [group for group in selectors.boards_now() if group.stage == "graded"]
    assert {(group.board.label, str(group.form)) for group in graded} == {
        ("B3", "Mug"),
        ("B4", "Bowl"),
    }
    assert selectors.broken_sums() == []


# --- split and merge --------------------------------------------------------------------------


def test_a_board_is_split_and_put_together_again(who: dict[str, Any]) -> None:
    board = make.board("bisqued", 24)
    change = services.split(board=board, count=10, new_label="S1", **who)
    other = Board.objects.get(label="S1")
    assert (board.pieces.count(), other.pieces.count()) == (24 - 10, 10)
    assert (change.undo or {})["new_board"] == other.id
    merged = services.merge(board=other, into=board, **who)
    assert (board.pieces.count(), other.pieces.count()) == (24, 0)
    services.undo(change=merged, **who)
    assert (board.pieces.count(), other.pieces.count()) == (14, 10)
    services.undo(change=change, **who)
    assert (board.pieces.count(), other.pieces.count()) == (24, 0)
    assert selectors.broken_sums() == []


@pytest.mark.parametrize(
    ("count", "words"), [(0, "1 or more"), (-1, "1 or more"), (25, "holds 24"), (24, "All 24")]
)
def test_a_split_that_does_not_sum(who: dict[str, Any], count: int, words: str) -> None:
    board = make.board("bisqued", 24)
    with pytest.raises(Refusal, match=words) as refused:
        services.split(board=board, count=count, **who)
    assert str(refused.value) == rules.can_split(label=board.label, count=count, holds=24)
    assert board.pieces.count() == 24


def test_a_dry_half_stays_dry(who: dict[str, Any]) -> None:
    board = make.board("thrown", 6)
    services.mark_dry(board=board, dry_date=make.MADE, sure=True, **who)
    change = services.split(board=board, count=2, **who)
    assert Board.objects.get(id=(change.undo or {})["new_board"]).dry_date == make.MADE


@pytest.mark.parametrize(
    ("one", "other", "words"),
    [
        ({"stage": "thrown"}, {"stage": "bisqued"}, r"stage \(thrown and bisqued\)"),
        ({}, {"form": "Bowl"}, r"form \(Mug and Bowl\)"),
        ({"stage": "glazed"}, {"stage": "glazed", "coats": "Ash"}, r"glaze \(Kelp.* and Ash\)"),
    ],
)
def test_boards_of_two_kinds_stay_apart(
    who: dict[str, Any], one: dict[str, Any], other: dict[str, Any], words: str
) -> None:
    if "form" in other:
        other["form"] = make.form(other["form"])
    if "coats" in other:
        other["coats"] = make.coats(other["coats"])
    first, second = make.board(**one), make.board(**other)
    with pytest.raises(Refusal, match=words):
        services.merge(board=first, into=second, **who)


def test_a_board_is_not_put_onto_itself(who: dict[str, Any]) -> None:
    board = make.board()
    with pytest.raises(Refusal, match="onto itself"):
        services.merge(board=board, into=board, **who)


# --- label and place --------------------------------------------------------------------------


def test_a_board_is_renamed_and_back(who: dict[str, Any]) -> None:
    board = make.board(label="B1")
    change = services.place(board=board, label="Rack 2", place="by the window", **who)
    assert change.said == "Board B1 is called Rack 2 now, by the window"
    services.undo(change=change, **who)
    assert (Board.objects.get(id=board.id).label, Board.objects.get(id=board.id).place) == (
        "B1",
        "",
    )


def test_a_label_of_a_board_with_ware_is_refused(who: dict[str, Any]) -> None:
    board = make.board(label="B1")
    make.board("thrown", 3, label="B2")
    with pytest.raises(Refusal, match="B2 is already used by a board with 3 on it"):
        services.place(board=board, label="B2", **who)
    assert Board.objects.get(id=board.id).label == "B1"


def test_an_empty_board_gives_its_label_away(who: dict[str, Any]) -> None:
    board = make.board(label="B1")
    Board.objects.create(label="B2")
    services.place(board=board, label="B2", **who)
    assert Board.objects.get(label="B2") == board


# --- losses -----------------------------------------------------------------------------------


def test_some_of_a_board_is_lost_with_a_fault(who: dict[str, Any]) -> None:
    board = make.board("bisqued", 24)
    change = services.lose(
        board=board, count=2, parting="broken", cause="dropped", fault="knock", **who
    )
    gone = Piece.objects.filter(parting="broken")
    assert (board.pieces.count(), gone.count()) == (24 - 2, 2)
    assert {(p.parting_cause, p.board, p.parted_date) for p in gone} == {
        ("dropped", None, make.AT.date())
    }
    assert Fault.objects.filter(kind="knock").count() == 2
    assert selectors.sums().partings["broken"] == 2
    services.undo(change=change, **who)
    assert board.pieces.count() == 24
    assert not Fault.objects.exists()
    assert selectors.broken_sums() == []


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"count": 25}, "holds 24, so 25 cannot be taken"),
        ({"count": 0}, "1 or more"),
        ({"count": -1}, "1 or more"),
        ({"cause": "  "}, "Say what happened"),
        ({"cause": "x" * 121}, "120 characters"),
        ({"parting": "sold"}, "broken or scrapped"),
        ({"fault": "gremlin"}, "no fault known here"),
    ],
)
def test_a_loss_that_cannot_be(who: dict[str, Any], more: dict[str, Any], words: str) -> None:
    board = make.board("bisqued", 24)
    before = Change.objects.count()
    given: dict[str, Any] = {"count": 1, "parting": "broken", "cause": "dropped"} | more
    with pytest.raises(Refusal, match=words):
        services.lose(board=board, **given, **who)
    assert board.pieces.count() == 24
    assert Change.objects.count() == before


def test_a_promised_piece_is_not_lost_before_the_free_ones(who: dict[str, Any]) -> None:
    board = make.board("graded", 3)
    last = board.pieces.order_by("-id")[0]
    services.reserve(piece=last, kind="claim", note="Ida", **who)
    services.lose(board=board, count=2, parting="broken", cause="dropped", **who)
    assert list(board.pieces.all()) == [last]
    with pytest.raises(Refusal, match=rf"No\. {last.number} is promised \(claim: Ida\)"):
        services.lose(board=board, count=1, parting="broken", cause="dropped", **who)


# --- in a kiln, and changed meanwhile ---------------------------------------------------------


def in_kiln() -> Board:
    board = make.board("bisqued", 4)
    make.in_load(board, make.firing(make.bisque_schedule(), state="loaded"))
    return board


def test_a_board_in_a_kiln_is_left_alone(who: dict[str, Any]) -> None:
    board, other = in_kiln(), make.board("bisqued", 4)
    sentence = rules.can_touch(label=board.label, kiln="Wren")
    acts: list[Callable[[], Change]] = [
        lambda: services.split(board=board, count=1, **who),
        lambda: services.merge(board=board, into=other, **who),
        lambda: services.merge(board=other, into=board, **who),
        lambda: services.lose(board=board, count=1, parting="broken", cause="x", **who),
        lambda: services.mark_dry(board=board, dry_date=make.MADE, sure=True, **who),
        lambda: services.glaze(
            board=board, coats=make.coats(), schedule=make.schedule(), count=1, **who
        ),
        lambda: services.lose(piece=board.pieces.all()[0], parting="broken", cause="x", **who),
        lambda: services.part(piece=board.pieces.all()[0], parting="kept", **who),
    ]
    for act in acts:
        with pytest.raises(Refusal) as refused:
            act()
        assert str(refused.value) == sentence


def test_a_board_that_changed_meanwhile(who: dict[str, Any], other_potter: User) -> None:
    board = make.board("bisqued", 24, label="B3")
    seen = selectors.board_group(board).seen
    services.glaze(
        board=board,
        coats=make.coats(),
        schedule=make.schedule(),
        count=24,
        by=other_potter,
        at=make.AT,
    )
    with pytest.raises(Refusal) as refused:
        services.lose(board=board, count=1, parting="broken", cause="x", seen=seen, **who)
    assert str(refused.value) == (
        "Board B3 is not as you saw it: it holds 24 at glazed now."
        " bo, 20 Mar 10:04: Glazed 24 × Mug of board B3 in Kelp all over. Nothing was changed."
    )
    assert board.pieces.count() == 24


def test_a_merged_board_is_as_damp_as_its_youngest_pot(potter: User) -> None:
    old = make.board(count=3, made_date=make.MADE)
    young = make.board(count=2, made_date=make.MADE + timedelta(days=6))
    services.merge(board=young, into=old, by=potter, at=make.AT)
    # Mugs take 7 days; the youngest are 1 day old on day 7, under half of that.
    with pytest.raises(Refusal, match="Damp ware blows up"):
        services.mark_dry(board=old, dry_date=make.MADE + timedelta(days=7), by=potter, at=make.AT)
    services.mark_dry(board=old, dry_date=make.MADE + timedelta(days=10), by=potter, at=make.AT)


@pytest.mark.django_db
def test_a_board_tells_what_was_put_onto_it_and_offers_to_undo_that_first(potter: User) -> None:
    board, who = make.board("thrown", 12), {"by": potter, "at": make.AT}
    apart = services.split(board=board, count=5, **who)
    other = Board.objects.get(id=(apart.undo or {})["new_board"])
    assert selectors.board_changes(other)[0] == apart
    together = services.merge(board=board, into=other, **who)
    changes = selectors.board_changes(other)
    assert changes[:2] == [together, apart]
    assert selectors.undoable(changes) == together
