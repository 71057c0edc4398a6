"""What became of the pieces of every batch, step by step, so that losses can be learnt from?

Steps: drying (thrown until it stands in a kiln), bisque, glazing (in the hand), glaze (fired and
graded). A batch is what went through a step together: a throwing, a load, a dipping. Only what has
been decided counts; moves of changes that were undone do not.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from django.db.models import Count

from studio.craft.learnt import Batch, Learnt, Record, learn, say_so_far, start_through
from studio.craft.losses import OutOfReach
from studio.wares.models import ClayLot, Line, Move, Piece, Stage
from studio.wares.selectors.proofs import fired_by_batch

Step = Literal["drying", "bisque", "glazing", "glaze"]
STEPS: Final[tuple[Step, ...]] = ("drying", "bisque", "glazing", "glaze")


GUESSES: Final[Mapping[Step, int]] = {"drying": 96, "bisque": 98, "glazing": 99, "glaze": 88}
"""Good of 100 before any record. Our own measure, no source."""

MEANT: Final[Mapping[Step, str]] = {
    "drying": "Thrown to bone dry",
    "bisque": "Bisque",
    "glazing": "Glazing, in the hand",
    "glaze": "Glaze fire, and a first at grading",
}


class Made(NamedTuple):
    """What losses of a step go by; coats and schedule are 0 before the glaze fire."""

    form_id: int
    clay_lot_id: int
    coats_id: int = 0
    schedule_id: int = 0


Batches = Mapping[Made, tuple[Batch, ...]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Losses:
    """Every batch of the studio by step, and the body of each clay lot."""

    by_step: Mapping[Step, Batches]
    bodies: Mapping[int, str]

    def record(self, step: Step, made: Made) -> Record:
        """What is known of one ware at a step, and of its like."""
        lines = self.by_step[step]
        key = made if step == "glaze" else Made(made.form_id, made.clay_lot_id)
        body = self.bodies.get(made.clay_lot_id, "")
        form, like, rest = [], [], []
        for other, batches in lines.items():
            if other == key:
                continue
            if other.form_id == key.form_id:
                form.append(batches)
            elif self.bodies.get(other.clay_lot_id, "-") == body:
                like.append(batches)
            else:
                rest.append(batches)
        return Record(line=lines.get(key, ()), form=tuple(form), body=tuple(like), rest=tuple(rest))

    def studio(self, step: Step) -> Record:
        """What is known of all wares at a step, for one that is none of them."""
        return Record(rest=tuple(self.by_step[step].values()))

    def good(self, step: Step) -> int:
        """How many of them came through good."""
        return sum(batch.good for batches in self.by_step[step].values() for batch in batches)

    def seen(self, step: Step) -> int:
        """How many pieces went through a step and are decided."""
        return sum(batch.of for batches in self.by_step[step].values() for batch in batches)


@dataclass(frozen=True, kw_only=True, slots=True)
class Reckoning:
    """What the record says of a line step by step, and how many to throw for so many good ones.

    ``start`` is None when no number gives the chance; ``why_none`` says so.
    """

    rows: tuple[tuple[str, str], ...]
    start: int | None
    why_none: str


def learnt_steps(found: Losses, made: Made) -> list[Learnt]:
    """What is learnt of a ware at each step, from throwing on."""
    return [learn(found.record(step, made), guess_percent=GUESSES[step]) for step in STEPS]


def number_to_start(
    *, line: Line, wanted: int, chance_percent: int, found: Losses | None = None
) -> Reckoning:
    """How many of a line to throw, so that ``wanted`` come good with so many chances in 100.

    ``wanted`` 1 to 400, ``chance_percent`` 1 to 99. Raises ``ValueError`` outside.
    """
    made = Made(line.form_id, line.clay_lot_id, line.coats_id, line.schedule_id)
    steps = learnt_steps(found or losses(), made)
    rows = tuple(
        (MEANT[step], say_so_far(learnt)) for step, learnt in zip(STEPS, steps, strict=True)
    )
    try:
        start = start_through(steps, wanted=wanted, chance_percent=chance_percent)
    except OutOfReach as none:
        return Reckoning(rows=rows, start=None, why_none=str(none))
    return Reckoning(rows=rows, start=start, why_none="")


def losses() -> Losses:
    """Read every batch from the moves."""
    by_step: dict[Step, Batches] = {
        "drying": _drying(),
        "bisque": _step(Stage.THROWN, Stage.BISQUED, by="firing_id"),
        "glazing": _step(Stage.BISQUED, Stage.GLAZED, by="change_id"),
        "glaze": {
            Made(*key): tuple(Batch(good=good, of=of) for good, of in batches)
            for key, batches in fired_by_batch().items()
        },
    }
    bodies = {lot.pk: lot.body.casefold() for lot in ClayLot.objects.all()}
    return Losses(by_step=by_step, bodies=bodies)


def _rows(**asked: object) -> list[tuple[int, int, int | None, int | None, str, int]]:
    rows = (
        Move.objects.filter(change__undone_by__isnull=True, **asked)
        .order_by()
        .values_list(
            "piece__form_id", "piece__clay_lot_id", "firing_id", "change_id", "kind"
        )
        .annotate(n=Count("id"))
    )  # fmt: skip
    return list(rows)


def _drying() -> Batches:
    """By throwing: what came out of a bisque or broke in it dried well; what left before did not.
    A throwing of which something is still drying is not decided: its losses came first.

    The moves of a piece lead back to the change that made it.
    """
    made = dict(
        Move.objects.filter(kind=Move.Kind.MADE).order_by().values_list("piece_id", "change_id")
    )
    wet = {
        made.get(piece_id)
        for piece_id in Piece.objects.at_stage(Stage.THROWN).values_list("id", flat=True)
    }
    dried: dict[Made, dict[int, list[int]]] = defaultdict(lambda: defaultdict(lambda: [0, 0]))
    ended = Move.objects.filter(
        change__undone_by__isnull=True, from_stage=Stage.THROWN,
        kind__in=[Move.Kind.STEP, Move.Kind.PARTING],
    ).values_list(
        "piece_id", "piece__form_id", "piece__clay_lot_id", "kind", "firing_id"
    )  # fmt: skip
    for piece_id, form_id, lot_id, kind, firing_id in ended:
        if piece_id not in made or made[piece_id] in wet:
            continue
        sums = dried[Made(form_id, lot_id)][made[piece_id]]
        sums[0] += kind == Move.Kind.STEP or firing_id is not None
        sums[1] += 1
    return _batches(dried)


def _step(before: str, after: str, *, by: str) -> Batches:
    """By load or dipping: what went on, of that and what was lost in it."""
    sums: dict[Made, dict[int, list[int]]] = defaultdict(lambda: defaultdict(lambda: [0, 0]))
    asked = {"from_stage": before, "kind__in": [Move.Kind.STEP, Move.Kind.PARTING]}
    for form_id, lot_id, firing_id, change_id, kind, n in _rows(**asked):
        batch = firing_id if by == "firing_id" else change_id
        if batch is None:
            continue
        row = sums[Made(form_id, lot_id)][batch]
        row[0] += n if kind == Move.Kind.STEP else 0
        row[1] += n
    return _batches(sums)


def _batches(sums: Mapping[Made, Mapping[int, list[int]]]) -> Batches:
    return {
        made: tuple(Batch(good=good, of=of) for _, (good, of) in sorted(batches.items()))
        for made, batches in sums.items()
    }
