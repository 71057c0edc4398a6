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
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import F

from studio.wares import rules, selectors
from studio.wares.kinds import Kind
from studio.wares.models import Board, Fault, Move, Piece, Reservation, Stage
from studio.wares.services.locking import MANY, lock_pieces
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse

TRIES = 5


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
    lock_pieces(piece.id for piece in pieces)
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
    remember(
        change=change,
        pieces=pieces,
        fields=["stage", *values],
        moved=True,
        to_board_id=values.get("board_id"),
    )
    Move.objects.bulk_create(moves, batch_size=MANY)


def remember(
    *,
    change: Change,
    pieces: Sequence[Piece],
    fields: list[str],
    moved: bool,
    to_board_id: int | None = None,
) -> None:
    """Keep in the change what these fields of the pieces were, before they are read again.

    ``to_board_id`` is where they go when ``board_id`` is among the fields.
    """
    leaves = "board_id" in fields
    boards = Board.objects.in_bulk({piece.board_id for piece in pieces} - {None} if leaves else [])
    undo = change.undo if change.undo is not None else {}
    kept = undo.setdefault("pieces", [])
    for piece in pieces:
        board = boards.get(piece.board_id or 0)
        kept.append(
            {
                "id": piece.id,
                "seq": piece.seq + moved,
                "moved": moved,
                "was": {name: _plain(getattr(piece, name)) for name in fields},
                "dry_date": _plain(board.dry_date) if board else None,
                "on": to_board_id if leaves else piece.board_id,
            }
        )
    change.undo = undo
    change.save(update_fields=["undo"])


def put_on_board(*, pieces: Sequence[Piece], board: Board, change: Change) -> None:
    """Set pieces on another board, as they were read, or raise Refusal when one went on since.

    No step of theirs; can be undone all the same.
    """
    lock_pieces(piece.id for piece in pieces)
    remember(change=change, pieces=pieces, fields=["board_id"], moved=False, to_board_id=board.id)
    together: dict[tuple[int | None, int], list[Piece]] = defaultdict(list)
    for piece in pieces:
        together[piece.board_id, piece.seq].append(piece)
    for (board_id, seq), alike in together.items():
        for some in _portions(alike):
            put = Piece.objects.filter(
                id__in=[piece.id for piece in some], board=board_id, seq=seq, parting=""
            ).update(board=board)
            if put != len(some):
                raise Refusal(selectors.overtaken(some))
    for piece in pieces:
        piece.board = board


@dataclass(slots=True, kw_only=True)
class _Way:
    """What a change did to one piece: from what it was first, to how it stood at last."""

    was: dict[str, Any]
    dry_date: str | None
    moved: bool
    seq: int
    on: int | None


def _ways(change: Change) -> dict[int, _Way]:
    """The way of each piece that a change touched, once or several times."""
    ways: dict[int, _Way] = {}
    for entry in (change.undo or {}).get("pieces", []):
        way = ways.get(entry["id"])
        if way is None:
            ways[entry["id"]] = _Way(**{k: v for k, v in entry.items() if k != "id"})
            continue
        if "board_id" not in way.was:
            way.dry_date = entry["dry_date"]
        way.was = {**entry["was"], **way.was}
        way.moved = way.moved or entry["moved"]
        way.seq, way.on = entry["seq"], entry["on"]
    return ways


@transaction.atomic
def put_back(
    *, change: Change, undoing: Change, at: datetime | None = None, firing_id: int | None = None
) -> None:
    """Put every piece that ``change`` touched back to what it was, as a part of ``undoing``.

    ``firing_id`` names the firing in whose load they may stand meanwhile. Raises Refusal when a
    piece went on since, stands elsewhere, was promised or photographed, or is in another load.
    """
    ways = _ways(change)
    boards = _lock_boards(ways)
    lock_pieces(ways)
    pieces = {piece.id: piece for piece in Piece.objects.filter(id__in=ways)}
    refuse(
        selectors.built_on(
            pieces=list(pieces.values()),
            seqs={id_: way.seq for id_, way in ways.items()},
            change=change,
            firing_id=firing_id,
        )
        or selectors.stands_elsewhere(
            pieces=list(pieces.values()),
            boards={id_: way.on for id_, way in ways.items()},
            change=change,
        )
        or _joined(pieces, ways, change)
        or _photographed(pieces, ways)
    )
    goes_to = _boards_to_go_back_to(pieces, ways, boards)
    moves = []
    for id_, way in ways.items():
        piece = pieces[id_]
        values = dict(way.was)
        if values.get("board_id") is not None:
            values["board_id"] = goes_to[values["board_id"]]
        changed = Piece.objects.filter(id=id_, seq=piece.seq, stage=piece.stage).update(
            seq=F("seq") + (1 if way.moved else 0), **values
        )
        if changed != 1:
            raise Refusal(selectors.overtaken([piece]))
        if way.moved:
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
    promise_again((change.undo or {}).get("promises", []))
    Fault.objects.filter(id__in=(change.undo or {}).get("faults", [])).delete()


