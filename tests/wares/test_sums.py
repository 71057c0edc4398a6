"""made = on hand + partings, whatever is done in whatever order, and broken records are found."""

from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from studio.wares import selectors, services
from studio.wares.models import Board, Move, Piece
from studio.web.models import Change
from studio.web.refusal import Refusal
from studio.web.services import record
from tests import make


class Pottery(RuleBasedStateMachine):
    """A studio in which everything is tried. It keeps its own count beside the records'."""

    def __init__(self) -> None:
        super().__init__()
        self.apart = transaction.atomic()  # each run is taken back: a studio of its own
        self.apart.__enter__()
        self.gone = 0
        self.who: dict[str, Any] = {"by": make.user(), "at": make.AT}
        # Ware at every stage from the start, so that few steps lead everywhere.
        for stage in ("thrown", "bisqued", "glazed", "fired", "graded"):
            make.board(stage, 4)
        self.made = 5 * 4

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.apart.__exit__(None, None, None)

    def board(self, data: st.DataObject, *stages: str) -> Board | None:
        groups = [group for group in selectors.boards_now() if group.stage in stages]
        return data.draw(st.sampled_from(groups)).board if groups else None

    @rule(count=st.integers(min_value=-1, max_value=9))
    def throw(self, count: int) -> None:
        given: dict[str, Any] = {
            "form": make.form(),
            "clay_lot": make.clay_lot(),
            "made_date": make.MADE,
        }
        try:
            services.throw(count=count, **given, **self.who)
        except Refusal:
            assert count < 1
        else:
            self.made += count

    @rule(
        count=st.integers(min_value=0, max_value=5),
        stage=st.sampled_from(["thrown", "bisqued", "glazed", "fired", "graded"]),
        grade=st.sampled_from(["first", "second"]),
        has_coats=st.booleans(),
    )
    def count_in(self, count: int, stage: str, grade: str, has_coats: bool) -> None:
        """What stood there before the records began, right or wrong."""
        coated = {"coats": make.coats(), "schedule": make.schedule()} if has_coats else {}
        given: dict[str, Any] = {
            "form": make.form(),
            "clay_lot": make.clay_lot(),
            "made_date": make.MADE,
        }
        try:
            services.count_in(count=count, stage=stage, grade=grade, **coated, **given, **self.who)
        except Refusal:
            assert count < 1 or stage == "thrown" or has_coats == (stage == "bisqued")
        else:
            self.made += count

    @rule(data=st.data(), kind=st.sampled_from(["bisque", "glaze"]))
    def fire(self, data: st.DataObject, kind: str) -> None:
        """Anything is put through any opened firing; the records say when that cannot be."""
        board = self.board(data, "thrown", "bisqued", "glazed", "fired")
        if board is None:
            return
        stage = selectors.board_group(board).stage
        firing = make.firing(make.bisque_schedule() if kind == "bisque" else make.schedule())
        to_stage = "bisqued" if kind == "bisque" else "fired"
        right = (stage, to_stage) in {("thrown", "bisqued"), ("glazed", "fired")}
        try:
            make.pass_firing(board, to_stage=to_stage, firing=firing, **self.who)
        except Refusal:
            assert not right
        else:
            assert right

    @rule(data=st.data(), count=st.integers(0, 6), lost=st.integers(0, 2))
    def glaze(self, data: st.DataObject, count: int, lost: int) -> None:
        board = self.board(data, "thrown", "bisqued", "glazed", "fired", "graded")
        if board is None:
            return
        group = selectors.board_group(board)
        try:
            services.glaze(
                board=board,
                coats=make.coats(),
                schedule=make.schedule(),
                count=count,
                lost=lost,
                cause="slipped",
                **self.who,
            )
        except Refusal:
            assert group.stage != "bisqued" or not 1 <= count + lost <= group.count
        else:
            self.gone += lost

    @rule(data=st.data(), counts=st.tuples(*[st.integers(0, 3)] * 4))
    def grade(self, data: st.DataObject, counts: tuple[int, int, int, int]) -> None:
        board = self.board(data, "fired", "glazed")
        if board is None:
            return
        group = selectors.board_group(board)
        first, second, refire, scrap = counts
        try:
            services.grade(
                board=board,
                firsts=first,
                seconds=second,
                refires=refire,
                scraps=scrap,
                **self.who,
            )
        except Refusal:
            assert group.stage != "fired" or not 1 <= sum(counts) <= group.count
        else:
            self.gone += scrap

    @rule(data=st.data(), count=st.integers(-1, 4))
    def lose(self, data: st.DataObject, count: int) -> None:
        board = self.board(data, "thrown", "bisqued", "glazed", "fired", "graded")
        if board is None:
            return
        group = selectors.board_group(board)
        free = group.count - group.promised
        try:
            services.lose(board=board, count=count, parting="broken", cause="fell", **self.who)
        except Refusal:
            assert not 1 <= count <= free
        else:
            self.gone += count

    @rule(data=st.data(), count=st.integers(0, 5))
    def split(self, data: st.DataObject, count: int) -> None:
        board = self.board(data, "thrown", "bisqued", "glazed", "fired", "graded")
        if board is None:
            return
        holds = board.pieces.count()
        try:
            services.split(board=board, count=count, **self.who)
        except Refusal:
            assert not 1 <= count < holds

    @rule(data=st.data())
    def merge(self, data: st.DataObject) -> None:
        board = self.board(data, "thrown", "bisqued", "glazed", "fired", "graded")
        if board is None:
            return
        mates = selectors.mates(selectors.board_group(board))
        if mates:
            into = data.draw(st.sampled_from(mates)).board
            services.merge(board=board, into=into, **self.who)
            assert not board.pieces.exists()

    @rule(data=st.data(), onward=st.sampled_from(["list", "off", "sold", "promise", "release"]))
    def one_piece(self, data: st.DataObject, onward: str) -> None:
        stage = "listed" if onward == "off" else "graded"
        pieces = list(Piece.objects.at_stage(stage))
        if not pieces:
            return
        piece = data.draw(st.sampled_from(pieces))
        change = record(room="sales", action=onward, said=onward, by=self.who["by"], undo={})
        try:
            match onward:
                case "list":
                    services.list_pieces(pieces=[piece], change=change)
                case "off":
                    services.take_off_list(pieces=[piece], change=change)
                case "sold":
                    services.part(piece=piece, parting="sold", **self.who)
                    self.gone += 1
                case "promise":
                    services.reserve(piece=piece, kind="held", **self.who)
                case "release":
                    services.release(piece=piece, **self.who)
        except Refusal:
            promised = selectors.promise_of(piece) is not None
            assert promised == (onward != "release")

    @precondition(lambda self: Change.objects.filter(room="wares").exists())
    @rule(data=st.data())
    def undo(self, data: st.DataObject) -> None:
        """Any earlier change may be undone or refused; the count tells what came back."""
        changes = list(Change.objects.filter(room="wares", undoes=None).order_by("-id")[:6])
        change = data.draw(st.sampled_from(changes))
        before = selectors.sums()
        try:
            services.undo(change=change, **self.who)
        except Refusal:
            assert selectors.sums() == before
            return
        after = selectors.sums()
        self.made -= before.made - after.made
        self.gone -= sum(before.partings.values()) - sum(after.partings.values())
        assert before.made == after.made or change.action in ("throw", "count_in")

    @invariant()
    def the_sums_hold(self) -> None:
        total = selectors.sums()
        assert total.holds
        assert total.made == self.made
        assert sum(total.partings.values()) == self.gone
        assert sum(total.on_hand.values()) == self.made - self.gone
        assert selectors.broken_sums() == []

    @invariant()
    def every_board_is_of_one_kind(self) -> None:
        groups = selectors.boards_now()
        assert len({group.board.id for group in groups}) == len(groups)


