"""Put boards into a load, and take them out again before it is lit."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.firings import rules, selectors
from studio.firings.models import Firing, Place
from studio.firings.services.seating import reseat
from studio.firings.services.writing import held
from studio.wares.models import Board, Piece
from studio.wares.selectors import board_group, changed_since
from studio.wares.services.moves import new_board, put_on_board
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.selectors import length_unit
from studio.web.services import record


@transaction.atomic
def load(
    *,
    firing: Firing,
    board: Board,
    count: int | None = None,
    seen: str | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Put a board, or ``count`` of it, into a load; a part goes on a board of its own.

    ``seen`` is the token of the board that the person saw. Raises Refusal.
    """
    now = held(firing)
    board = Board.objects.select_for_update().get(pk=board.pk)
    group = board_group(board)
    refuse(changed_since(group=group, seen=seen))
    batch = selectors.batch_of(group, now)
    refuse(
        rules.can_load(
            batch=batch, load=selectors.load_of(now), count=count, length_unit=length_unit()
        )
    )
    going = group.count if count is None else count
    # Held, so that a step of these pieces that is under way is waited for and then seen.
    pieces = list(
        Piece.objects.select_for_update().filter(board=board, parting="").order_by("id")[:going]
    )
    is_part = going < group.count
    target = new_board(label="", place=board.place) if is_part else board
    if is_part:
        target.dry_date = board.dry_date
        target.save(update_fields=["dry_date"])
    was = now.state
    change = record(
        room="firings",
        action="load",
        said=_loaded(now, batch, going, board, target),
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"state": was},
    )
    if is_part:
        put_on_board(pieces=pieces, board=target, change=change)
    try:
        with transaction.atomic():
            now.state = Firing.State.LOADED
            now.save(update_fields=["state"])
            places = Place.objects.bulk_create(
                Place(firing=now, piece=piece, board=target) for piece in pieces
            )
    except IntegrityError:
        raise Refusal(rules.overtaken(board=board.label, kiln=now.kiln.name)) from None
    change.undo = {**(change.undo or {}), "places": [place.pk for place in places]}
    change.save(update_fields=["undo"])
    reseat(now)
    return change


def _loaded(firing: Firing, batch: rules.Batch, count: int, board: Board, target: Board) -> str:
    what = f"{count} {batch.what}" + (f" in {batch.coats}" if batch.coats else "")
    if target == board:
        return f"Loaded board {board} into {firing.kiln}: {what}"
    return f"Loaded {what} of board {board} into {firing.kiln}, as board {target}"


@transaction.atomic
def take_out(*, firing: Firing, board: Board, by: User, at: datetime) -> Change:
    """Take a board out of a load that is not lit. Raises Refusal."""
    now = held(firing)
    board = Board.objects.select_for_update().get(pk=board.pk)
    standing = list(now.places.filter(board=board, outcome="").values_list("id", flat=True))
    refuse(
        rules.can_take_out(
            state=now.state, kiln=now.kiln.name, board=board.label, standing=len(standing)
        )
    )
    was = now.state
    Place.objects.filter(id__in=standing).update(outcome=Place.Outcome.TAKEN_OUT)
    free_when_empty(now)
    reseat(now)
    return record(
        room="firings",
        action="take_out",
        said=f"Took board {board} ({len(standing)}) out of {now.kiln}",
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"state": was, "places": standing},
    )


def free_when_empty(firing: Firing) -> None:
    """A load that nothing stands in is only a plan again, and its kiln is free."""
    if firing.places.filter(outcome="").exists():
        return
    firing.state = Firing.State.PLANNED
    firing.save(update_fields=["state"])
