"""Glaze, pass a firing, grade, list and part: the steps of pieces, each refused in its words.

``pass_firing``, ``part_pieces``, ``list_pieces`` and ``take_off_list`` are for use inside another
room's own change and transaction. They leave in ``change.undo["pieces"]`` what ``put_back`` needs;
a room that keeps more in ``change.undo`` adds keys to it and overwrites none.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.wares import rules, selectors
from studio.wares.models import Board, Coats, Fault, Move, Piece, Stage
from studio.wares.services.lines import ensure_line
from studio.wares.services.locking import lock_pieces
from studio.wares.services.moves import (
    hold,
    new_board,
    put_on_board,
    take_step,
)
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record

if TYPE_CHECKING:
    from studio.firings.models import Firing, Schedule


@transaction.atomic
def glaze(
    *,
    board: Board,
    coats: Coats,
    schedule: Schedule,
    count: int,
    lost: int = 0,
    cause: str = "",
    new_label: str = "",
    seen: str | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Glaze ``count`` of a bisqued board; ``lost`` of it are scrapped, the rest stays as it is.

    When something stays, the glazed ones go to a new board (``new_label`` or the next free one).
    ``undo["onto"]`` is the board the glazed ones stand on. Raises Refusal.
    """
    group = hold(board, seen)
    held = group.board
    refuse(
        rules.can_take(label=held.label, count=max(count + lost, 1), holds=group.count)
        or rules.can_glaze(
            label=held.label, stage=group.stage, count=count, lost=lost, holds=group.count
        )
    )
    assert group.form is not None
    assert group.clay_lot is not None
    refuse(
        rules.can_coat(
            coats=coats.name,
            coats_top_cone=coats.top_cone,
            clay_lot=str(group.clay_lot),
            clay_top_cone=group.clay_lot.top_cone,
            schedule=schedule.name,
            schedule_kind=schedule.kind,
            cone=schedule.cone,
        )
    )
    if lost:
        refuse(rules.can_lose(parting="scrapped", cause=cause))
    pieces = list(held.pieces.select_related("form").order_by("id"))
    on, gone = pieces[:count], pieces[len(pieces) - lost :] if lost else []
    stays = group.count - count - lost
    target = new_board(label=new_label, place=held.place) if stays and on else held
    change = record(
        room="wares",
        action="glaze",
        said=_glazed(group=group, count=count, lost=lost, stays=stays, coats=coats, onto=target),
        by=by,
        at=at,
        subject="board",
        subject_id=held.id,
        undo={"onto": target.id},
    )
    if on:
        ensure_line(
            form=group.form, clay_lot=group.clay_lot, coats=coats, schedule=schedule, by=by, at=at
        )
        if target != held:
            put_on_board(pieces=on, board=target, change=change)
        take_step(
            pieces=on,
            kind=Move.Kind.STEP,
            to_stage=Stage.GLAZED,
            change=change,
            set_to={"coats_id": coats.id, "schedule_id": schedule.id},
        )
    if gone:
        part_pieces(pieces=gone, parting="scrapped", cause=cause, change=change)
    return change


def pass_firing(
    *,
    pieces: Iterable[Piece],
    to_stage: str,
    firing: Firing,
    change: Change,
    at: datetime | None = None,
) -> None:
    """Bring pieces to bisqued or fired by an opened firing, within the caller's transaction.

    Part the lost ones first: when only some of what is on a board passes, those go to a board of
    their own. Raises Refusal.
    """
    going = list(
        Piece.objects.filter(id__in=[piece.id for piece in pieces])
        .select_related("form", "clay_lot", "schedule", "board")
        .order_by("id")
    )
    alike = {(one.stage, one.clay_lot, one.schedule, one.parting) for one in going}
    for stage, clay_lot, schedule, parting in alike:
        refuse(f"A piece that is {parting} cannot pass a firing." if parting else None)
        refuse(
            rules.can_pass_firing(
                stage=stage,
                to_stage=to_stage,
                firing=str(firing),
                firing_state=firing.state,
                firing_kind=firing.schedule.kind,
                firing_schedule=firing.schedule.name,
                own_schedule=schedule.name if schedule else None,
                cone=firing.schedule.cone,
                clay_lot=str(clay_lot),
                clay_top_cone=clay_lot.top_cone,
            )
        )
    refuse(_in_other_load(going, firing_id=firing.id))
    _keep_boards_of_one_stage(going, change)
    field = "bisque_firing_id" if to_stage == Stage.BISQUED else "glaze_firing_id"
    take_step(
        pieces=going,
        kind=Move.Kind.STEP,
        to_stage=to_stage,
        change=change,
        at=at,
        firing_id=firing.id,
        set_to={field: firing.id},
    )


def part_pieces(
    *,
    pieces: Sequence[Piece],
    parting: str,
    cause: str = "",
    fault: str = "",
    firing: Firing | None = None,
    keeps_promise: str = "",
    change: Change,
    at: datetime | None = None,
) -> None:
    """Let pieces leave, within the caller's transaction.

    ``firing`` is where they were lost: they may stand in its load. ``keeps_promise`` is the kind
    of reservation that this parting fulfils ("parcel" when a parcel is posted). Raises Refusal.
    """
    refuse(rules.can_note(cause))
    lock_pieces(piece.id for piece in pieces)
    promises = selectors.promises_of(pieces)
    fulfilled = []
    for piece in pieces:
        reservation = promises.get(piece.id)
        if reservation is not None and reservation.kind == keeps_promise:
            fulfilled.append(reservation)
            reservation = None
        refuse(
            rules.can_part(
                name=selectors.piece_name(piece),
                parting=parting,
                gone=piece.parting,
                promise=selectors.promise_words(reservation),
            )
        )
    refuse(_in_other_load(pieces, firing_id=firing.id if firing else None))
    take_step(
        pieces=pieces,
        kind=Move.Kind.PARTING,
        change=change,
        at=at,
        firing_id=firing.id if firing else None,
        parting=parting,
        cause=cause,
        set_to={
            "parting": parting,
            "parted_date": timezone.localdate(at or change.at),
            "parting_cause": cause,
            "board_id": None,
        },
    )
    if fulfilled:
        undo = change.undo or {}
        undo.setdefault("promises", []).extend(
            selectors.promise_kept(reservation) for reservation in fulfilled
        )
        change.undo = undo
        change.save(update_fields=["undo"])
        for reservation in fulfilled:
            reservation.delete()
    if fault:
        find_fault(pieces=pieces, fault=fault, firing=firing, change=change)


