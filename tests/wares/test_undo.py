"""Undoing something while other things were done meanwhile: put back rightly, or refused."""

from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import transaction

from studio.wares import selectors, services
from studio.wares.models import Board, Fault, Photo, Piece, Reservation
from studio.wares.services.moves import put_on_board
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.services import record
from tests import make

pytestmark = pytest.mark.django_db
DRY = make.AT.date()


@pytest.fixture
def who(potter: User) -> dict[str, Any]:
    return {"by": potter, "at": make.AT}


def by_dryness() -> dict[bool, int]:
    """How many thrown pieces stand on dry boards, how many on damp ones."""
    dry = Piece.objects.filter(stage="thrown", board__dry_date__isnull=False).count()
    return {True: dry, False: Piece.objects.at_stage("thrown").count() - dry}


def shut_again(change: Change, by: User) -> None:
    """Put back what opening a kiln did, as the firings room does it."""
    undoing = record(room="firings", action="undo", said="Undid", by=by)
    assert change.moves.first() is not None
    firing_id = change.moves.first().firing_id  # type: ignore[union-attr]
    services.put_back(change=change, undoing=undoing, firing_id=firing_id)


# --- damp ware never becomes dry by an undo -------------------------------------------------------


def test_damp_pieces_come_back_beside_a_board_that_dried_meanwhile(who: dict[str, Any]) -> None:
    board = make.board("thrown", 6)
    split = services.split(board=board, count=3, **who)
    services.mark_dry(board=board, dry_date=DRY, **who)
    services.undo(change=split, **who)
    assert by_dryness() == {True: 6 - 3, False: 3}
    assert board.pieces.count() == 6 - 3


def test_dry_pieces_come_back_dry_though_their_label_was_taken_for_damp_ones(
    who: dict[str, Any],
) -> None:
    one, other = make.board("thrown", 3, label="A"), make.board("thrown", 4, label="B")
    for board in (one, other):
        services.mark_dry(board=board, dry_date=DRY, **who)
    merge = services.merge(board=one, into=other, **who)
    make.board("thrown", 2, label="A")
    assert by_dryness() == {True: 3 + 4, False: 2}
    services.undo(change=merge, **who)
    assert by_dryness() == {True: 3 + 4, False: 2}
    assert Board.objects.get(label="A").pieces.count() == 2
    assert Board.objects.get(label="B").pieces.count() == 4


def test_dry_pieces_come_back_dry_to_a_label_that_was_used_in_between(who: dict[str, Any]) -> None:
    one, other = make.board("thrown", 3, label="A"), make.board("thrown", 4, label="B")
    for board in (one, other):
        services.mark_dry(board=board, dry_date=DRY, **who)
    merge = services.merge(board=one, into=other, **who)
    thrown = services.throw(
        form=make.form(),
        clay_lot=make.clay_lot(),
        count=2,
        board_label="A",
        made_date=make.MADE,
        **who,
    )
    services.undo(change=thrown, **who)
    services.undo(change=merge, **who)
    assert by_dryness() == {True: 3 + 4, False: 0}
    assert Board.objects.get(label="A").pieces.count() == 3


def test_lost_pieces_that_were_damp_come_back_damp(who: dict[str, Any]) -> None:
    board = make.board("thrown", 6)
    lost = services.lose(board=board, count=2, parting="broken", cause="dropped", **who)
    services.mark_dry(board=board, dry_date=DRY, **who)
    services.undo(change=lost, **who)
    assert by_dryness() == {True: 6 - 2, False: 2}


def test_ware_that_left_a_dry_board_keeps_it_from_being_damp_again(who: dict[str, Any]) -> None:
    board = make.board("thrown", 6)
    dried = services.mark_dry(board=board, dry_date=DRY, **who)
    split = services.split(board=board, count=3, **who)
    with pytest.raises(Refusal, match=r"can no longer be undone: ada, .*Put 3 of the 6"):
        services.undo(change=dried, **who)
    assert by_dryness() == {True: 6, False: 0}
    services.undo(change=split, **who)
    services.undo(change=dried, **who)
    assert by_dryness() == {True: 0, False: 6}


