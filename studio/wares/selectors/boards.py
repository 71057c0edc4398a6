"""What does each board hold now, and what happened to it last?"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from django.apps import apps
from django.db.models import Case, Count, Exists, F, Max, Min, OuterRef, Q, Sum, When
from django.db.models.functions import Coalesce

from studio.wares import rules
from studio.wares.models import Board, ClayLot, Coats, Form, Move, Piece, Stage
from studio.wares.selectors.pieces import told
from studio.web.models import Change
from studio.web.selectors import offers_undo

if TYPE_CHECKING:
    from studio.firings.models import Firing, Schedule


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
    last_made_date: date | None
    seq_sum: int
    promised: int
    firing_id: int | None
    kiln: str | None

    @property
    def seen(self) -> str:
        """The token a form carries, so that a change by somebody else meanwhile is noticed."""
        return f"{self.stage}-{self.count}-{self.seq_sum}"

    @property
    def room_tenths(self) -> int:
        """The kiln room that all of it takes [tenths of a mug place]."""
        return self.count * self.form.room_tenths if self.form else 0

    @property
    def form_id(self) -> int:
        """As ``kind_of`` asks it; 0 when the board is empty, like the clay lot."""
        return self.form.id if self.form else 0

    @property
    def clay_lot_id(self) -> int:
        return self.clay_lot.id if self.clay_lot else 0

    @property
    def coats_id(self) -> int | None:
        return self.coats.id if self.coats else None

    @property
    def schedule_id(self) -> int | None:
        return self.schedule.pk if self.schedule else None

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


def board_group(board: Board) -> Group:
    """What this board holds now; an empty board has a count of 0 and no kind."""
    found = groups(Q(board=board))
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
        last_made_date=None,
        seq_sum=0,
        promised=0,
        firing_id=None,
        kiln=None,
    )


def boards_now() -> list[Group]:
    """Every board that holds something, in the order of the stages, oldest ware first."""
    order = {stage: place for place, stage in enumerate(Stage.values)}
    return sorted(
        groups(Q(board__isnull=False)),
        key=lambda g: (order[g.stage], g.made_date or date.min, g.board.label),
    )


def groups(which: Q) -> list[Group]:
    found = (
        Piece.objects.filter(which)
        .values("board_id", "form_id", "clay_lot_id", "coats_id", "schedule_id", "stage")
        .annotate(
            n=Count("id"),
            made=Min("made_date"),
            last_made=Max("made_date"),
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
    found_groups = []
    for row in rows:
        firing_id, kiln = kilns.get(row["board_id"], (None, None))
        found_groups.append(
            Group(
                board=boards[row["board_id"]],
                stage=row["stage"],
                count=row["n"],
                form=forms[row["form_id"]],
                clay_lot=clay_lots[row["clay_lot_id"]],
                coats=coats.get(row["coats_id"]),
                schedule=schedules.get(row["schedule_id"]),
                made_date=row["made"],
                last_made_date=row["last_made"],
                seq_sum=row["seqs"],
                promised=row["promised"],
                firing_id=firing_id,
                kiln=kiln,
            )
        )
    return found_groups


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
    """Who did what last to a board, as "who, 10:04: Glazed 22 ..."; '' when nobody did."""
    changes = [
        Change.objects.filter(subject="board", subject_id=board.id).order_by("-id").first(),
        Change.objects.filter(moves__piece__board=board).order_by("-id").first(),
    ]
    found = [change for change in changes if change is not None]
    if not found:
        return ""
    return told(max(found, key=lambda change: change.id))


def next_label(*, but_not: Collection[str] = ()) -> str:
    """The first of B1, B2, ... that no board in use has, nor anything in ``but_not``."""
    boards = Board.objects.filter(pieces__isnull=False)
    used = {*boards.values_list("label", flat=True).distinct(), *but_not}
    return next(label for n in range(1, len(used) + 2) if (label := f"B{n}") not in used)


def firings_waiting(group: Group) -> list[Firing]:
    """The firings this board could be loaded into, as far as kind and schedule say.

    ``is_busy`` of each says whether its kiln is loaded or hot with another firing, ``left_tenths``
    how much of its kiln's usual room is left [tenths of a mug place], which may be below 0.
    """
    if group.stage not in (Stage.THROWN, Stage.GLAZED):
        return []
    model: type[Firing] = apps.get_model("firings", "Firing")
    fits = Q(schedule=group.schedule) if group.schedule else Q(schedule__kind="bisque")
    waiting = model.objects.filter(fits, state__in=["planned", "loaded"])
    others = model.objects.filter(
        kiln=OuterRef("kiln"), state__in=["loaded", "firing", "cooling"]
    ).exclude(id=OuterRef("id"))
    inside = Sum("places__piece__form__room_tenths", filter=~Q(places__outcome="taken_out"))
    room = Case(
        When(schedule__kind="bisque", then=F("kiln__bisque_room_tenths")),
        default=F("kiln__glaze_room_tenths"),
    )
    waiting = waiting.annotate(
        is_busy=Exists(others), left_tenths=room - Coalesce(inside, 0)
    ).select_related("kiln", "schedule")
    return list(waiting.order_by("start_date", "id")[:4])


def mates(group: Group) -> list[Group]:
    """The other boards this one may be put onto."""
    return [
        other
        for other in boards_now()
        if other.board != group.board and other.kiln is None and difference(group, other) is None
    ]


def board_changes(board: Board, *, limit: int = 6) -> list[Change]:
    """What was done to a board and the pieces on it now, the newest first.

    A label is used again and again: what was done before these pieces were is not told.
    """
    first = Move.objects.filter(piece__board=board).aggregate(id=Min("change_id"))["id"] or 0
    put_onto_it = Q(undo__onto=board.id) | Q(undo__new_board=board.id)
    ids = Change.objects.filter(
        Q(subject="board", subject_id=board.id)
        | Q(moves__piece__board=board)
        | Q(room="wares") & put_onto_it
    ).values("id")
    return list(
        Change.objects.filter(id__in=ids, id__gte=first)
        .select_related("by")
        .order_by("-id")[:limit]
    )


def undoable(changes: Sequence[Change]) -> Change | None:
    """The newest of these changes that can still be asked to be undone."""
    return next((change for change in changes if offers_undo(change)), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thrown:
    """What was thrown together lately, to do the same again."""

    form: Form
    clay_lot: ClayLot
    count: int


def recent_throws(*, limit: int = 3) -> list[Thrown]:
    """The last different boards that were thrown, the newest first."""
    found: dict[tuple[int, int, int], Thrown] = {}
    lately = Change.objects.filter(room="wares", action="throw", undone_by=None).order_by("-id")
    rows = (
        Move.objects.filter(kind=Move.Kind.MADE, change__in=lately.values("id")[:30])
        .values("change_id", "piece__form_id", "piece__clay_lot_id")
        .annotate(n=Count("id"))
        .order_by("-change_id")
    )
    rows_read = list(rows)
    forms = Form.objects.in_bulk({row["piece__form_id"] for row in rows_read})
    lots = ClayLot.objects.in_bulk({row["piece__clay_lot_id"] for row in rows_read})
    for row in rows_read:
        thrown = Thrown(
            form=forms[row["piece__form_id"]],
            clay_lot=lots[row["piece__clay_lot_id"]],
            count=row["n"],
        )
        found.setdefault((thrown.form.id, thrown.clay_lot.id, thrown.count), thrown)
    return list(found.values())[:limit]


KNOWN_FROM = 3
"""Boards of a form that were thrown before anybody can say how many are usual."""


def usual_throw(form: Form, *, lately: int = 9) -> int:
    """How many of a form are thrown on a board as a rule, the middle of the last; 0 for too few."""
    counts = sorted(
        Move.objects.filter(kind=Move.Kind.MADE, piece__form=form, change__undone_by__isnull=True)
        .values("change_id")
        .annotate(n=Count("id"))
        .order_by("-change_id")
        .values_list("n", flat=True)[:lately]
    )
    return counts[len(counts) // 2] if len(counts) >= KNOWN_FROM else 0


def counts_in(*, limit: int = 6) -> list[Change]:
    """What was counted in lately and stands, the newest first; the subject is the board."""
    counted = Change.objects.filter(room="wares", action="count_in", undone_by=None)
    return list(counted.order_by("-id")[:limit])


def counted_last() -> Piece | None:
    """A piece of what was counted in last: the next board is likely to be like it."""
    counted = Piece.objects.exclude(counted_in="").select_related("board")
    return counted.order_by("-id").first()
