"""What is a piece called, where is it, and how did it get there?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from studio.wares import rules
from studio.wares.models import Move, Piece, Reservation, Stage
from studio.web.models import Change


def told(change: Change) -> str:
    """A change as it is told to another: who, when, what."""
    who = change.by.get_full_name() or change.by.get_username()
    at = timezone.localtime(change.at)
    day = "" if at.date() == timezone.localdate() else f"{at:%d %b} "
    return f"{who}, {day}{at:%H:%M}: {change.said.rstrip('.')}."


def overtaken(pieces: Sequence[Piece]) -> str:
    """Say who was quicker with these pieces."""
    last = (
        Move.objects.filter(piece__in=[piece.id for piece in pieces])
        .select_related("change__by")
        .order_by("-change_id")
        .first()
    )
    word = f" {told(last.change)}" if last is not None else ""
    return f"Somebody else was quicker with these pieces.{word} Nothing was changed."


def piece_name(piece: Piece) -> str:
    """What a piece is called: its number, else its form and the board it stands on."""
    if piece.number is not None:
        return f"No. {piece.number}"
    where = f" on board {piece.board.label}" if piece.board is not None else ""
    return f"{piece.form.name}{where}"


def reservation_of(piece: Piece) -> Reservation | None:
    """The promise a piece carries."""
    return Reservation.objects.filter(piece=piece).first()


def promises_of(pieces: Sequence[Piece]) -> dict[int, Reservation]:
    """The promises that some of these pieces carry, by piece id."""
    found = Reservation.objects.filter(piece__in=[piece.id for piece in pieces])
    return {promise.piece_id: promise for promise in found.select_related("piece")}


def promise_of(piece: Piece) -> str | None:
    """What a piece is promised for, in words; None when it is free."""
    return promise_words(reservation_of(piece))


def promise_words(reservation: Reservation | None) -> str | None:
    """A promise in words."""
    if reservation is None:
        return None
    note = f": {reservation.note}" if reservation.note else ""
    return f"{reservation.get_kind_display().lower()}{note}"


def promise_kept(reservation: Reservation) -> dict[str, Any]:
    """What must be remembered of a promise so that it can be made again."""
    return {
        "id": reservation.id,
        "piece_id": reservation.piece_id,
        "stage": reservation.piece.stage,
        "kind": reservation.kind,
        "note": reservation.note,
        "by_id": reservation.by_id,
        "at": reservation.at.isoformat(),
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceHistory:
    """All that is known of one piece."""

    piece: Piece
    moves: list[Move]
    faults: list[Any]
    places: list[Any]
    where: str


def piece_history(piece: Piece) -> PieceHistory:
    """How did this piece get where it is?"""
    return PieceHistory(
        piece=piece,
        moves=list(piece.moves.select_related("by", "change", "firing__kiln", "firing__schedule")),
        faults=list(piece.faults.all()),
        places=list(piece.places.select_related("firing__kiln", "firing__schedule", "board")),
        where=whereabouts(piece),
    )


def whereabouts(piece: Piece) -> str:
    """Where a piece is now, in words."""
    if piece.parting:
        day = f" on {piece.parted_date:%d %b %Y}" if piece.parted_date else ""
        cause = f" ({piece.parting_cause})" if piece.parting_cause else ""
        return f"{piece.get_parting_display()}{day}{cause}"
    place = piece.places.filter(outcome="").select_related("firing__kiln").first()
    if place is not None:
        return f"in {place.firing.kiln}, on board {place.board.label}"
    promise = promise_of(piece)
    spot = "listed for sale" if piece.stage == Stage.LISTED else "on hand"
    if piece.board is not None:
        stands = f", {piece.board.place}" if piece.board.place else ""
        spot = f"on board {piece.board.label}{stands}"
    return f"{spot}, promised ({promise})" if promise else spot


def built_on(
    *,
    pieces: Sequence[Piece],
    seqs: dict[int, int],
    change: Change,
    firing_id: int | None,
) -> str | None:
    """Say what was built on a change, so that it can no longer be undone; None when nothing."""
    later = [piece for piece in pieces if piece.seq != seqs[piece.id]]
    if later or len(pieces) != len(seqs):
        last = (
            Move.objects.filter(piece__in=[piece.id for piece in later], change_id__gt=change.id)
            .select_related("change__by")
            .order_by("-change_id")
            .first()
        )
        word = told(last.change) if last is not None else "its pieces went on since."
        return rules.too_late_to_undo(word)
    ids = [piece.id for piece in pieces]
    kilns = Piece.objects.filter(id__in=ids).in_open_load()
    for load_id, kiln in kilns.values_list("places__firing_id", "places__firing__kiln__name"):
        if load_id != firing_id:
            return rules.too_late_to_undo(f"its pieces stand in {kiln} now.")
    promised = Reservation.objects.filter(piece__in=ids).select_related("piece__form").first()
    if promised is not None:
        return rules.too_late_to_undo(
            f"{piece_name(promised.piece)} is promised ({promise_of(promised.piece)}) now."
        )
    return None


def stands_elsewhere(
    *, pieces: Sequence[Piece], boards: dict[int, int | None], change: Change
) -> str | None:
    """Say that pieces left the board, by piece, on which a change had left them; None if not."""
    left = next((piece for piece in pieces if piece.board_id != boards[piece.id]), None)
    if left is None:
        return None
    since = Change.objects.filter(subject="board", subject_id=boards[left.id] or 0)
    where = f"board {left.board}" if left.board else "no board"
    return rules.too_late_to_undo(
        last_told(since=since, change=change) or f"its pieces stand on {where} now."
    )


def last_told(*, since: QuerySet[Change], change: Change) -> str:
    """Tell the newest of these changes that came after the other and stands; '' when none did."""
    found = since.filter(id__gt=change.id, undoes=None, undone_by=None)
    last = found.select_related("by").order_by("-id").first()
    return told(last) if last is not None else ""


def next_without_photo(piece: Piece) -> Piece | None:
    """The next numbered piece of the same board that has no photograph yet."""
    if piece.board_id is None:
        return None
    others = Piece.objects.filter(board_id=piece.board_id, photo=None, number__isnull=False)
    return others.exclude(id=piece.id).order_by("number").first()


def find_piece(number: int) -> Piece | None:
    """The piece with this number."""
    return Piece.objects.filter(number=number).first()