# --- a board keeps one stage ----------------------------------------------------------------------


@pytest.mark.parametrize("undone", ["moved", "joined"])
def test_a_glazing_stands_once_its_board_was_merged(who: dict[str, Any], undone: str) -> None:
    one, other = make.board("bisqued", 3, label="A"), make.board("bisqued", 4, label="B")
    kind: dict[str, Any] = {"coats": make.coats(), "schedule": make.schedule()}
    glazed = {
        "moved": services.glaze(board=one, count=3, **kind, **who),
        "joined": services.glaze(board=other, count=4, **kind, **who),
    }
    merge = services.merge(board=one, into=other, **who)
    with pytest.raises(Refusal, match=r"no longer be undone: ada, .*Put the 3 .* onto B\."):
        services.undo(change=glazed[undone], **who)
    assert Piece.objects.at_stage("glazed").count() == 3 + 4
    services.undo(change=merge, **who)
    services.undo(change=glazed[undone], **who)
    assert Piece.objects.at_stage("bisqued").count() == {"moved": 3, "joined": 4}[undone]
    assert selectors.broken_sums() == []


@pytest.mark.parametrize("undone", [0, 1])
def test_an_opening_stands_once_its_ware_was_merged(who: dict[str, Any], undone: int) -> None:
    one, other = make.board("thrown", 3, label="A"), make.board("thrown", 4, label="B")
    for board in (one, other):
        firing = make.firing(make.bisque_schedule())
        make.pass_firing(board, to_stage="bisqued", firing=firing, **who)
    change = list(Change.objects.filter(action="open").order_by("id"))[undone]
    merge = services.merge(board=one, into=other, **who)
    with pytest.raises(Refusal, match=r"no longer be undone: ada, .*Put the 3 .* onto B\."):
        shut_again(change, who["by"])
    services.undo(change=merge, **who)
    shut_again(change, who["by"])
    assert Piece.objects.at_stage("thrown").count() == [3, 4][undone]
    assert selectors.broken_sums() == []


# --- promises -------------------------------------------------------------------------------------


def test_an_old_promise_is_undone_not_a_newer_one(who: dict[str, Any]) -> None:
    piece = make.piece("graded")
    promised = services.reserve(piece=piece, kind="held", note="Ida", **who)
    services.release(piece=piece, **who)
    services.reserve(piece=piece, kind="spare", note="Bo", **who)
    with pytest.raises(Refusal, match=r"No\. 1 is promised otherwise \(spare: Bo\) now"):
        services.undo(change=promised, **who)
    assert Reservation.objects.get().note == "Bo"


def test_a_promise_that_was_released_is_not_undone(who: dict[str, Any]) -> None:
    piece = make.piece("graded")
    promised = services.reserve(piece=piece, kind="held", **who)
    services.release(piece=piece, **who)
    with pytest.raises(Refusal, match=r"No\. 1 was released already"):
        services.undo(change=promised, **who)


@pytest.mark.parametrize(
    ("since", "words"),
    [
        ("promised", r"No\. 1 is promised already \(spare: Bo\)"),
        ("gone", r"No\. 1 is kept already"),
        ("listed", r"No\. 1 is listed for sale"),
    ],
)
def test_a_release_stands_once_the_piece_went_on(
    who: dict[str, Any], since: str, words: str
) -> None:
    piece = make.piece("graded")
    services.reserve(piece=piece, kind="held", note="Ida", **who)
    released = services.release(piece=piece, **who)
    match since:
        case "promised":
            services.reserve(piece=piece, kind="spare", note="Bo", **who)
        case "gone":
            services.part(piece=piece, parting="kept", **who)
        case _:
            listing = record(room="sales", action="list", said="Listed", by=who["by"], undo={})
            services.list_pieces(pieces=[Piece.objects.get(id=piece.id)], change=listing)
    with pytest.raises(Refusal, match=f"can no longer be undone: {words}"):
        services.undo(change=released, **who)
    assert [promise.note for promise in Reservation.objects.all()] == (
        ["Bo"] if since == "promised" else []
    )


