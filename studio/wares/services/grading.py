"""Grade what came out of a glaze firing, and give the good ones their numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.db.models import Max

from studio.wares import rules, selectors
from studio.wares.models import Board, Move, Piece, Stage
from studio.wares.services.moves import (
    hold,
    new_board,
    put_on_board,
    remember,
    take_step,
)
from studio.wares.services.standing import restand_pieces
from studio.wares.services.steps import find_fault, part_pieces
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record

if TYPE_CHECKING:
    from studio.firings.models import Firing

TRIES = 5


@transaction.atomic
def grade(
    *,
    board: Board,
    firsts: int,
    seconds: int,
    refires: int = 0,
    scraps: int = 0,
    faults: Mapping[str, str] | None = None,
    new_label: str = "",
    place: str = "",
    seen: str | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Grade a fired board by count; firsts and seconds get the next numbers.

    ``place`` is where the graded ones stand now, '' where the board stood. ``faults`` names a
    fault for "second", "refire" and "scrap". Refires go back to glazed on a
    board of their own; scraps leave; what is not counted stays fired. ``undo["onto"]`` is the
    board of the graded ones. Raises Refusal.
    """
    group = hold(board, seen)
    held = group.board
    refuse(rules.can_take(label=held.label, count=max(group.count, 1), holds=group.count))
    assert group.form is not None
    refuse(
        rules.can_grade(
            label=held.label,
            stage=group.stage,
            firsts=firsts,
            seconds=seconds,
            refires=refires,
            scraps=scraps,
            holds=group.count,
            form=group.form.name,
            may_refire=group.form.may_refire,
        )
    )
    found = dict(faults or {})
    pieces = list(held.pieces.select_related("form", "glaze_firing").order_by("id"))
    first, pieces = pieces[:firsts], pieces[firsts:]
    second, pieces = pieces[:seconds], pieces[seconds:]
    again, pieces = pieces[:refires], pieces[refires:]
    scrap, stay = pieces[:scraps], pieces[scraps:]
    good = first + second
    was_at = held.place
    target = new_board(label=new_label, place=place or was_at) if stay and good else held
    change = record(
        room="wares",
        action="grade",
        said=_graded(group, firsts=firsts, seconds=seconds, refires=refires, scraps=scraps),
        by=by,
        at=at,
        subject="board",
        subject_id=held.id,
        undo={"onto": target.id} | _put_away(held, place=place if good and target == held else ""),
    )
    if target != held:
        put_on_board(pieces=good, board=target, change=change)
    _give_numbers(pieces=good, change=change)
    for some, mark in ((first, Piece.Grade.FIRST), (second, Piece.Grade.SECOND)):
        take_step(
            pieces=some,
            kind=Move.Kind.STEP,
            to_stage=Stage.GRADED,
            change=change,
            set_to={"grade": mark.value},
        )
    _fire_again(pieces=again, alone=not (good or stay), change=change)
    for firing, some in _by_firing(scrap):
        part_pieces(
            pieces=some,
            parting=Piece.Parting.SCRAPPED,
            cause=dict(rules.FAULTS).get(found.get("scrap", ""), "scrapped at grading"),
            firing=firing,
            change=change,
        )
    for some, outcome in ((second, "second"), (again, "refire"), (scrap, "scrap")):
        if found.get(outcome):
            for firing, alike in _by_firing(some):
                find_fault(pieces=alike, fault=found[outcome], firing=firing, change=change)
    restand_pieces([piece.id for piece in first + second + again + scrap], change=change)
    return change


def _put_away(board: Board, *, place: str) -> dict[str, Any]:
    """Say where a board stands now, and answer what undoing that needs."""
    if not place or place == board.place:
        return {}
    was, board.place = board.place, place
    board.save(update_fields=["place"])
    return {"board": board.id, "was": {"place": was}, "now": {"place": place}}


def _fire_again(*, pieces: Sequence[Piece], alone: bool, change: Change) -> None:
    """Send pieces back to glazed; ``alone`` when they are all that is on their board."""
    if not pieces:
        return
    if not alone:
        put_on_board(pieces=pieces, board=new_board(label=""), change=change)
    for firing, some in _by_firing(pieces):
        for refires in {piece.refires for piece in some}:
            take_step(
                pieces=[piece for piece in some if piece.refires == refires],
                kind=Move.Kind.REFIRE,
                to_stage=Stage.GLAZED,
                change=change,
                firing_id=firing.id if firing else None,
                set_to={"refires": refires + 1},
            )


def _give_numbers(*, pieces: Sequence[Piece], change: Change) -> None:
    """Give the next numbers to pieces that have none.

    Two people grading at once want the same numbers; the later one meets the unique number of the
    first and takes the ones after it.
    """
    new = [piece for piece in pieces if piece.number is None]
    if not new:
        return
    remember(change=change, pieces=new, fields=["number"], moved=False)
    for _ in range(TRIES):
        top = Piece.objects.aggregate(top=Max("number"))["top"] or 0
        for number, piece in enumerate(new, start=top + 1):
            piece.number = number
        try:
            with transaction.atomic():
                Piece.objects.bulk_update(new, ["number"], batch_size=200)
        except IntegrityError:
            continue
        return
    raise Refusal(rules.OTHERS_NUMBER)


def _by_firing(pieces: Sequence[Piece]) -> list[tuple[Firing | None, list[Piece]]]:
    """Pieces by the glaze firing they came out of."""
    firings = {piece.glaze_firing_id: piece.glaze_firing for piece in pieces}
    return [
        (firing, [piece for piece in pieces if piece.glaze_firing_id == id_])
        for id_, firing in firings.items()
    ]


def _graded(group: selectors.Group, *, firsts: int, seconds: int, refires: int, scraps: int) -> str:
    """Say how a board was graded: "Graded Mug of board B3: 20 firsts, 2 seconds"."""
    counts = [
        f"{n} {one if n == 1 else many}"
        for n, one, many in (
            (firsts, "first", "firsts"),
            (seconds, "second", "seconds"),
            (refires, "to refire", "to refire"),
            (scraps, "scrapped", "scrapped"),
        )
        if n
    ]
    return f"Graded {group.form} of board {group.board}: {', '.join(counts)}"
