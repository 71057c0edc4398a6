"""What stands where now, how did one piece get there, and do all the sums hold?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from django.apps import apps
from django.db.models import Count, F, Max, Min, Q, Sum
from django.utils import timezone

from studio.wares import rules
from studio.wares.models import (
    Board,
    ClayLot,
    Coats,
    Form,
    Line,
    Move,
    Piece,
    Reservation,
    Stage,
)
from studio.web.models import Change

if TYPE_CHECKING:
    from studio.firings.models import Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """What a board holds now: pieces of one kind at one stage."""

    board: Board
    stage: str
    count: int
    form: Form | None
    clay_lot: ClayLot | None
    coats: Coats | None
    schedule: Schedule | None
    made_date: date | None
    seq_sum: int
    promised: int
    firing_id: int | None
    kiln: str | None

    @property
    def seen(self) -> str:
        """The token a form carries, so that a change by somebody else meanwhile is noticed."""
        return f"{self.stage}-{self.count}-{self.seq_sum}"

    @property
    def holds(self) -> str:
        """What is on it, in words."""
        if not self.count:
            return "it is empty now"
        return f"it holds {self.count} at {self.stage} now"

    @property
    def is_dry(self) -> bool:
        """Whether it is thrown ware that was seen to be bone dry."""
        return self.stage == Stage.THROWN and self.board.dry_date is not None

    @property
    def shows_stage(self) -> str:
        """The stage as the boards are sorted: dry is told apart from thrown."""
        return "dry" if self.is_dry else self.stage


# --- boards -----------------------------------------------------------------------------------


def board_group(board: Board) -> Group:
    """What this board holds now; an empty board has a count of 0 and no kind."""
    found = _groups(Q(board=board))
    if found:
        return found[0]
    return Group(
        board=board,
        stage="",
        count=0,
        form=None,
        clay_lot=None,
        coats=None,
        schedule=None,
        made_date=None,
        seq_sum=0,
        promised=0,
        firing_id=None,
        kiln=None,
    )


def boards_now() -> list[Group]:
    """Every board that holds something, in the order of the stages, oldest ware first."""
    order = {stage: place for place, stage in enumerate(Stage.values)}
    return sorted(
        _groups(Q(board__isnull=False)),
        key=lambda g: (order[g.stage], g.made_date or date.min, g.board.label),
    )


def _groups(which: Q) -> list[Group]:
    found = (
        Piece.objects.filter(which)
        .values("board_id", "form_id", "clay_lot_id", "coats_id", "schedule_id", "stage")
        .annotate(
            n=Count("id"),
            made=Min("made_date"),
            seqs=Sum("seq"),
            promised=Count("reservation"),
        )
        .order_by("board_id", "-n")
    )
    rows = list(found)
    boards = Board.objects.in_bulk({row["board_id"] for row in rows})
    forms = Form.objects.in_bulk({row["form_id"] for row in rows})
    clay_lots = ClayLot.objects.in_bulk({row["clay_lot_id"] for row in rows})
    coats = Coats.objects.in_bulk({row["coats_id"] for row in rows} - {None})
    schedules = _schedules({row["schedule_id"] for row in rows} - {None})
    kilns = {
        row["board_id"]: (row["places__firing_id"], row["places__firing__kiln__name"])
        for row in Piece.objects.filter(which)
        .in_open_load()
        .values("board_id", "places__firing_id", "places__firing__kiln__name")
        .distinct()
        .order_by()
    }
    groups = []
    for row in rows:
        firing_id, kiln = kilns.get(row["board_id"], (None, None))
        groups.append(
            Group(
                board=boards[row["board_id"]],
                stage=row["stage"],
                count=row["n"],
                form=forms[row["form_id"]],
                clay_lot=clay_lots[row["clay_lot_id"]],
                coats=coats.get(row["coats_id"]),
                schedule=schedules.get(row["schedule_id"]),
                made_date=row["made"],
                seq_sum=row["seqs"],
                promised=row["promised"],
                firing_id=firing_id,
                kiln=kiln,
            )
        )
    return groups


def _schedules(ids: set[int]) -> dict[int, Schedule]:
    model: type[Schedule] = apps.get_model("firings", "Schedule")
    return model.objects.in_bulk(ids)


def difference(one: Group, other: Group) -> str | None:
    """The first thing in which the wares of two boards differ; None when there is nothing."""
    if not other.count:
        return "what they hold: the other one is empty, so change the label instead"
    if one.stage != other.stage:
        return f"stage ({one.stage} and {other.stage})"
    for word, a, b in (
        ("form", one.form, other.form),
        ("clay lot", one.clay_lot, other.clay_lot),
        ("glaze", one.coats, other.coats),
        ("schedule", one.schedule, other.schedule),
    ):
        if a != b:
            return f"{word} ({a} and {b})"
    if one.is_dry != other.is_dry:
        return "dryness (one is bone dry, the other is not)"
    return None


def changed_since(*, group: Group, seen: str | None) -> str | None:
    """Say what happened to a board since it was seen so; None when it still is so.

    ``seen`` None asks nothing: for callers that show no page.
    """
    if seen is None or seen == group.seen:
        return None
    return rules.not_as_seen(
        label=group.board.label, now=group.holds, happened=last_word(group.board)
    )


def last_word(board: Board) -> str:
    """Who did what last to a board, as "Ada, 10:04: Glazed 22 ..."; '' when nobody did."""
    changes = [
        Change.objects.filter(subject="board", subject_id=board.id).order_by("-id").first(),
        Change.objects.filter(moves__piece__board=board).order_by("-id").first(),
    ]
    found = [change for change in changes if change is not None]
    if not found:
        return ""
    return told(max(found, key=lambda change: change.id))


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


def next_label() -> str:
    """The first of B1, B2, ... that no board in use has."""
    used = set(
        Board.objects.filter(pieces__isnull=False).values_list("label", flat=True).distinct()
    )
    return next(label for n in range(1, len(used) + 2) if (label := f"B{n}") not in used)


# --- one piece --------------------------------------------------------------------------------


def piece_name(piece: Piece) -> str:
    """What a piece is called: its number, else its form and the board it stands on."""
    if piece.number is not None:
        return f"No. {piece.number}"
    where = f" on board {piece.board.label}" if piece.board is not None else ""
    return f"{piece.form.name}{where}"


def reservation_of(piece: Piece) -> Reservation | None:
    """The promise a piece carries."""
    return Reservation.objects.filter(piece=piece).first()


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
        "piece_id": reservation.piece_id,
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


# --- lines ------------------------------------------------------------------------------------


def line_for(*, form: Form, clay_lot: ClayLot, coats: Coats, schedule: Schedule) -> Line | None:
    """The line of these four, if the studio knows it."""
    return Line.objects.filter(form=form, clay_lot=clay_lot, coats=coats, schedule=schedule).first()


def stock_by_line() -> dict[int, dict[str, int]]:
    """Line id -> how many on hand at each stage from glazed on, promised ones counted too."""
    lines = {
        (line.form_id, line.clay_lot_id, line.coats_id, line.schedule_id): line.id
        for line in Line.objects.all()
    }
    stock: dict[int, dict[str, int]] = {id_: {} for id_ in lines.values()}
    for row in (
        Piece.objects.on_hand()
        .filter(coats__isnull=False)
        .values("form_id", "clay_lot_id", "coats_id", "schedule_id", "stage")
        .annotate(n=Count("id"))
        .order_by()
    ):
        key = (row["form_id"], row["clay_lot_id"], row["coats_id"], row["schedule_id"])
        if key in lines:
            stock[lines[key]][row["stage"]] = row["n"]
    return stock


# --- sums -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """made = on hand by stage + partings."""

    made: int
    on_hand: dict[str, int]
    partings: dict[str, int]

    @property
    def holds(self) -> bool:
        return self.made == sum(self.on_hand.values()) + sum(self.partings.values())


def sums() -> Sums:
    """How many were ever made (by their first moves), are on hand by stage, and have left?"""
    here = dict.fromkeys(Stage.values, 0)
    for stage, n in Piece.objects.on_hand().values_list("stage").annotate(n=Count("id")).order_by():
        here[stage] = n
    gone = dict.fromkeys(Piece.Parting.values, 0)
    left = Piece.objects.exclude(parting="")
    for parting, n in left.values_list("parting").annotate(n=Count("id")).order_by():
        gone[parting] = n
    made = Move.objects.filter(kind=Move.Kind.MADE).count()
    return Sums(made=made, on_hand=here, partings=gone)


def broken_sums() -> list[str]:
    """Every way in which the records contradict each other, in words; [] when all is well."""
    found = []
    total = sums()
    if not total.holds:
        found.append(
            f"{total.made} were made, but {sum(total.on_hand.values())} on hand"
            f" and {sum(total.partings.values())} gone do not sum to that."
        )
    found += [
        f"Piece {id_} has {n} moves, the last numbered {top}, but counts {seq}."
        for id_, seq, n, top in Piece.objects.annotate(n=Count("moves"), top=Max("moves__seq"))
        .exclude(n=F("seq"), top=F("seq"))
        .values_list("id", "seq", "n", "top")
    ]
    found += [
        f"Piece {id_} is {stage}, but its last move went to {to_stage}."
        for id_, stage, to_stage in Move.objects.filter(seq=F("piece__seq"))
        .exclude(to_stage=F("piece__stage"))
        .values_list("piece_id", "piece__stage", "to_stage")
    ]
    groups = _groups(Q(board__isnull=False))
    labels = [group.board.label for group in groups]
    found += [
        f"Board {label} holds more than one kind or stage."
        for label in sorted({label for label in labels if labels.count(label) > 1})
    ]
    found += [
        f"Piece {id_} was {word} by a firing that is not opened or is of another kind."
        for word, kind, field in (
            ("bisqued", "bisque", "bisque_firing"),
            ("fired", "glaze", "glaze_firing"),
        )
        for id_ in Piece.objects.filter(**{f"{field}__isnull": False})
        .exclude(**{f"{field}__state": "opened", f"{field}__schedule__kind": kind})
        .values_list("id", flat=True)
    ]
    return found


def first_word(pieces: Iterable[Piece]) -> str:
    """How pieces are called together: "24 mugs", by the form of the first."""
    some = list(pieces)
    form = some[0].form.name if some else "pieces"
    return f"{len(some)} {form}"
