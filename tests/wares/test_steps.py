"""Glaze, pass a firing, grade, list, part, promise: as they work, then every refusal."""

from typing import Any

import pytest
from django.contrib.auth.models import User

from studio.wares import rules, selectors, services
from studio.wares.models import Board, Line, Move, Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.services import record
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def who(potter: User) -> dict[str, Any]:
    return {"by": potter, "at": make.AT}


def opening(by: User) -> Change:
    return record(room="firings", action="open", said="Opened Wren", by=by, undo={"firing": 1})


# --- glaze ------------------------------------------------------------------------------------


def test_a_whole_board_is_glazed_on_its_board(who: dict[str, Any]) -> None:
    board = make.board("bisqued", 24)
    change = services.glaze(
        board=board, coats=make.coats(), schedule=make.schedule(), count=24, **who
    )
    group = selectors.board_group(board)
    assert (group.stage, group.count, group.coats) == ("glazed", 24, make.coats())
    assert (change.subject_id, (change.undo or {})["onto"]) == (board.id, board.id)
    line = Line.objects.get()
    assert (line.standing, line.form, line.schedule) == ("untried", make.form(), make.schedule())


def test_part_of_a_board_is_glazed_and_part_is_lost(who: dict[str, Any]) -> None:
    board = make.board("bisqued", 24, label="B3")
    change = services.glaze(
        board=board,
        coats=make.coats(),
        schedule=make.schedule(),
        count=20,
        lost=1,
        cause="dropped",
        new_label="G1",
        **who,
    )
    other = Board.objects.get(label="G1")
    assert selectors.board_group(board).holds == "it holds 3 at bisqued now"  # 24 - 20 - 1
    assert selectors.board_group(other).holds == "it holds 20 at glazed now"
    assert (change.undo or {})["onto"] == other.id
    assert Piece.objects.filter(parting="scrapped", parting_cause="dropped").count() == 1
    assert change.said == (
        "Glazed 20 × Mug of board B3 in Kelp all over; 1 lost; they are board G1 now, 3 stay"
    )
    services.undo(change=change, **who)
    assert selectors.board_group(board).holds == "it holds 24 at bisqued now"
    assert not other.pieces.exists()
    assert selectors.broken_sums() == []


def test_all_of_a_board_may_be_lost_at_glazing(who: dict[str, Any]) -> None:
    board = make.board("bisqued", 2)
    services.glaze(
        board=board,
        coats=make.coats(),
        schedule=make.schedule(),
        count=0,
        lost=2,
        cause="dropped",
        **who,
    )
    assert selectors.board_group(board).count == 0
    assert selectors.sums().partings["scrapped"] == 2


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"count": 25}, "holds 24, so 25 cannot"),
        ({"count": 20, "lost": 5, "cause": "x"}, "holds 24, so 25 cannot"),
        ({"count": 0}, "1 or more"),
        ({"count": 25, "lost": -1}, "below 0"),
        ({"count": -1, "lost": 2, "cause": "x"}, "below 0"),
        ({"count": 20, "lost": 1}, "Say what happened"),
    ],
)
def test_glazing_that_does_not_sum(who: dict[str, Any], more: dict[str, Any], words: str) -> None:
    board = make.board("bisqued", 24)
    with pytest.raises(Refusal, match=words):
        services.glaze(board=board, coats=make.coats(), schedule=make.schedule(), **more, **who)
    assert board.pieces.at_stage("bisqued").count() == 24
    assert not Line.objects.exists()


@pytest.mark.parametrize(
    ("stage", "words"),
    [
        ("thrown", "From thrown the next stage is bisqued, not glazed."),
        ("glazed", "From glazed the next stage is fired, not glazed."),
        ("graded", "From graded the next stage is listed, not glazed."),
    ],
)
def test_only_bisque_is_glazed(who: dict[str, Any], stage: str, words: str) -> None:
    board = make.board(stage, 2)
    with pytest.raises(Refusal) as refused:
        services.glaze(board=board, coats=make.coats(), schedule=make.schedule(), count=2, **who)
    assert str(refused.value) == words


