"""Undo a change of this room, while nothing later depends on it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.wares import rules, selectors
from studio.wares.models import Board, Fault, Line, Move, Piece, Reservation
from studio.wares.services.catalogue import put_entry_back
from studio.wares.services.lab import take_off_file
from studio.wares.services.moves import put_back
from studio.wares.services.standing import (
    pour_away,
    put_rule_back,
    stand_back,
    try_again_in_kilns,
)
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record


@transaction.atomic
def undo(*, change: Change, by: User, at: datetime) -> Change:
    """Put back what a change of this room did, and answer the change that says so.

    Raises Refusal when it has no way back, was undone already, or something was built on it.
    """
    kept: dict[str, Any] | None = change.undo
    if change.room != "wares" or kept is None:
        raise Refusal(f"“{change.said}” has no way back here.")
    earlier = Change.objects.filter(undoes=change).select_related("by").first()
    if earlier is not None:
        raise Refusal(rules.too_late_to_undo(selectors.told(earlier)))
    undoing = record(
        room="wares",
        action="undo",
        said=f"Undid: {change.said}",
        by=by,
        at=at,
        subject=change.subject,
        subject_id=change.subject_id or 0,
        undo=None,
    )
    undoing.undoes = change
    try:
        with transaction.atomic():
            undoing.save(update_fields=["undoes"])
    except IntegrityError:
        raise Refusal(rules.too_late_to_undo("somebody undid it at this moment.")) from None
    if "made" in kept:
        _unmake(kept["made"], change)
    if "reserved" in kept:
        _release(kept["reserved"], change)
    if "was" in kept:
        _set_board_back(kept, change)
    if "entry" in kept:
        put_entry_back(kept)
        if line := _line_of(kept["entry"]):
            try_again_in_kilns(line)
    if "photo" in kept:
        _show_before(kept)
    if "bucket" in kept:
        pour_away(kept["bucket"])
    if "rule" in kept:
        put_rule_back(kept["rule"])
    if "filed" in kept:
        take_off_file(kept["filed"])
    put_back(change=change, undoing=undoing, at=at)
    if "standings" in kept:
        stand_back(kept["standings"], undoing=undoing)
    return undoing


def _line_of(entry: list[Any]) -> Line | None:
    what, pk = entry
    return Line.objects.filter(pk=pk).select_related("clay_lot").first() if what == "line" else None


def _unmake(ids: list[int], change: Change) -> None:
    """Take away pieces that, as is said now, never were."""
    pieces = list(Piece.objects.filter(id__in=ids).order_by("id").select_for_update())
    refuse(
        selectors.built_on(pieces=pieces, seqs=dict.fromkeys(ids, 1), change=change, firing_id=None)
    )
    if Piece.objects.filter(id__in=ids, places__isnull=False).exists():
        raise Refusal(rules.too_late_to_undo("its pieces were in a kiln."))
    seen = next((piece for piece in pieces if piece.photo_id is not None), None)
    if seen is not None:
        raise Refusal(
            rules.too_late_to_undo(f"{selectors.piece_name(seen)} has a photograph by now.")
        )
    Move.objects.filter(piece__in=ids).delete()
    Fault.objects.filter(piece__in=ids).delete()
    Piece.objects.filter(id__in=ids).delete()


def _release(reservation_id: int, change: Change) -> None:
    """Take back this promise, and no later one of the same piece."""
    gone, _ = Reservation.objects.filter(id=reservation_id).delete()
    if not gone:
        piece = Piece.objects.select_related("form", "board").get(id=change.subject_id or 0)
        name, promise = selectors.piece_name(piece), selectors.promise_of(piece)
        now = f"is promised otherwise ({promise}) now" if promise else "was released already"
        raise Refusal(rules.too_late_to_undo(f"{name} {now}."))


def _show_before(kept: dict[str, Any]) -> None:
    """Show a piece by its earlier photograph, or by none."""
    shown = Piece.objects.filter(id=kept["piece"], photo_id=kept["photo"])
    if not shown.update(photo_id=kept["photo_was"]):
        raise Refusal(rules.too_late_to_undo("the piece has another photograph now."))


def _set_board_back(kept: dict[str, Any], change: Change) -> None:
    """Set a board's label, place or dry date back, if they still are what was set."""
    board = Board.objects.select_for_update().get(id=kept["board"])
    for field, value in kept["now"].items():
        have = getattr(board, field)
        if (str(have) if isinstance(have, date) else have) != value:
            raise Refusal(rules.too_late_to_undo(selectors.last_word(board)))
    old = kept["was"]
    if "dry_date" in old:
        group = selectors.board_group(board)
        refuse(rules.can_be_damp_again(label=board.label, stage=group.stage, kiln=group.kiln))
        # What left the board since took its dryness along: it would stay dry.
        if Piece.objects.on_hand().filter(id__in=kept["on"]).exclude(board=board).exists():
            since = Change.objects.filter(subject="board", subject_id=board.id)
            word = selectors.last_told(since=since, change=change)
            raise Refusal(rules.too_late_to_undo(word or "some of it stands elsewhere now."))
    if "label" in old and old["label"] != board.label:
        other = Board.objects.filter(label=old["label"]).first()
        refuse(rules.can_use_label(label=old["label"], holds=other.pieces.count() if other else 0))
        if other is not None:
            other.label = f"-{other.id}"
            other.save(update_fields=["label"])
    for field, value in old.items():
        is_date = field == "dry_date" and value is not None
        setattr(board, field, date.fromisoformat(value) if is_date else value)
    board.save(update_fields=list(old))
