"""Count in what stood in the studio before Wareboard saw a firing of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone

from studio.wares import rules
from studio.wares.models import ClayLot, Coats, Form, Move, Piece, Stage
from studio.wares.services.lines import ensure_line
from studio.wares.services.moves import TRIES, new_board
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record

if TYPE_CHECKING:
    from studio.firings.models import Schedule


@transaction.atomic
def count_in(
    *,
    form: Form,
    clay_lot: ClayLot,
    stage: str,
    count: int,
    coats: Coats | None = None,
    schedule: Schedule | None = None,
    grade: str = "first",
    board_label: str = "",
    place: str = "",
    made_date: date,
    by: User,
    at: datetime,
) -> Change:
    """Write down a board of pieces that stand at a stage already; '' takes the next free label.

    ``stage`` is one of ``rules.COUNTABLE``. From glazed on they have coats and the schedule they
    are meant for or were fired to; graded ones are of ``grade`` and get the next numbers. The
    change's subject is the board. Raises Refusal.
    """
    refuse(
        rules.can_count_in(
            stage=stage,
            count=count,
            has_coats=coats is not None,
            has_schedule=schedule is not None,
            grade=grade,
            made_date=made_date,
            today_date=timezone.localdate(at),
        )
    )
    if coats is not None and schedule is not None:
        ensure_line(form=form, clay_lot=clay_lot, coats=coats, schedule=schedule, by=by, at=at)
    board = new_board(label=board_label, place=place.strip())
    sample = Piece(
        form=form,
        clay_lot=clay_lot,
        coats=coats,
        schedule=schedule,
        stage=stage,
        grade=grade if stage == Stage.GRADED else "",
        board=board,
        made_date=made_date,
        counted_in=stage,
    )
    pieces = _stand(sample=sample, count=count)
    change = record(
        room="wares",
        action="count_in",
        said=_said(sample, pieces),
        by=by,
        at=at,
        subject="board",
        subject_id=board.id,
        undo={"made": [piece.id for piece in pieces]},
    )
    Move.objects.bulk_create(
        Move(
            piece=piece,
            seq=1,
            kind=Move.Kind.COUNTED,
            to_stage=stage,
            change=change,
            by_id=change.by_id,
            at=change.at,
        )
        for piece in pieces
    )
    return change


def _stand(*, sample: Piece, count: int) -> list[Piece]:
    """Store ``count`` pieces like the sample; graded ones with the next numbers.

    As at grading, whoever wants the same numbers later meets the unique ones and takes the next.
    """
    numbered = sample.stage == Stage.GRADED
    for _ in range(TRIES):
        top = Piece.objects.aggregate(top=Max("number"))["top"] or 0
        try:
            with transaction.atomic():
                Piece.objects.bulk_create(
                    _like(sample, number=top + n if numbered else None) for n in range(1, count + 1)
                )
        except IntegrityError:
            if not numbered:
                raise
            continue
        return list(Piece.objects.filter(board=sample.board).order_by("id"))
    raise Refusal(rules.OTHERS_NUMBER)


def _like(sample: Piece, *, number: int | None) -> Piece:
    values = {
        field.attname: getattr(sample, field.attname)
        for field in Piece._meta.concrete_fields
        if not field.primary_key
    }
    return Piece(**values | {"number": number})


def _said(sample: Piece, pieces: Sequence[Piece]) -> str:
    """Say what was counted in: "Counted in 24 × form in clay lot, bisqued: board B3"."""
    ware = f"in {sample.coats}" if sample.coats else f"in {sample.clay_lot}"
    stage = f"graded {sample.grade}s" if sample.grade else sample.stage
    said = f"Counted in {len(pieces)} × {sample.form} {ware}, {stage}: board {sample.board}"
    numbers = [piece.number for piece in pieces if piece.number is not None]
    if not numbers:
        return said
    return f"{said}, No. {numbers[0]}" + (f" to {numbers[-1]}" if len(numbers) > 1 else "")