def test_glazes_and_clays_have_a_top_cone(who: dict[str, Any]) -> None:
    low = make.coats("Low red", top_cone="04")
    with pytest.raises(Refusal) as refused:
        services.glaze(
            board=make.board("bisqued", 2), coats=low, schedule=make.schedule(), count=2, **who
        )
    assert str(refused.value) == (
        "The glaze Low red may go to cone 04; the schedule Cone 6 slow cool fires to cone 6."
    )
    red = make.clay_lot("Brick earthenware", top_cone="1")
    with pytest.raises(Refusal, match="clay Brick earthenware, lot 7 may go to cone 1;"):
        services.glaze(
            board=make.board("bisqued", 2, clay_lot=red),
            coats=make.coats(),
            schedule=make.schedule(),
            count=2,
            **who,
        )
    with pytest.raises(Refusal, match="is a bisque schedule"):
        services.glaze(
            board=make.board("bisqued", 2),
            coats=make.coats(),
            schedule=make.bisque_schedule(),
            count=2,
            **who,
        )


# --- firings ----------------------------------------------------------------------------------


def test_a_firing_that_is_not_opened_or_not_the_right_one(potter: User) -> None:
    thrown, glazed = make.board("thrown", 2), make.board("glazed", 2)
    other = make.schedule("Cone 6 fast", cooling="natural")
    tries = [
        (thrown, "bisqued", make.firing(make.bisque_schedule(), state="planned"), "is not opened"),
        (thrown, "bisqued", make.firing(make.schedule()), "is a glaze firing: nothing can be bisq"),
        (glazed, "fired", make.firing(make.bisque_schedule()), "is a bisque firing: nothing can"),
        (glazed, "fired", make.firing(other), "glazed for Cone 6 slow cool; .* fires Cone 6 fast"),
        (thrown, "fired", make.firing(make.schedule()), "From thrown the next stage is bisqued"),
        (thrown, "glazed", make.firing(make.schedule()), "next stage is bisqued, not glazed"),
    ]
    for board, to_stage, firing, words in tries:
        with pytest.raises(Refusal, match=words):
            services.pass_firing(
                pieces=list(board.pieces.all()),
                to_stage=to_stage,
                firing=firing,
                change=opening(potter),
            )
    assert thrown.pieces.at_stage("thrown").count() == 2
    assert glazed.pieces.at_stage("glazed").count() == 2


def test_clay_is_not_bisqued_above_its_cone(potter: User) -> None:
    board = make.board("thrown", 2, clay_lot=make.clay_lot("Raku body", top_cone="08"))
    with pytest.raises(Refusal, match="may go to cone 08; the schedule Bisque 06 fires to cone 06"):
        services.pass_firing(
            pieces=list(board.pieces.all()),
            to_stage="bisqued",
            firing=make.firing(make.bisque_schedule()),
            change=opening(potter),
        )


def test_a_load_comes_out_with_losses_and_goes_back(who: dict[str, Any]) -> None:
    board = make.board("glazed", 6)
    firing = make.firing(make.schedule())
    make.in_load(board, firing)
    pieces = list(board.pieces.all())
    change = opening(who["by"])
    services.part_pieces(
        pieces=pieces[:1],
        parting="broken",
        cause="dunt",
        fault="dunt",
        firing=firing,
        change=change,
    )
    services.pass_firing(pieces=pieces[1:], to_stage="fired", firing=firing, change=change)
    assert selectors.board_group(board).holds == "it holds 5 at fired now"
    assert (change.undo or {})["firing"] == 1  # the caller's own key stands
    undoing = opening(who["by"])
    with pytest.raises(Refusal, match="its pieces stand in Wren now"):
        services.put_back(change=change, undoing=undoing)
    services.put_back(change=change, undoing=undoing, firing_id=firing.id)
    assert selectors.board_group(board).holds == "it holds 6 at glazed now"
    assert not Piece.objects.filter(glaze_firing__isnull=False).exists()
    assert selectors.broken_sums() == []


def test_those_that_pass_leave_the_others_on_their_board(potter: User) -> None:
    board = make.board("thrown", 6)
    some = list(board.pieces.all()[:4])
    firing = make.firing(make.bisque_schedule())
    services.pass_firing(pieces=some, to_stage="bisqued", firing=firing, change=opening(potter))
    assert selectors.board_group(board).holds == "it holds 2 at thrown now"
    assert selectors.broken_sums() == []


