"""Throw a board, dry it, part it in two, put two together, name it, and lose some of it."""

from __future__ import annotations

from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.wares import rules, selectors
from studio.wares.models import Board, ClayLot, Form, Move, Piece, Stage
from studio.wares.services.moves import (
    hold,
    new_board,
    put_on_board,
)
from studio.wares.services.steps import part_pieces
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record


@transaction.atomic
def throw(
    *,
    form: Form,
    clay_lot: ClayLot,
    count: int,
    board_label: str = "",
    place: str = "",
    made_date: date,
    sure: bool = True,
    by: User,
    at: datetime,
) -> Change:
    """Write down a board of new pieces; '' takes the next free label.

    ``sure`` False asks once when that is more than three times as many as usual.

    The change's subject is the board. Raises Refusal.
    """
    today_date = timezone.localdate(at)
    refuse(
        rules.can_throw(
            count=count,
            made_date=made_date,
            today_date=today_date,
            form=form.name,
            usual=0 if sure else selectors.usual_throw(form),
            sure=sure,
        )
    )
    board = new_board(label=board_label, place=place)
    change = record(
        room="wares",
        action="throw",
        said=f"Threw {count} × {form} in {clay_lot}: board {board}",
        by=by,
        at=at,
        subject="board",
        subject_id=board.id,
        undo={},
    )
    Piece.objects.bulk_create(
        Piece(form=form, clay_lot=clay_lot, board=board, made_date=made_date) for _ in range(count)
    )
    pieces = list(Piece.objects.filter(board=board))
    Move.objects.bulk_create(
        Move(piece=piece, seq=1, kind=Move.Kind.MADE, to_stage=Stage.THROWN, **_by(change))
        for piece in pieces
    )
    change.undo = {"made": [piece.id for piece in pieces]}
    change.save(update_fields=["undo"])
    return change


