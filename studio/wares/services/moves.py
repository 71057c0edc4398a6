"""How does a piece take a step, so that of two people at the same moment one wins?

The laws of a move:

1. The piece is updated only if it still stands where it was read: same stage, same ``seq``, not
   parted. One update fewer than pieces means that somebody was quicker: all is taken back.
2. Every step adds one row to ``Move``, UNIQUE(piece, seq); rows are never changed. Only undoing
   a throw, which says that the pieces never were, takes rows away.
3. What the pieces were before is kept in ``Change.undo["pieces"]``, so that any room that moves
   pieces inside its own change can put them back with ``put_back``.

The rejected way, reading, checking and saving the rows, let two phones move a piece twice.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F

from studio.wares import rules, selectors
from studio.wares.models import Board, Fault, Move, Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse

TRIES = 5
MANY = 500  # rows a statement, far below the limit of variables of both databases


def take_step(
    *,
    pieces: Sequence[Piece],
    kind: str,
    to_stage: str | None = None,
    change: Change,
    at: datetime | None = None,
    firing_id: int | None = None,
    parting: str = "",
    cause: str = "",
    set_to: dict[str, Any] | None = None,
) -> None:
    """Move pieces as they were read, or raise Refusal when one is no longer so.

    ``to_stage`` None keeps the stage (a parting). ``set_to`` are further fields of the piece. The
    caller has checked the rules; here only the race is decided and the trail is written.
    """
    values = dict(set_to or {})
    together: dict[tuple[str, int], list[Piece]] = defaultdict(list)
    for piece in pieces:
        together[piece.stage, piece.seq].append(piece)
    moves = []
    for (stage, seq), alike in together.items():
        onward = to_stage or stage
        for some in _portions(alike):
            moved = Piece.objects.filter(
                id__in=[piece.id for piece in some], stage=stage, seq=seq, parting=""
            ).update(stage=onward, seq=F("seq") + 1, **values)
            if moved != len(some):
                raise Refusal(selectors.overtaken(some))
        moves += [
            Move(
                piece=piece,
                seq=seq + 1,
                kind=kind,
                from_stage=stage,
                to_stage=onward,
                parting=parting,
                cause=cause,
                firing_id=firing_id,
                change=change,
                by_id=change.by_id,
                at=at or change.at,
            )
            for piece in alike
        ]
    remember(change=change, pieces=pieces, fields=["stage", *values], moved=True)
    Move.objects.bulk_create(moves, batch_size=MANY)


def remember(*, change: Change, pieces: Iterable[Piece], fields: list[str], moved: bool) -> None:
    """Keep in the change what these fields of the pieces were, before they are read again."""
    undo = change.undo if change.undo is not None else {}
    kept = undo.setdefault("pieces", [])
    for piece in pieces:
        was = {name: _plain(getattr(piece, name)) for name in fields}
        kept.append({"id": piece.id, "seq": piece.seq + moved, "moved": moved, "was": was})
    change.undo = undo
    change.save(update_fields=["undo"])


def put_on_board(*, pieces: Sequence[Piece], board: Board | None, change: Change) -> None:
    """Set pieces on another board (or none). No step of theirs; can be undone all the same."""
    remember(change=change, pieces=pieces, fields=["board_id"], moved=False)
    for some in _portions(pieces):
        Piece.objects.filter(id__in=[piece.id for piece in some]).update(board=board)


@transaction.atomic
def put_back(
    *, change: Change, undoing: Change, at: datetime | None = None, firing_id: int | None = None
) -> None:
    """Put every piece that ``change`` touched back to what it was, as a part of ``undoing``.

    ``firing_id`` names the firing in whose load they may stand meanwhile. Raises Refusal when a
    piece went on since, was promised, or stands in another load.
    """
    kept: list[dict[str, Any]] = (change.undo or {}).get("pieces", [])
    first: dict[int, dict[str, Any]] = {}
    last: dict[int, dict[str, Any]] = {}
    for entry in kept:
        # A piece may stand there twice: it goes back to what it was first, from what it was last.
        was = {**entry["was"], **first.get(entry["id"], {"was": {}})["was"]}
        moved = entry["moved"] or first.get(entry["id"], {"moved": False})["moved"]
        first[entry["id"]] = {"was": was, "moved": moved}
        last[entry["id"]] = entry
    pieces = {piece.id: piece for piece in Piece.objects.filter(id__in=first)}
    refuse(
        selectors.built_on(
            pieces=list(pieces.values()),
            seqs={id_: entry["seq"] for id_, entry in last.items()},
            change=change,
            firing_id=firing_id,
        )
    )
    boards = _boards_to_go_back_to(pieces, first)
    moves = []
    for id_, entry in first.items():
        piece = pieces[id_]
        values = dict(entry["was"])
        if values.get("board_id") is not None:
            values["board_id"] = boards[values["board_id"]]
        step = 1 if entry["moved"] else 0
        changed = Piece.objects.filter(id=id_, seq=piece.seq, stage=piece.stage).update(
            seq=F("seq") + step, **values
        )
        if changed != 1:
            raise Refusal(selectors.overtaken([piece]))
        if entry["moved"]:
            moves.append(
                Move(
                    piece=piece,
                    seq=piece.seq + 1,
                    kind=Move.Kind.UNDO,
                    from_stage=piece.stage,
                    to_stage=values.get("stage", piece.stage),
                    change=undoing,
                    by_id=undoing.by_id,
                    at=at or undoing.at,
                )
            )
    Move.objects.bulk_create(moves, batch_size=MANY)
    _promise_again((change.undo or {}).get("promises", []))
    Fault.objects.filter(id__in=(change.undo or {}).get("faults", [])).delete()


def _boards_to_go_back_to(
    pieces: dict[int, Piece], first: dict[int, dict[str, Any]]
) -> dict[int, int]:
    """Answer for each board of old the board to use.

    It is the board itself, or a new one when it holds another kind or stands in a kiln by now.
    """
    boards: dict[int, int] = {}
    fresh: list[str] = []  # empty until the pieces come, so their labels still look free
    coming: dict[int, list[int]] = defaultdict(list)
    for id_, entry in first.items():
        board_id = entry["was"].get("board_id")
        if board_id is not None:
            coming[board_id].append(id_)
    for board_id, ids in coming.items():
        board = Board.objects.select_for_update().get(id=board_id)
        sample = pieces[ids[0]]
        after = {**_kind(sample), **{k: v for k, v in first[ids[0]]["was"].items() if k in KIND}}
        others = Piece.objects.filter(board=board).exclude(id__in=first)
        if others.exclude(**after).exists() or others.in_open_load().exists():
            board = new_board(label="", but_not=fresh)
            fresh.append(board.label)
        boards[board_id] = board.id
    return boards


KIND = ("form_id", "clay_lot_id", "coats_id", "schedule_id", "stage")


def _kind(piece: Piece) -> dict[str, Any]:
    return {name: getattr(piece, name) for name in KIND}


def new_board(*, label: str, place: str = "", but_not: Collection[str] = ()) -> Board:
    """Answer an empty board of this label, or of the next free one when it is ''.

    An empty board that has the label already is taken again. ``but_not`` are labels that are
    meant for others. Raises Refusal when it is in use.
    """
    wanted = label.strip()
    for _ in range(TRIES):
        name = wanted or selectors.next_label(but_not=but_not)
        refuse(rules.can_use_label(label=name, holds=0))
        found, _ = Board.objects.get_or_create(label=name)
        board = Board.objects.select_for_update().get(id=found.id)
        sentence = rules.can_use_label(label=name, holds=board.pieces.count())
        if sentence is None:
            board.dry_date = None
            board.place = place
            board.save(update_fields=["dry_date", "place"])
            return board
        if wanted:
            raise Refusal(sentence)
        # Somebody took the next free label at this moment: take the one after it.
    raise Refusal("Others are taking labels at this moment. Nothing was changed; try again.")


def hold(board: Board, seen: str | None) -> selectors.Group:
    """Take the board for this transaction and answer what is on it, as the person saw it.

    Raises Refusal when it stands in a kiln, or is not as it was seen.
    """
    held = Board.objects.select_for_update().get(id=board.id)
    group = selectors.board_group(held)
    refuse(selectors.changed_since(group=group, seen=seen))
    refuse(rules.can_touch(label=held.label, kiln=group.kiln))
    return group


def _promise_again(promises: list[dict[str, Any]]) -> None:
    for promise in promises:
        Reservation.objects.create(**promise)


def _plain(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value


def _portions(pieces: Sequence[Piece]) -> Iterable[Sequence[Piece]]:
    for start in range(0, len(pieces), MANY):
        yield pieces[start : start + MANY]
