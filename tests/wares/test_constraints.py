"""What the database itself refuses, whoever writes: one raw write a constraint, each must fail."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction

from studio.wares.models import (
    Board,
    Bucket,
    ClayLot,
    Coat,
    Coats,
    Fault,
    Form,
    Glaze,
    KilnTrial,
    LabResult,
    Line,
    Move,
    Photo,
    Piece,
    ProofRule,
    Reservation,
)
from studio.web.models import Change
from studio.web.services import record
from tests import make

pytestmark = pytest.mark.django_db
Write = Callable[[], Any]
DAY = date(2026, 4, 1)


def piece(at: str, /, **values: Any) -> Write:
    return lambda: Piece.objects.filter(id=make.piece(at).id).update(**values)


def bucket() -> Bucket:
    return Bucket.objects.create(glaze=make.glaze("Dusk"), mixed_date=DAY, kept_at=make.AT)


def kiln_trial(said: str) -> KilnTrial:
    return KilnTrial.objects.create(line=make.line(), kiln=make.kiln(), said=said)


def lab_result(**values: Any) -> LabResult:
    line = make.line()
    own = {
        "coats": line.coats, "clay_lot": line.clay_lot, "schedule": line.schedule,
        "lab": "Weir Laboratory", "tested_date": DAY, "method": "acetic acid, 24 h",
        "measured": "lead", "result": 1, "unit": "mg/l", "by": make.user(), "at": make.AT,
    }  # fmt: skip
    return LabResult.objects.create(**(own | values))


def move(**values: Any) -> Write:
    def write() -> None:
        change = record(room="wares", action="x", said="x", by=make.user())
        own = {"piece": make.piece("thrown"), "seq": 2, "change": change, "kind": "step"}
        ways = {"from_stage": "thrown", "to_stage": "bisqued", "by": make.user(), "at": make.AT}
        Move.objects.create(**own | ways | values)

    return write


def form(**values: Any) -> Write:
    return lambda: Form.objects.filter(id=make.form().id).update(**values)


def clay_lot(**values: Any) -> Write:
    return lambda: ClayLot.objects.filter(id=make.clay_lot().id).update(**values)


def coat(seq: int) -> Write:
    return lambda: Coat.objects.create(coats=make.coats(), seq=seq, glaze=make.glaze())


def twice(write: Callable[[], Any]) -> Write:
    return lambda: (write(), write())


def promise(*kinds: str) -> Write:
    def write() -> None:
        one = make.piece("graded")
        for kind in kinds:
            Reservation.objects.create(piece=one, kind=kind, by=make.user(), at=make.AT)

    return write


def same_line() -> None:
    line = make.line()
    names = ("form", "clay_lot", "coats", "schedule")
    Line.objects.create(**{name: getattr(line, name) for name in names})


def same_fault() -> None:
    one = make.piece("graded")
    for _ in range(2):
        Fault.objects.create(piece=one, kind="dunt")


def same_number() -> None:
    first, second = make.pieces("graded", 2)
    Piece.objects.filter(id=second.id).update(number=first.number)


def undone_twice() -> None:
    change = record(room="wares", action="x", said="x", by=make.user())
    for _ in range(2):
        Change.objects.create(
            room="wares", action="undo", said="x", by=make.user(), at=make.AT, undoes=change
        )


def same_photo() -> None:
    Photo.objects.create(name="ab.jpg", width_px=1, height_px=1, kept_at=make.AT)


MUST_FAIL: dict[str, Write] = {
    "piece_stage_known": piece("graded", stage="flying"),
    "piece_bisqued_by_a_firing": piece("thrown", stage="bisqued"),
    "piece_coats_from_glazed_on early": piece("bisqued", stage="glazed"),
    "piece_coats_from_glazed_on late": piece("glazed", stage="bisqued"),
    "piece_coats_from_glazed_on coats": piece("glazed", coats=None),
    "piece_coats_from_glazed_on schedule": piece("glazed", schedule=None),
    "piece_fired_by_a_firing": piece("glazed", stage="fired"),
    "piece_counted_in_for_what_was": piece("bisqued", counted_in="bisqued"),
    "piece_grade_from_graded_on none": piece("fired", stage="graded", number=1),
    "piece_grade_from_graded_on early": piece("fired", grade="first"),
    "piece_grade_from_graded_on third": piece("graded", grade="third"),
    "piece_numbered_from_graded_on": piece("fired", stage="graded", grade="first"),
    "piece_numbered_from_graded_on taken": piece("graded", number=None),
    "piece_parted_with_a_date none": piece("graded", parting="sold", board=None),
    "piece_parted_with_a_date board": piece("graded", parting="sold", parted_date=DAY),
    "piece_parted_with_a_date here": piece("graded", parted_date=DAY),
    "piece_parted_with_a_date eaten": piece("graded", parting="eaten", board=None, parted_date=DAY),
    "piece_seq_from_one": piece("thrown", seq=0),
    "piece number": same_number,
    "move_once_in_turn": move(seq=1),
    "move_seq_from_one": move(seq=0),
    "move_by_the_stages leap": move(to_stage="glazed"),
    "move_by_the_stages back": move(from_stage="bisqued", to_stage="thrown"),
    "move_by_the_stages refire": move(kind="refire", from_stage="graded", to_stage="glazed"),
    "move_by_the_stages made": move(kind="made", from_stage=""),
    "move_by_the_stages counted": move(kind="counted", from_stage="", to_stage="thrown"),
    "move_by_the_stages unknown": move(kind="leap", to_stage="thrown"),
    "move_by_the_stages parting": move(kind="parting", parting="sold"),
    "move_parting_only_when_parting none": move(kind="parting", to_stage="thrown"),
    "move_parting_only_when_parting step": move(parting="sold"),
    "form_named": form(name=""),
    "form_name_once": lambda: (make.form("Mug"), make.form("mug")),
    "form_sizes_real width": form(width_mm=0),
    "form_sizes_real height": form(height_mm=0),
    "form_sizes_real weight": form(weight_g=0),
    "form_sizes_real room": form(room_tenths=0),
    "form_dries": form(drying_days=0),
    "form_work_possible throwing": form(throwing_min=1441),
    "form_work_possible glazing": form(glazing_min=1441),
    "form_work_possible finishing": form(finishing_min=1441),
    "form_work_possible drying": form(drying_days=366),
    "form_price_and_weight_possible price": form(price_pence=10_000_001),
    "form_price_and_weight_possible weight": form(weight_g=100_001),
    "form_silhouette_known": form(silhouette="teapot"),
    "form_length_is_the_longer": form(width_mm=90, length_mm=89),
    "form_handle_has_a_width": form(handle_width_mm=1),
    "form_stacks_as_told": form(stacks="no", stack_most=2),
    "form_stacks_as_told nested": form(stacks="nested", stack_most=2, nest_step_mm=0),
    "clay_lot_once": lambda: (make.clay_lot("Grey", lot="7a"), make.clay_lot("GREY", lot="7A")),
    "clay_lot_named body": clay_lot(body=""),
    "clay_lot_named lot": clay_lot(lot=""),
    "clay_cone_known": clay_lot(top_cone="60"),
    "clay_shrinkage_possible": clay_lot(shrinkage_permille=300),
    "glaze_named": lambda: Glaze.objects.filter(id=make.glaze().id).update(name=""),
    "glaze_cone_known": lambda: Glaze.objects.filter(id=make.glaze().id).update(top_cone=""),
    "coats_named": lambda: Coats.objects.filter(id=make.coats().id).update(name=""),
    "coats_cone_known": lambda: Coats.objects.filter(id=make.coats().id).update(top_cone="006"),
    "fault_known": lambda: Fault.objects.create(piece=make.piece("graded"), kind="ugly"),
    "glaze_name_once": lambda: (make.glaze("Kelp"), make.glaze("KELP")),
    "coats_name_once": lambda: (
        make.coats("Dusk"),
        Coats.objects.create(name="dusk", top_cone="6"),
    ),
    "coat_order_once": coat(seq=1),
    "coat_seq_from_one": coat(seq=0),
    "line_once": same_line,
    "line_standing_known": lambda: Line.objects.filter(id=make.line().id).update(standing="famous"),
    "board_labelled": lambda: Board.objects.create(label=""),
    "board label": twice(lambda: Board.objects.create(label="B1")),
    "photo name": twice(same_photo),
    "fault_once": same_fault,
    "reservation_kind_known": promise("dibs"),
    "reservation piece": promise("claim", "held"),
    "change undoes": undone_twice,
    "bucket_once_a_day": twice(lambda: bucket()),
    "line_word_known": lambda: Line.objects.filter(id=make.line().id).update(word="good"),
    "proof_rule_is_one": lambda: ProofRule.objects.create(id=2),
    "proof_rule_sizes firings": lambda: ProofRule.objects.create(firings=0),
    "proof_rule_sizes pieces": lambda: ProofRule.objects.create(pieces=1000),
    "proof_rule_sizes percent": lambda: ProofRule.objects.create(good_percent=100),
    "proof_rule_sizes confirming": lambda: ProofRule.objects.create(firings=2, confirming=3),
    "proof_rule_sizes craze": lambda: ProofRule.objects.create(craze_days=366),
    "kiln_trial_once": twice(lambda: kiln_trial("new elements")),
    "kiln_trial_says_why": lambda: kiln_trial(""),
    "lab_result_once": twice(lambda: lab_result()),
    "lab_result_told lab": lambda: lab_result(lab=""),
    "lab_result_told measured": lambda: lab_result(measured=""),
    "lab_result_told below": lambda: lab_result(result=-1),
    "lab_limit_has_a_source source": lambda: lab_result(limit=2, limit_date=DAY),
    "lab_limit_has_a_source date": lambda: lab_result(limit=2, limit_source="our own"),
}

HIDDEN = {"piece_stage_known": "piece_"}
"""What no row can break alone: another constraint is named first."""


@pytest.mark.parametrize("case", list(MUST_FAIL))
def test_the_database_refuses(case: str) -> None:
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        MUST_FAIL[case]()
    name, words = case.split(" ")[0], str(refused.value)
    if connection.vendor == "sqlite" and "UNIQUE" in words:
        return  # SQLite names the columns of a unique constraint, not the constraint
    assert HIDDEN.get(name, name) in words


def test_every_constraint_of_the_room_is_tried() -> None:
    tried = {case.split(" ")[0] for case in MUST_FAIL}
    models = apps.get_app_config("wares").get_models()
    ours = {constraint.name for model in models for constraint in model._meta.constraints}
    assert len(ours) > 20
    assert ours <= tried


def test_what_must_be_possible_is() -> None:
    """Otherwise a check that refuses everything would pass the tests above."""
    move()()
    coat(seq=2)()
    form(width_mm=90)()
    promise("claim")()
    piece("graded", grade="second")()
    make.line(), make.form("Bowl"), make.clay_lot("Grey"), make.glaze("Dusk"), make.coats("Dusk")
    same_photo()
