"""What the database itself refuses, whoever writes: one raw write a constraint, each must fail."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.wares.models import (
    Board,
    ClayLot,
    Coat,
    Coats,
    Fault,
    Form,
    Glaze,
    Line,
    Move,
    Photo,
    Piece,
    Reservation,
)
from studio.web.models import Change
from studio.web.services import record
from tests import make

pytestmark = pytest.mark.django_db


def fails(write: Callable[[], Any]) -> str:
    """Assert that the database refuses, and answer its words."""
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        write()
    return str(refused.value)


def set_to(piece: Piece, **values: Any) -> Callable[[], Any]:
    return lambda: Piece.objects.filter(id=piece.id).update(**values)


@pytest.mark.parametrize(
    ("stage", "values", "name"),
    [
        ("thrown", {"stage": "flying"}, "piece_"),
        ("thrown", {"stage": "bisqued"}, "piece_bisqued_by_a_firing"),
        ("bisqued", {"stage": "glazed"}, "piece_coats_from_glazed_on"),
        ("glazed", {"stage": "bisqued"}, "piece_coats_from_glazed_on"),
        ("glazed", {"coats": None}, "piece_coats_from_glazed_on"),
        ("glazed", {"schedule": None}, "piece_coats_from_glazed_on"),
        ("glazed", {"stage": "fired"}, "piece_fired_by_a_firing"),
        ("fired", {"stage": "graded", "number": 1}, "piece_grade_from_graded_on"),
        ("fired", {"grade": "first"}, "piece_grade_from_graded_on"),
        ("fired", {"stage": "graded", "grade": "first"}, "piece_numbered_from_graded_on"),
        ("graded", {"number": None}, "piece_numbered_from_graded_on"),
        ("graded", {"grade": "third"}, "piece_grade_from_graded_on"),
        ("graded", {"parting": "sold", "board": None}, "piece_parted_with_a_date"),
        (
            "graded",
            {"parting": "sold", "parted_date": date(2026, 4, 1)},
            "piece_parted_with_a_date",
        ),
        ("graded", {"parted_date": date(2026, 4, 1)}, "piece_parted_with_a_date"),
        (
            "graded",
            {"parting": "eaten", "board": None, "parted_date": date(2026, 4, 1)},
            "piece_parted_with_a_date",
        ),
        ("thrown", {"seq": 0}, "piece_seq_from_one"),
    ],
)
def test_a_piece(stage: str, values: dict[str, Any], name: str) -> None:
    assert name in fails(set_to(make.piece(stage), **values))


def test_a_number_is_given_once() -> None:
    first, second = make.pieces("graded", 2)
    fails(set_to(second, number=first.number))


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ({"seq": 1, "kind": "step", "from_stage": "thrown", "to_stage": "bisqued"}, ""),
        ({"seq": 0, "kind": "step", "from_stage": "thrown", "to_stage": "bisqued"}, "move_seq"),
        ({"kind": "step", "from_stage": "thrown", "to_stage": "glazed"}, "move_by_the_stages"),
        ({"kind": "step", "from_stage": "bisqued", "to_stage": "thrown"}, "move_by_the_stages"),
        ({"kind": "refire", "from_stage": "graded", "to_stage": "glazed"}, "move_by_the_stages"),
        ({"kind": "made", "from_stage": "", "to_stage": "bisqued"}, "move_by_the_stages"),
        ({"kind": "leap", "from_stage": "thrown", "to_stage": "thrown"}, "move_by_the_stages"),
        (
            {"kind": "parting", "from_stage": "thrown", "to_stage": "bisqued", "parting": "sold"},
            "move_by_the_stages",
        ),
        (
            {"kind": "parting", "from_stage": "thrown", "to_stage": "thrown"},
            "move_parting_only_when_parting",
        ),
        (
            {"kind": "step", "from_stage": "thrown", "to_stage": "bisqued", "parting": "sold"},
            "move_parting_only_when_parting",
        ),
    ],
)
def test_a_move(potter: User, values: dict[str, Any], name: str) -> None:
    piece = make.piece("thrown")
    change = record(room="wares", action="x", said="x", by=potter)
    whole = {"piece": piece, "seq": 2, "change": change, "by": potter, "at": make.AT} | values
    assert name in fails(lambda: Move.objects.create(**whole))


def test_names_count_whatever_their_capitals() -> None:
    make.form("Mug"), make.clay_lot("Grey", lot="7a"), make.glaze("Kelp"), make.coats("Dusk")
    tries: list[Callable[[], Any]] = [
        lambda: make.form("mug"),
        lambda: make.clay_lot("GREY", lot="7A"),
        lambda: make.glaze("KELP"),
        lambda: Coats.objects.create(name="dusk", top_cone="6"),
    ]
    for write in tries:
        fails(write)


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ({"width_mm": 0}, "form_sizes_real"),
        ({"height_mm": 0}, "form_sizes_real"),
        ({"weight_g": 0}, "form_sizes_real"),
        ({"room_tenths": 0}, "form_sizes_real"),
        ({"drying_days": 0}, "form_dries"),
        ({"silhouette": "teapot"}, "form_silhouette_known"),
    ],
)
def test_a_form(values: dict[str, Any], name: str) -> None:
    form = make.form()
    assert name in fails(lambda: Form.objects.filter(id=form.id).update(**values))


def test_clay_shrinks_less_than_a_third() -> None:
    lot = make.clay_lot()
    words = fails(lambda: ClayLot.objects.filter(id=lot.id).update(shrinkage_permille=300))
    assert "clay_shrinkage_possible" in words


def test_coats_have_an_order() -> None:
    coats = make.coats()
    glaze = Glaze.objects.get()
    fails(lambda: Coat.objects.create(coats=coats, seq=1, glaze=glaze))
    assert "coat_seq" in fails(lambda: Coat.objects.create(coats=coats, seq=0, glaze=glaze))


def test_a_line_is_there_once_and_its_standing_is_known() -> None:
    line = make.line()
    key = {name: getattr(line, name) for name in ("form", "clay_lot", "coats", "schedule")}
    fails(lambda: Line.objects.create(**key))
    words = fails(lambda: Line.objects.filter(id=line.id).update(standing="famous"))
    assert "line_standing_known" in words


def test_boards_have_labels_of_their_own() -> None:
    Board.objects.create(label="B1")
    fails(lambda: Board.objects.create(label="B1"))
    assert "board_labelled" in fails(lambda: Board.objects.create(label=""))


def test_a_photo_is_kept_once() -> None:
    values = {"name": "ab.jpg", "width_px": 1, "height_px": 1, "kept_at": make.AT}
    Photo.objects.create(**values)
    fails(lambda: Photo.objects.create(**values))


def test_a_fault_once_and_one_promise(potter: User) -> None:
    piece = make.piece("graded")
    Fault.objects.create(piece=piece, kind="dunt")
    fails(lambda: Fault.objects.create(piece=piece, kind="dunt"))
    promise = {"piece": piece, "by": potter, "at": make.AT}
    words = fails(lambda: Reservation.objects.create(kind="dibs", **promise))
    assert "reservation_kind_known" in words
    Reservation.objects.create(kind="claim", **promise)
    fails(lambda: Reservation.objects.create(kind="held", **promise))


def test_a_change_is_undone_once(potter: User) -> None:
    change = record(room="wares", action="x", said="x", by=potter)
    undoing = {"room": "wares", "action": "undo", "said": "x", "by": potter, "at": make.AT}
    Change.objects.create(undoes=change, **undoing)
    fails(lambda: Change.objects.create(undoes=change, **undoing))
