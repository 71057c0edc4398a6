"""Counting in what stands in a studio that began before its records."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.planning.selectors.stock import free_groups
from studio.wares import rules, selectors, services
from studio.wares.models import Board, Line, Move, Photo, Piece
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests import make
from tests.wares.counted import count_in, counted

pytestmark = pytest.mark.django_db
STAGES = ["bisqued", "glazed", "fired", "graded"]


# --- it works ---------------------------------------------------------------------------------


@pytest.mark.parametrize("stage", STAGES)
def test_a_board_stands_at_its_stage_without_a_firing(potter: User, stage: str) -> None:
    change = count_in(stage, potter, place=" back shelf ")
    board = make.subject_board(change)
    assert (board.label, board.place) == ("B1", "back shelf")
    assert selectors.board_group(board).holds == f"it holds 12 at {stage} now"
    pieces = board.pieces.all()
    assert {(p.counted_in, p.bisque_firing, p.glaze_firing) for p in pieces} == {
        (stage, None, None)
    }
    moves = Move.objects.filter(piece__board=board)
    assert {(m.seq, m.kind, m.from_stage, m.to_stage) for m in moves} == {(1, "counted", "", stage)}
    total = selectors.sums()
    assert (total.made, total.on_hand[stage], total.holds) == (12, 12, True)
    assert selectors.broken_sums() == []


def test_it_is_said_in_a_sentence(potter: User) -> None:
    saids = [
        count_in("bisqued", potter, count=5).said,
        count_in("glazed", potter, count=5).said,
        count_in("graded", potter, count=3).said,
        count_in("graded", potter, count=1, grade="second").said,
    ]
    assert saids == [
        "Counted in 5 × Mug in Heron stoneware, lot 7, bisqued: board B1",
        "Counted in 5 × Mug in Kelp all over, glazed: board B2",
        "Counted in 3 × Mug in Kelp all over, graded firsts: board B3, No. 1 to 3",
        "Counted in 1 × Mug in Kelp all over, graded seconds: board B4, No. 4",
    ]


def test_graded_ones_take_the_numbers_after_the_last(potter: User) -> None:
    make.board("graded", 4)
    board = counted("graded", potter, count=3, grade="second")
    assert sorted(piece.number or 0 for piece in board.pieces.all()) == [4 + 1, 4 + 2, 4 + 3]
    assert {piece.grade for piece in board.pieces.all()} == {"second"}


def test_from_glazed_on_there_is_a_line(potter: User) -> None:
    count_in("bisqued", potter)
    assert not Line.objects.exists()
    count_in("fired", potter)
    line = Line.objects.get()
    assert line.standing == "untried"
    assert selectors.stock_by_line() == {line.id: {"fired": 12}}
    Line.objects.update(standing="proven")
    count_in("graded", potter, count=2)
    assert Line.objects.get().standing == "proven"


def test_the_planner_finds_them(potter: User) -> None:
    for stage in STAGES:
        count_in(stage, potter, count=3)
    found = free_groups(today_date=make.AT.date())
    assert sorted((group.stage, group.count) for group in found) == [(s, 3) for s in sorted(STAGES)]


# --- they go on -------------------------------------------------------------------------------


def test_bisqued_ones_go_on_and_are_fired_by_a_firing(potter: User) -> None:
    board = counted("bisqued", potter)
    who: dict[str, Any] = {"by": potter, "at": make.AT}
    services.glaze(
        board=board,
        coats=make.coats(),
        schedule=make.schedule(),
        count=11,
        lost=1,
        cause="x",
        **who,
    )
    with pytest.raises(Refusal, match=r"next stage is fired"):
        services.grade(board=board, firsts=11, seconds=0, **who)
    firing = make.firing(make.schedule())
    make.pass_firing(board, to_stage="fired", firing=firing, **who)
    services.grade(board=board, firsts=10, seconds=0, scraps=1, faults={"scrap": "dunt"}, **who)
    assert {piece.glaze_firing for piece in board.pieces.all()} == {firing}
    assert selectors.sums().partings["scrapped"] == 1 + 1
    assert selectors.broken_sums() == []


def test_fired_ones_are_graded_and_refired_by_a_firing(potter: User) -> None:
    board = counted("fired", potter)
    who: dict[str, Any] = {"by": potter, "at": make.AT}
    faults = {"second": "pinhole", "refire": "crawl", "scrap": "dunt"}
    services.grade(
        board=board, firsts=6, seconds=2, refires=3, scraps=1, faults=faults, **who
    )  # 12 = 6 + 2 + 3 + 1
    again = Piece.objects.filter(refires=1)
    assert {(piece.stage, piece.glaze_firing) for piece in again} == {("glazed", None)}
    scrap = Piece.objects.get(parting="scrapped")
    assert scrap.faults.get().firing is None
    onto = Board.objects.get(id=again[0].board_id)
    firing = make.firing(make.schedule())
    make.pass_firing(onto, to_stage="fired", firing=firing, **who)
    assert {piece.glaze_firing for piece in again.all()} == {firing}
    assert selectors.broken_sums() == []


def test_graded_ones_are_listed_and_taken_back(potter: User) -> None:
    board = counted("graded", potter, count=2)
    pieces = list(board.pieces.select_related("form", "board"))
    change = Change.objects.create(room="sales", action="list", said="x", by=potter, at=make.AT)
    services.list_pieces(pieces=pieces, change=change)
    assert selectors.sums().on_hand["listed"] == 2
    services.take_off_list(pieces=list(Piece.objects.all()), change=change)
    assert selectors.sums().on_hand["graded"] == 2
    assert selectors.broken_sums() == []


# --- it is refused ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stage", "more", "words"),
    [
        ("thrown", {}, "write it down with Throw a board"),
        ("listed", {}, "Count listed pieces in as graded"),
        ("dreamt", {}, "counted in as bisqued, glazed, fired, graded, not as “dreamt”"),
        ("bisqued", {"coats": make.coats}, "has no glaze on it yet"),
        ("bisqued", {"schedule": make.schedule}, "has no glaze on it yet"),
        ("glazed", {"coats": None}, "Say which glaze is on it: glazed ware has one"),
        ("graded", {"coats": None}, "Say which glaze is on it: graded ware has one"),
        ("glazed", {"schedule": None}, "Say which glaze schedule it is meant for"),
        ("fired", {"schedule": None}, "Say which glaze schedule it was fired to"),
        ("graded", {"grade": "third"}, "is a first or a second, not “third”"),
        ("bisqued", {"count": 0}, "1 or more"),
        ("bisqued", {"count": -4}, "1 or more"),
        ("bisqued", {"count": 501}, "500 on one board at most"),
        ("bisqued", {"made_date": make.AT.date() + timedelta(days=1)}, "is in the future"),
        ("bisqued", {"made_date": date(1026, 3, 2)}, "Check the year"),
        ("bisqued", {"board_label": "x" * 13}, "12 characters at most"),
        ("glazed", {"schedule": make.bisque_schedule}, "is a bisque schedule"),
        (
            "fired",
            {"coats": lambda: make.coats("Low", top_cone="04")},
            "The glaze Low may go to cone 04; the schedule Cone 6 slow cool fires to cone 6.",
        ),
        (
            "glazed",
            {"clay_lot": lambda: make.clay_lot("Brick", "1", top_cone="1")},
            "The clay Brick, lot 1 may go to cone 1; the schedule Cone 6 slow cool fires",
        ),
    ],
)
def test_what_cannot_stand_here(potter: User, stage: str, more: dict[str, Any], words: str) -> None:
    given = {name: value() if callable(value) else value for name, value in more.items()}
    with pytest.raises(Refusal) as refused:
        count_in(stage, potter, **given)
    assert words in str(refused.value)
    assert not Piece.objects.exists()
    assert not Board.objects.exists()
    assert not Line.objects.exists()
    assert not Change.objects.exists()


def test_a_label_in_use_is_refused_and_nothing_is_kept(potter: User) -> None:
    make.board("thrown", 7, label="Rack 2")
    before = Change.objects.count()
    with pytest.raises(Refusal) as refused:
        count_in("glazed", potter, board_label=" Rack 2 ")
    assert str(refused.value) == rules.can_use_label(label="Rack 2", holds=7)
    assert (Piece.objects.count(), Line.objects.count()) == (7, 0)
    assert Change.objects.count() == before


# --- it is undone -----------------------------------------------------------------------------


@pytest.mark.parametrize("stage", STAGES)
def test_undo_takes_them_away(potter: User, stage: str) -> None:
    services.undo(change=count_in(stage, potter), by=potter, at=make.AT)
    assert not Piece.objects.exists()
    assert not Move.objects.exists()
    assert selectors.sums().made == 0
    assert selectors.broken_sums() == []


def test_undo_is_refused_once_they_went_on(potter: User) -> None:
    change = count_in("bisqued", potter)
    services.glaze(
        board=make.subject_board(change),
        coats=make.coats(),
        schedule=make.schedule(),
        count=12,
        by=potter,
        at=make.AT,
    )
    with pytest.raises(Refusal, match=r"can no longer be undone: .*Glazed 12"):
        services.undo(change=change, by=potter, at=make.AT)
    assert Piece.objects.count() == 12


def test_undo_is_refused_while_they_stand_in_a_kiln(potter: User) -> None:
    change = count_in("glazed", potter)
    make.in_load(make.subject_board(change), make.firing(make.schedule(), state="loaded"))
    with pytest.raises(Refusal, match="its pieces stand in Wren now"):
        services.undo(change=change, by=potter, at=make.AT)


def test_undo_is_refused_once_one_is_promised_or_photographed(potter: User) -> None:
    change = count_in("graded", potter)
    piece = make.subject_board(change).pieces.get(number=7)
    services.reserve(piece=piece, kind="held", by=potter, at=make.AT)
    with pytest.raises(Refusal, match=r"No\. 7 is promised"):
        services.undo(change=change, by=potter, at=make.AT)
    services.release(piece=piece, by=potter, at=make.AT)
    piece.photo = Photo.objects.create(name="a.jpg", width_px=1, height_px=1, kept_at=make.AT)
    piece.save(update_fields=["photo"])
    with pytest.raises(Refusal, match=r"No\. 7 has a photograph by now"):
        services.undo(change=change, by=potter, at=make.AT)


# --- what the database itself refuses ---------------------------------------------------------


@pytest.mark.parametrize(
    ("counted_as", "values", "name"),
    [
        # Counted in as bisqued: still to be fired by a firing.
        ("bisqued", {"stage": "thrown"}, "piece_counted_in_for_what_was"),
        ("glazed", {"stage": "fired"}, "piece_fired_by_a_firing"),
        ("glazed", {"stage": "graded", "grade": "first", "number": 9}, "piece_fired_by_a_firing"),
        ("glazed", {"stage": "bisqued", "coats": None, "schedule": None}, "piece_counted_in"),
        ("fired", {"stage": "glazed"}, "piece_counted_in_for_what_was"),
        ("fired", {"refires": 1}, "piece_fired_by_a_firing"),
        ("graded", {"stage": "fired", "grade": ""}, "piece_counted_in_for_what_was"),
        ("graded", {"refires": 1}, "piece_fired_by_a_firing"),
        ("bisqued", {"counted_in": ""}, "piece_bisqued_by_a_firing"),
        ("fired", {"counted_in": "bisqued"}, "piece_fired_by_a_firing"),
        ("bisqued", {"counted_in": "listed"}, "piece_counted_in_for_what_was"),
        ("bisqued", {"counted_in": "fired"}, "piece_counted_in_for_what_was"),
    ],
)
def test_counted_in_stands_for_what_was_before_alone(
    potter: User, counted_as: str, values: dict[str, Any], name: str
) -> None:
    piece = counted(counted_as, potter, count=1).pieces.get()
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        Piece.objects.filter(id=piece.id).update(**values)


@pytest.mark.parametrize(
    ("counted_as", "kind"), [("bisqued", "bisque"), ("fired", "glaze"), ("graded", "glaze")]
)
def test_a_firing_before_the_records_is_none_of_ours(
    potter: User, counted_as: str, kind: str
) -> None:
    piece = counted(counted_as, potter, count=1).pieces.get()
    firing = make.firing(make.bisque_schedule() if kind == "bisque" else make.schedule())
    words = "piece_counted_in_for_what_was"
    with pytest.raises(IntegrityError, match=words), transaction.atomic():
        Piece.objects.filter(id=piece.id).update(**{f"{kind}_firing": firing})


def test_a_thrown_piece_was_not_counted_in() -> None:
    piece = make.piece("thrown")
    with pytest.raises(IntegrityError, match="piece_counted_in"), transaction.atomic():
        Piece.objects.filter(id=piece.id).update(counted_in="bisqued")


@pytest.mark.parametrize(
    ("from_stage", "to_stage"), [("", "thrown"), ("", "listed"), ("thrown", "bisqued")]
)
def test_a_counted_move_leads_from_nowhere_to_a_fired_stage(
    potter: User, from_stage: str, to_stage: str
) -> None:
    change = count_in("bisqued", potter, count=1)
    ends = {"from_stage": from_stage, "to_stage": to_stage, "kind": "counted"}
    with pytest.raises(IntegrityError, match="move_by_the_stages"), transaction.atomic():
        Move.objects.create(
            piece=Piece.objects.get(), seq=2, change=change, by=potter, at=make.AT, **ends
        )