@transaction.atomic
def mark_dry(
    *,
    board: Board,
    dry_date: date,
    sure: bool = False,
    seen: str | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Record that a thrown board was seen to be bone dry. Raises Refusal.

    ``sure`` says that it was felt to be so; long before the form's drying days are over it must.
    """
    group = hold(board, seen)
    held = group.board
    refuse(
        rules.can_take(label=held.label, count=1, holds=group.count)
        or rules.can_dry(
            label=held.label,
            stage=group.stage,
            dry_date=dry_date,
            made_date=group.last_made_date or dry_date,
            today_date=timezone.localdate(at),
            form=str(group.form),
            drying_days=group.form.drying_days if group.form else 0,
            sure=sure,
        )
    )
    was = held.dry_date.isoformat() if held.dry_date else None
    held.dry_date = dry_date
    held.save(update_fields=["dry_date"])
    return record(
        room="wares",
        action="dry",
        said=f"Board {held} was called bone dry on {dry_date:%d %b}: {group.count} × {group.form}",
        by=by,
        at=at,
        subject="board",
        subject_id=held.id,
        undo={
            "board": held.id,
            "was": {"dry_date": was},
            "now": {"dry_date": str(dry_date)},
            "on": list(held.pieces.values_list("id", flat=True)),
        },
    )


@transaction.atomic
def place(*, board: Board, label: str, place: str = "", by: User, at: datetime) -> Change:
    """Call a board otherwise, or say where it stands. Raises Refusal."""
    held = Board.objects.select_for_update().get(id=board.id)
    label = label.strip()
    old = {"label": held.label, "place": held.place}
    if label != held.label:
        other = Board.objects.filter(label=label).first()
        refuse(rules.can_use_label(label=label, holds=other.pieces.count() if other else 0))
        if other is not None:  # an empty board gives its name away
            other.label = f"-{other.id}"
            other.save(update_fields=["label"])
    held.label, held.place = label, place.strip()
    held.save(update_fields=["label", "place"])
    stands = f" stands {held.place}" if held.place else " has no place"
    said = f"Board {held}{stands}"
    if old["label"] != label:
        said = f"Board {old['label']} is called {label} now" + (f", {place}" if place else "")
    return record(
        room="wares",
        action="place",
        said=said,
        by=by,
        at=at,
        subject="board",
        subject_id=held.id,
        undo={
            "board": held.id,
            "was": old,
            "now": {"label": held.label, "place": held.place},
        },
    )


@transaction.atomic
def split(
    *,
    board: Board,
    count: int,
    new_label: str = "",
    seen: str | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Put some of a board on another one. Raises Refusal. ``undo["new_board"]`` is its id."""
    group = hold(board, seen)
    refuse(rules.can_split(label=group.board.label, count=count, holds=group.count))
    other = new_board(label=new_label, place=group.board.place)
    other.dry_date = group.board.dry_date
    other.save(update_fields=["dry_date"])
    change = record(
        room="wares",
        action="split",
        said=f"Put {count} of the {group.count} × {group.form} of board {board.label} on {other}",
        by=by,
        at=at,
        subject="board",
        subject_id=board.id,
        undo={"new_board": other.id},
    )
    pieces = list(group.board.pieces.order_by("id")[:count])
    put_on_board(pieces=pieces, board=other, change=change)
    return change


@transaction.atomic
def merge(*, board: Board, into: Board, seen: str | None = None, by: User, at: datetime) -> Change:
    """Put all of a board onto another of the same kind and stage. Raises Refusal."""
    for id_ in sorted({board.id, into.id}):  # always in this order, so that two cannot deadlock
        Board.objects.select_for_update().get(id=id_)
    group, other = hold(board, seen), hold(into, None)
    label = group.board.label
    refuse(rules.can_take(label=label, count=group.count, holds=group.count))
    refuse(
        rules.can_merge(
            label=label, into=other.board.label, differ=selectors.difference(group, other)
        )
    )
    change = record(
        room="wares",
        action="merge",
        said=f"Put the {group.count} × {group.form} of board {label} onto {other.board}",
        by=by,
        at=at,
        subject="board",
        subject_id=board.id,
        undo={"onto": into.id},
    )
    put_on_board(pieces=list(group.board.pieces.all()), board=other.board, change=change)
    return change


@transaction.atomic
def lose(
    *,
    board: Board | None = None,
    piece: Piece | None = None,
    count: int = 1,
    parting: str,
    cause: str,
    fault: str = "",
    seen: str | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Write down that some of a board, or one piece, broke or was scrapped, and why.

    Raises Refusal. Of a board the free pieces made last are taken first.
    """
    refuse(rules.can_lose(parting=parting, cause=cause))
    if board is not None:
        group = hold(board, seen)
        label = group.board.label
        refuse(rules.can_take(label=label, count=count, holds=group.count))
        lost = list(
            group.board.pieces.order_by("reservation__id", "-id").select_related("form")
            if group.promised
            else group.board.pieces.order_by("-id").select_related("form")
        )
        free = (
            [one for one in lost if selectors.promise_of(one) is None] if group.promised else lost
        )
        pieces = (free + [one for one in lost if one not in free])[:count]
        said = f"{count} × {group.form} of board {label} {parting}: {cause}"
        subject, subject_id = "board", group.board.id
    else:
        assert piece is not None, "lose a board's pieces or one piece"
        pieces = list(Piece.objects.filter(id=piece.id).select_related("form", "board"))
        said = f"{selectors.piece_name(pieces[0])} {parting}: {cause}"
        subject, subject_id = "piece", piece.id
    change = record(
        room="wares",
        action="lose",
        said=said,
        by=by,
        at=at,
        subject=subject,
        subject_id=subject_id,
        undo={},
    )
    part_pieces(pieces=pieces, parting=parting, cause=cause, fault=fault, change=change)
    return change


def _by(change: Change) -> dict[str, object]:
    return {"change": change, "by_id": change.by_id, "at": change.at}
