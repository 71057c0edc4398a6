"""Where does a piece go that was left out at the loading, and who stands on its board already?"""

from __future__ import annotations

from studio.firings.models import Firing, Place, Spot
from studio.wares.models import Board, Piece
from studio.wares.services.moves import new_board, put_on_board
from studio.web.models import Change


def take_out_of_load(spot: Spot, firing: Firing, change: Change) -> Board | None:
    """Take the piece of a spot out of a load and answer the board it stands on then.

    What is left out of one board at one loading stands together on one other board. A piece that
    was alone keeps its board. None when no piece stood there. Within the caller's transaction,
    with the firing held.
    """
    place = spot.place
    if place is None:
        return None
    beside = left_out_beside(firing, place)
    if beside is not None:
        # Whoever is about to put something else on it comes first or sees this piece there.
        Board.objects.select_for_update().get(pk=beside.pk)
        beside = left_out_beside(firing, place)
    piece = Piece.objects.select_for_update().get(pk=place.piece_id)
    Place.objects.filter(pk=place.pk).update(outcome=Place.Outcome.TAKEN_OUT)
    on_its_board = Piece.objects.filter(board_id=place.board_id, parting="")
    if beside is None and not on_its_board.exclude(pk=piece.pk).exists():
        return place.board
    if beside is None:
        beside = new_board(label="", place=place.board.place)
        beside.dry_date = place.board.dry_date
        beside.save(update_fields=["dry_date"])
    put_on_board(pieces=[piece], board=beside, change=change)
    return beside


def left_out_beside(firing: Firing, place: Place) -> Board | None:
    """The board with what else was left out of this load and board; nothing else stands on it."""
    out = Place.objects.filter(
        firing=firing, board_id=place.board_id, outcome=Place.Outcome.TAKEN_OUT
    )
    boards = out.exclude(piece__board=place.board_id).filter(piece__parting="")
    for board in Board.objects.filter(pk__in=boards.values("piece__board")).order_by("-id"):
        pieces = list(Piece.objects.filter(board=board, parting=""))
        left_here = set(out.values_list("piece_id", flat=True))
        is_alike = all(_kind(piece) == _kind(place.piece) for piece in pieces)
        inside = Place.objects.filter(piece__board=board, outcome="").exists()
        if is_alike and not inside and {piece.pk for piece in pieces} <= left_here:
            return board
    return None


def _kind(piece: Piece) -> tuple[str, int, int, int | None]:
    return piece.stage, piece.form_id, piece.clay_lot_id, piece.coats_id