def _lock_boards(ways: dict[int, _Way]) -> dict[int, Board]:
    """Take the boards that pieces stand on or go back to, before the pieces, as ``hold`` does."""
    stood = [way.on for way in ways.values()] + [way.was.get("board_id") for way in ways.values()]
    ids = {board_id for board_id in stood if board_id is not None}
    held = Board.objects.filter(id__in=ids).order_by("id").select_for_update()
    return {board.id: board for board in held}


def _joined(pieces: dict[int, Piece], ways: dict[int, _Way], change: Change) -> str | None:
    """Say that other ware was put onto a board whose pieces stay there as they go back."""
    staying = {way.on: id_ for id_, way in ways.items() if "board_id" not in way.was and way.on}
    for board_id, id_ in staying.items():
        others = Piece.objects.filter(board_id=board_id).exclude(id__in=ways)
        if others.exclude(**_after(pieces[id_], ways[id_])).exists():
            merges = Change.objects.filter(room="wares", action="merge", undo__onto=board_id)
            word = selectors.last_told(since=merges, change=change)
            return rules.too_late_to_undo(word or "other ware stands on its board now.")
    return None


def _after(piece: Piece, way: _Way) -> dict[str, Any]:
    """What a piece will have in common with its board when it is back."""
    return {name: way.was.get(name, getattr(piece, name)) for name in (*Kind._fields, "stage")}


def _photographed(pieces: dict[int, Piece], ways: dict[int, _Way]) -> str | None:
    """Say which piece would lose its number, though it has a photograph under it."""
    for id_, way in ways.items():
        piece = pieces[id_]
        if "number" in way.was and way.was["number"] is None and piece.photo_id is not None:
            name = selectors.piece_name(piece)
            return rules.too_late_to_undo(f"{name} has a photograph by now.")
    return None


def _boards_to_go_back_to(
    pieces: dict[int, Piece], ways: dict[int, _Way], boards: dict[int, Board]
) -> dict[int, int]:
    """Answer for each board of old the board to use.

    It is the board itself, or a new one when it stands in a kiln by now or holds another kind.
    Thrown ware that is bone dry is of another kind than damp ware: damp ware bursts in the kiln.
    """
    goes_to: dict[int, int] = {}
    fresh: list[str] = []  # empty until the pieces come, so their labels still look free
    coming: dict[int, list[int]] = defaultdict(list)
    for id_, way in ways.items():
        if way.was.get("board_id") is not None:
            coming[way.was["board_id"]].append(id_)
    for board_id, ids in coming.items():
        board = boards[board_id]
        way = ways[ids[0]]
        after = _after(pieces[ids[0]], way)
        others = Piece.objects.filter(board=board).exclude(id__in=ways)
        dry_date = date.fromisoformat(way.dry_date) if way.dry_date else None
        is_other = (
            others.exclude(**after).exists()
            or others.in_open_load().exists()
            or (after["stage"] == Stage.THROWN and board.dry_date != dry_date and others.exists())
        )
        if is_other:
            board = new_board(label="", but_not=fresh)
            fresh.append(board.label)
        if after["stage"] == Stage.THROWN and board.dry_date != dry_date:
            board.dry_date = dry_date
            board.save(update_fields=["dry_date"])
        goes_to[board_id] = board.id
    return goes_to


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


def promise_again(promises: Sequence[dict[str, Any]]) -> None:
    """Make promises again as ``selectors.promise_kept`` kept them. Raises Refusal."""
    lock_pieces(promise["piece_id"] for promise in promises)
    for promise in promises:
        kept = dict(promise)
        held_at = kept.pop("stage")
        piece = Piece.objects.select_related("form", "board").get(id=kept["piece_id"])
        # A claim is made on a listed piece, so a listed one may have it back.
        stage = Stage.GRADED if piece.stage == held_at else piece.stage
        sentence = rules.can_reserve(
            name=selectors.piece_name(piece),
            stage=stage,
            gone=piece.parting,
            promise=selectors.promise_of(piece),
        )
        refuse(rules.too_late_to_undo(sentence) if sentence else None)
        Reservation.objects.create(**kept)


def _plain(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value


def _portions(pieces: Sequence[Piece]) -> Iterable[Sequence[Piece]]:
    for start in range(0, len(pieces), MANY):
        yield pieces[start : start + MANY]