# --- list, promise, part ----------------------------------------------------------------------


def test_a_piece_is_listed_and_taken_off(potter: User) -> None:
    piece = make.piece("graded")
    change = opening(potter)
    services.list_pieces(pieces=[piece], change=change)
    piece.refresh_from_db()
    assert (piece.stage, piece.board) == ("listed", None)
    services.take_off_list(pieces=[piece], change=opening(potter))
    piece.refresh_from_db()
    assert piece.stage == "graded"
    last = piece.moves.last()
    assert last is not None
    assert last.kind == Move.Kind.BACK


def test_a_promised_piece_is_neither_listed_nor_parted(who: dict[str, Any]) -> None:
    piece = make.piece("graded")
    services.reserve(piece=piece, kind="parcel", note="March", **who)
    with pytest.raises(Refusal) as refused:
        services.list_pieces(pieces=[piece], change=opening(who["by"]))
    assert str(refused.value) == rules.can_list(
        name="No. 1", stage="graded", gone="", promise="parcel: March"
    )
    for parting in ("sold", "kept", "sent"):
        with pytest.raises(Refusal, match=f"so it cannot be {parting}. Release it first."):
            services.part(piece=piece, parting=parting, **who)
    with pytest.raises(Refusal, match="promised already"):
        services.reserve(piece=piece, kind="claim", **who)


def test_a_parcel_fulfils_its_promise_and_undo_makes_it_again(who: dict[str, Any]) -> None:
    piece = make.piece("graded")
    services.reserve(piece=piece, kind="parcel", note="March", **who)
    change = services.part(piece=piece, parting="sent", keeps_promise="parcel", **who)
    assert not Reservation.objects.exists()
    with pytest.raises(Refusal, match=r"No\. 1 is sent already"):
        services.part(piece=piece, parting="kept", **who)
    services.undo(change=change, **who)
    assert Reservation.objects.get().note == "March"


def test_promises_are_undone(who: dict[str, Any]) -> None:
    piece = make.piece("graded")
    promised = services.reserve(piece=piece, kind="held", **who)
    released = services.release(piece=piece, **who)
    assert released.said == "Released No. 1 (was promised: held back)"
    services.undo(change=released, **who)
    services.undo(change=promised, **who)
    assert not Reservation.objects.exists()
    with pytest.raises(Refusal, match="promised to nobody"):
        services.release(piece=piece, **who)


@pytest.mark.parametrize(
    ("stage", "words"), [("fired", "Only a graded piece"), ("listed", "listed for sale")]
)
def test_only_graded_pieces_are_promised(who: dict[str, Any], stage: str, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        services.reserve(piece=make.piece(stage), kind="claim", **who)
    with pytest.raises(Refusal, match="one of claim, parcel, spare, held"):
        services.reserve(piece=make.piece("graded"), kind="dibs", **who)


def test_a_piece_that_is_not_graded_is_not_listed(potter: User) -> None:
    with pytest.raises(Refusal, match="From fired the next stage is graded, not listed"):
        services.list_pieces(pieces=make.pieces("fired"), change=opening(potter))
    with pytest.raises(Refusal, match="is graded, not listed"):
        services.take_off_list(pieces=make.pieces("graded"), change=opening(potter))


def test_a_history_tells_the_whole_way(who: dict[str, Any]) -> None:
    piece = make.piece("listed")
    history = selectors.piece_history(piece)
    assert [move.to_stage for move in history.moves] == [
        "thrown",
        "bisqued",
        "glazed",
        "fired",
        "graded",
        "listed",
    ]
    assert history.where == "listed for sale"


def test_a_promise_of_a_parcel_is_taken_back_by_its_parcel_alone() -> None:
    piece = make.piece("graded")
    Reservation.objects.create(piece=piece, kind="parcel", by=make.user(), at=make.AT)
    with pytest.raises(Refusal, match=r"is in a parcel\. Take it out of that parcel first\."):
        services.release(piece=piece, by=make.user(), at=make.AT)
    assert Reservation.objects.filter(piece=piece).exists()
    services.release(piece=piece, owner="parcel", by=make.user(), at=make.AT)
    assert not Reservation.objects.filter(piece=piece).exists()
