"""How much of each line is there, and do all the sums hold?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db.models import Count, F, Max, Q

from studio.wares.kinds import Kind, kind_of
from studio.wares.models import ClayLot, Coats, Form, Line, Move, Piece, Stage
from studio.wares.rules import FIRES_GLAZE
from studio.wares.selectors.boards import groups

if TYPE_CHECKING:
    from studio.firings.models import Schedule


def line_for(*, form: Form, clay_lot: ClayLot, coats: Coats, schedule: Schedule) -> Line | None:
    """The line of these four, if the studio knows it."""
    return Line.objects.filter(form=form, clay_lot=clay_lot, coats=coats, schedule=schedule).first()


def lines_for(*, form: Form, clay_lot: ClayLot) -> list[Line]:
    """The lines known for a form on a clay lot, proven ones first."""
    order = {"proven": 0, "trial": 1, "untried": 2}
    known = Line.objects.filter(form=form, clay_lot=clay_lot)
    return sorted(
        known.select_related("form", "clay_lot", "coats", "schedule"),
        key=lambda line: (order[line.standing], line.coats.name, line.schedule.name),
    )


def stock_by_line() -> dict[int, dict[str, int]]:
    """Line id -> how many on hand at each stage from glazed on, promised ones counted too."""
    lines = {kind_of(line): line.id for line in Line.objects.all()}
    stock: dict[int, dict[str, int]] = {id_: {} for id_ in lines.values()}
    for row in (
        Piece.objects.on_hand()
        .filter(coats__isnull=False)
        .values(*Kind._fields, "stage")
        .annotate(n=Count("id"))
        .order_by()
    ):
        key = Kind(*(row[name] for name in Kind._fields))
        if key in lines:
            stock[lines[key]][row["stage"]] = row["n"]
    in_order = Stage.values
    return {
        id_: {stage: counts[stage] for stage in in_order if stage in counts}
        for id_, counts in stock.items()
    }


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
    """How many were ever made (by their first moves), are on hand by stage, and have left?

    Pieces that were counted in were made too, before the records began.
    """
    here = dict.fromkeys(Stage.values, 0)
    for stage, n in Piece.objects.on_hand().values_list("stage").annotate(n=Count("id")).order_by():
        here[stage] = n
    gone = dict.fromkeys(Piece.Parting.values, 0)
    left = Piece.objects.exclude(parting="")
    for parting, n in left.values_list("parting").annotate(n=Count("id")).order_by():
        gone[parting] = n
    made = Move.objects.filter(kind__in=[Move.Kind.MADE, Move.Kind.COUNTED]).count()
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
        .order_by("id")  # grouping drops the table's own order
        .values_list("id", "seq", "n", "top")
    ]
    found += [
        f"Piece {id_} is {stage}, but its last move went to {to_stage}."
        for id_, stage, to_stage in Move.objects.filter(seq=F("piece__seq"))
        .exclude(to_stage=F("piece__stage"))
        .values_list("piece_id", "piece__stage", "to_stage")
    ]
    found += [
        f"Piece {id_} is {parting}, but is promised still."
        for id_, parting in Piece.objects.filter(reservation__isnull=False)
        .exclude(parting="")
        .values_list("id", "parting")
    ]
    on_boards = groups(Q(board__isnull=False))
    labels = [group.board.label for group in on_boards]
    found += [
        f"Board {label} holds more than one kind or stage."
        for label in sorted({label for label in labels if labels.count(label) > 1})
    ]
    found += [
        f"Piece {id_} was {word} by a firing that is not opened or is of another kind."
        for word, kinds, field in (
            ("bisqued", ("bisque",), "bisque_firing"),
            ("fired", FIRES_GLAZE, "glaze_firing"),
        )
        for id_ in Piece.objects.filter(**{f"{field}__isnull": False})
        .exclude(**{f"{field}__state": "opened", f"{field}__schedule__kind__in": kinds})
        .values_list("id", flat=True)
    ]
    return found
