"""The lines, pots and people that the tests of sales and parcels share. All invented."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from django.contrib.auth.models import User
from django.db.models import Max

from studio.firings.models import Circuit, Firing, Kiln, Schedule
from studio.wares.models import ClayLot, Coats, Form, Line, Move, Piece
from studio.web.services import record

LONG_AGO = datetime(2026, 9, 1, 12, 0, tzinfo=UTC)
WAY = ["thrown", "bisqued", "glazed", "fired", "graded", "listed"]


def line(form: str = "Mug", coats: str = "Tidepool", *, price_pence: int = 3200) -> Line:
    """A line of this form and coats, made once."""
    made, _ = Form.objects.get_or_create(
        name=form,
        defaults={
            "silhouette": "mug",
            "width_mm": 85,
            "height_mm": 95,
            "weight_g": 350,
            "throwing_min": 12,
            "glazing_min": 4,
            "finishing_min": 3,
            "drying_days": 5,
            "room_tenths": 10,
            "price_pence": price_pence,
        },
    )
    clay, _ = ClayLot.objects.get_or_create(
        body="Harbour",
        lot="7",
        defaults={
            "received_date": date(2026, 8, 1),
            "shrinkage_permille": 120,
            "top_cone": "7",
        },
    )
    coat, _ = Coats.objects.get_or_create(name=coats, defaults={"top_cone": "7"})
    schedule, _ = Schedule.objects.get_or_create(
        name="Cone 6 slow", defaults={"kind": "glaze", "cone": "6", "cooling": "slow"}
    )
    found, _ = Line.objects.get_or_create(form=made, clay_lot=clay, coats=coat, schedule=schedule)
    return found


def pots(
    of: Line,
    count: int,
    by: User,
    *,
    stage: str = "graded",
    grade: str = "first",
) -> list[Piece]:
    """So many pieces of a line at a stage, with every move they took to get there."""
    bisque, glaze = _firing("bisque"), _firing("glaze")
    change = record(room="wares", action="throw", said=f"Cast: {count} {of}", by=by)
    steps = WAY[: WAY.index(stage) + 1]
    coated, graded = "glazed" in steps, "graded" in steps
    number = Piece.objects.aggregate(top=Max("number"))["top"] or 0
    made = []
    for n in range(count):
        piece = Piece.objects.create(
            form=of.form,
            clay_lot=of.clay_lot,
            coats=of.coats if coated else None,
            schedule=of.schedule if coated else None,
            stage=stage,
            seq=len(steps),
            made_date=LONG_AGO.date(),
            bisque_firing=bisque if "bisqued" in steps else None,
            glaze_firing=glaze if "fired" in steps else None,
            grade=grade if graded else "",
            number=number + n + 1 if graded else None,
        )
        _moves(piece, steps, change.id, by)
        made.append(piece)
    return made


def _moves(piece: Piece, steps: Iterable[str], change_id: int, by: User) -> None:
    before = ""
    for seq, stage in enumerate(steps, start=1):
        Move.objects.create(
            piece=piece,
            seq=seq,
            kind="made" if seq == 1 else "step",
            from_stage=before,
            to_stage=stage,
            change_id=change_id,
            by=by,
            at=LONG_AGO,
        )
        before = stage


def _firing(kind: str) -> Firing:
    """An opened firing of this kind, made once."""
    circuit, _ = Circuit.objects.get_or_create(name="Back wall")
    kiln, _ = Kiln.objects.get_or_create(
        name="Plum",
        defaults={
            "sides": 8,
            "inside_width_mm": 445,
            "inside_height_mm": 457,
            "top_cone": "8",
            "circuit": circuit,
            "glaze_room_tenths": 200,
            "bisque_room_tenths": 330,
        },
    )
    name = {"bisque": "Bisque 04", "glaze": "Cone 6 slow"}[kind]
    schedule, _ = Schedule.objects.get_or_create(
        name=name, defaults={"kind": kind, "cone": "04" if kind == "bisque" else "6"}
    )
    firing, _ = Firing.objects.get_or_create(
        kiln=kiln,
        schedule=schedule,
        state="opened",
        defaults={
            "start_date": LONG_AGO.date(),
            "busy_days": 2,
            "lit_at": LONG_AGO,
            "opened_at": LONG_AGO + timedelta(days=1),
        },
    )
    return firing