@transaction.atomic
def part(
    *,
    piece: Piece,
    parting: str,
    cause: str = "",
    keeps_promise: str = "",
    by: User,
    at: datetime,
) -> Change:
    """Let one piece leave (kept, sold, sent) as a change of its own. Raises Refusal."""
    read = Piece.objects.select_related("form", "board").get(id=piece.id)
    name = selectors.piece_name(read)
    change = record(
        room="wares",
        action="part",
        said=f"{name} {parting}" + (f": {cause}" if cause else ""),
        by=by,
        at=at,
        subject="piece",
        subject_id=piece.id,
        undo={},
    )
    part_pieces(
        pieces=[read], parting=parting, cause=cause, keeps_promise=keeps_promise, change=change
    )
    return change


def list_pieces(*, pieces: Sequence[Piece], change: Change, at: datetime | None = None) -> None:
    """Bring graded pieces to listed, within the caller's transaction. They leave their board.

    Raises Refusal.
    """
    lock_pieces(piece.id for piece in pieces)
    promises = selectors.promises_of(pieces)
    for piece in pieces:
        refuse(
            rules.can_list(
                name=selectors.piece_name(piece),
                stage=piece.stage,
                gone=piece.parting,
                promise=selectors.promise_words(promises.get(piece.id)),
            )
        )
    take_step(
        pieces=pieces,
        kind=Move.Kind.STEP,
        to_stage=Stage.LISTED,
        change=change,
        at=at,
        set_to={"board_id": None},
    )


def take_off_list(*, pieces: Sequence[Piece], change: Change, at: datetime | None = None) -> None:
    """Bring listed pieces back to graded, within the caller's transaction. Raises Refusal."""
    for piece in pieces:
        refuse(
            rules.can_take_off_list(
                name=selectors.piece_name(piece), stage=piece.stage, gone=piece.parting
            )
        )
    take_step(pieces=pieces, kind=Move.Kind.BACK, to_stage=Stage.GRADED, change=change, at=at)


@transaction.atomic
def see_fault(*, piece: Piece, fault: str, by: User, at: datetime) -> Change:
    """Write down a fault that was seen on one piece, at any time of its life. Raises Refusal."""
    read = Piece.objects.select_related("form", "board").get(id=piece.id)
    name = selectors.piece_name(read)
    refuse(
        rules.can_see_fault(name=name, fault=fault, seen=read.faults.filter(kind=fault).exists())
    )
    change = record(
        room="wares",
        action="fault",
        said=f"{name}: {dict(rules.FAULTS)[fault]} seen",
        by=by,
        at=at,
        subject="piece",
        subject_id=read.id,
        undo={},
    )
    find_fault(pieces=[read], fault=fault, firing=None, change=change)
    return change


def find_fault(
    *, pieces: Sequence[Piece], fault: str, firing: Firing | None, change: Change
) -> None:
    """Write down a fault seen on pieces, as a part of the caller's change. Raises Refusal."""
    refuse(rules.can_name_fault(fault))
    made = [
        Fault.objects.get_or_create(piece=piece, kind=fault, defaults={"firing": firing})
        for piece in pieces
    ]
    undo = change.undo or {}
    undo.setdefault("faults", []).extend(row.id for row, is_new in made if is_new)
    change.undo = undo
    change.save(update_fields=["undo"])


def _in_other_load(pieces: Sequence[Piece], *, firing_id: int | None) -> str | None:
    """Say in which kiln a piece stands, when it is not the load of this firing."""
    ids = [piece.id for piece in pieces]
    loads = Piece.objects.filter(id__in=ids).in_open_load()
    for load_id, kiln, label in loads.values_list(
        "places__firing_id", "places__firing__kiln__name", "places__board__label"
    ):
        if load_id != firing_id:
            return rules.can_touch(label=label, kiln=kiln)
    return None


def _keep_boards_of_one_stage(going: Sequence[Piece], change: Change) -> None:
    """Give those that go a board of their own where others stay behind on theirs."""
    on_board: dict[Board, list[Piece]] = defaultdict(list)
    for piece in going:
        if piece.board is not None:
            on_board[piece.board].append(piece)
    for board, some in on_board.items():
        if board.pieces.count() > len(some):
            other = new_board(label="", place=board.place)
            put_on_board(pieces=some, board=other, change=change)


def _glazed(
    *, group: selectors.Group, count: int, lost: int, stays: int, coats: Coats, onto: Board
) -> str:
    """Say what was glazed: "Glazed 22 × form of board B3 in coats; 2 lost"."""
    said = f"Glazed {count} × {group.form} of board {group.board} in {coats}"
    if lost:
        said += f"; {lost} lost"
    if onto != group.board:
        said += f"; they are board {onto} now, {stays} stay"
    return said