@pytest.mark.django_db
def test_the_sums_hold_whatever_is_done() -> None:
    run_state_machine_as_test(
        Pottery,
        settings=settings(
            max_examples=15,
            stateful_step_count=25,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )


@pytest.mark.django_db
def test_a_move_that_is_missing_is_found(potter: User) -> None:
    piece = make.piece("bisqued")
    assert selectors.broken_sums() == []
    Move.objects.filter(piece=piece, seq=2).delete()
    assert selectors.broken_sums() == [
        f"Piece {piece.id} has 1 moves, the last numbered 1, but counts 2."
    ]
    Move.objects.filter(piece=piece).delete()
    assert "0 were made, but 1 on hand and 0 gone do not sum to that." in selectors.broken_sums()


@pytest.mark.django_db
def test_a_piece_that_was_set_elsewhere_is_found(potter: User) -> None:
    piece = make.piece("bisqued")
    Piece.objects.filter(id=piece.id).update(stage="thrown")
    assert selectors.broken_sums() == [
        f"Piece {piece.id} is thrown, but its last move went to bisqued."
    ]


@pytest.mark.django_db
def test_a_board_of_two_kinds_is_found(potter: User) -> None:
    one, other = make.board("thrown", 1, label="B1"), make.board("bisqued", 1)
    other.pieces.update(board=one)
    assert selectors.broken_sums() == ["Board B1 holds more than one kind or stage."]


@pytest.mark.django_db
def test_a_firing_of_the_wrong_kind_is_found(potter: User) -> None:
    piece = make.piece("bisqued")
    Piece.objects.filter(id=piece.id).update(bisque_firing=make.firing(make.schedule()))
    assert selectors.broken_sums() == [
        f"Piece {piece.id} was bisqued by a firing that is not opened or is of another kind."
    ]


@pytest.mark.django_db
def test_stock_stands_by_line() -> None:
    line = make.line()
    make.board("glazed", 3)
    make.board("graded", 2)
    make.board("bisqued", 9)
    assert selectors.stock_by_line() == {line.id: {"glazed": 3, "graded": 2}}
    assert Piece.objects.of_line(line).count() == 3 + 2
    piece = Piece.objects.at_stage("graded")[0]
    services.reserve(piece=piece, kind="held", by=make.user(), at=make.AT)
    assert Piece.objects.of_line(line).free().count() == 3 + 2 - 1