def test_a_claim_comes_back_to_a_listed_piece_that_was_sold(who: dict[str, Any]) -> None:
    piece = make.piece("listed")
    Reservation.objects.create(piece=piece, kind="claim", note="Ida", **who)
    sold = services.part(piece=piece, parting="sold", keeps_promise="claim", **who)
    services.undo(change=sold, **who)
    assert Reservation.objects.get(piece=piece).note == "Ida"
    assert Piece.objects.get(id=piece.id).stage == "listed"


def test_a_parcel_keeps_its_piece(who: dict[str, Any]) -> None:
    piece = make.piece("graded")
    services.reserve(piece=piece, kind="parcel", note="March", **who)
    with pytest.raises(Refusal, match=r"No\. 1 is in a parcel. Take it out of that parcel first"):
        services.release(piece=piece, **who)
    assert Reservation.objects.get().kind == "parcel"
    services.release(piece=piece, owner="parcel", **who)
    assert not Reservation.objects.exists()


# --- photographs ----------------------------------------------------------------------------------


def test_a_grading_stands_once_a_piece_was_photographed(who: dict[str, Any]) -> None:
    board = make.board("fired", 2)
    graded = services.grade(board=board, firsts=2, seconds=0, **who)
    photographed = services.add_photo(
        piece=board.pieces.get(number=2), name="ab.jpg", width_px=4, height_px=3, **who
    )
    with pytest.raises(Refusal, match=r"No\. 2 has a photograph by now"):
        services.undo(change=graded, **who)
    services.undo(change=photographed, **who)
    services.undo(change=graded, **who)
    assert [(one.stage, one.number, one.photo) for one in board.pieces.all()] == [
        ("fired", None, None),
        ("fired", None, None),
    ]
    assert Photo.objects.count() == 1


def test_faults_go_when_the_grading_that_found_them_is_undone() -> None:
    board = make.board("fired", 4)
    change = services.grade(
        board=board, firsts=2, seconds=1, scraps=1,
        faults={"second": "pinhole", "scrap": "crawl"}, by=make.user(), at=make.AT,
    )  # fmt: skip
    assert sorted(Fault.objects.values_list("kind", flat=True)) == ["crawl", "pinhole"]
    services.undo(change=change, by=make.user(), at=make.AT)
    assert not Fault.objects.exists()
    one = make.piece("graded")
    kept = Fault.objects.create(piece=one, kind="warp")
    seen = services.see_fault(piece=one, fault="craze", by=make.user(), at=make.AT)
    services.undo(change=seen, by=make.user(), at=make.AT)
    assert list(Fault.objects.all()) == [kept]


@pytest.mark.parametrize("since", ["another board", "a step", "gone"])
def test_pieces_are_put_on_a_board_only_as_they_were_read(since: str) -> None:
    board, elsewhere, other = make.board("thrown", 3), *(
        Board.objects.create(label=label) for label in ("Y1", "Y2")
    )  # fmt: skip
    read = list(board.pieces.order_by("id"))
    first = Piece.objects.filter(id=read[0].id)
    if since == "another board":
        first.update(board=elsewhere)
    elif since == "a step":
        first.update(seq=2)
    else:
        first.update(parting="kept", parted_date=make.AT.date(), board=None)
    change = record(room="wares", action="x", said="x", by=make.user(), undo={})
    with pytest.raises(Refusal), transaction.atomic():
        put_on_board(pieces=read, board=other, change=change)
    assert not other.pieces.exists()
