"""A small invented studio for tests: catalogue rows with working defaults, and wares at any stage.

Wares are brought where they are wanted by the room's own services, so that every test starts from
something that can really happen. Only the opened firings they pass are written directly.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import count as counter
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from studio.firings.models import Circuit, Firing, Kiln, Place, Run, Schedule, Segment
from studio.wares import services
from studio.wares.models import Board, ClayLot, Coat, Coats, Form, Glaze, Line, Piece, Stage
from studio.web.models import Change
from studio.web.services import record

MADE = date(2026, 3, 2)
AT = datetime(2026, 3, 20, 10, 4, tzinfo=UTC)
_labels = counter(1)


def user(name: str = "ada") -> User:
    """A person, the same for the same name."""
    found = User.objects.filter(username=name).first()
    return found or User.objects.create_user(name, password="wedge the clay first")


def form(name: str = "Mug", **values: Any) -> Form:
    """A mug, or another form of a mug's size."""
    defaults: dict[str, Any] = {
        "silhouette": "mug",
        "width_mm": 85,
        "handle_mm": 35,
        "height_mm": 100,
        "weight_g": 350,
        "throwing_min": 12,
        "glazing_min": 4,
        "finishing_min": 6,
        "drying_days": 7,
        "room_tenths": 10,
        "price_pence": 3200,
    }
    return Form.objects.get_or_create(name=name, defaults=defaults | values)[0]


def clay_lot(body: str = "Heron stoneware", lot: str = "7", **values: Any) -> ClayLot:
    """A stoneware that goes to cone 8."""
    defaults: dict[str, Any] = {
        "received_date": date(2026, 1, 5),
        "shrinkage_permille": 120,
        "top_cone": "8",
    }
    return ClayLot.objects.get_or_create(body=body, lot=lot, defaults=defaults | values)[0]


def glaze(name: str = "Kelp", **values: Any) -> Glaze:
    """A bucket that goes to cone 7."""
    defaults: dict[str, Any] = {"mixed_date": date(2026, 1, 20), "top_cone": "7"}
    return Glaze.objects.get_or_create(name=name, defaults=defaults | values)[0]


def coats(name: str = "Kelp all over", **values: Any) -> Coats:
    """One coat of kelp."""
    defaults: dict[str, Any] = {"top_cone": "7"}
    made, is_new = Coats.objects.get_or_create(name=name, defaults=defaults | values)
    if is_new:
        Coat.objects.create(coats=made, seq=1, glaze=glaze())
    return made


def schedule(name: str = "Cone 6 slow cool", **values: Any) -> Schedule:
    """A glaze schedule to cone 6 with two segments."""
    defaults: dict[str, Any] = {"kind": "glaze", "cone": "6", "cooling": "slow"}
    made, is_new = Schedule.objects.get_or_create(name=name, defaults=defaults | values)
    if is_new:
        Segment.objects.create(schedule=made, seq=1, rate_c_per_h=150, target_c=1000)
        Segment.objects.create(schedule=made, seq=2, rate_c_per_h=60, target_c=1222, hold_min=10)
    return made


def bisque_schedule(name: str = "Bisque 06", **values: Any) -> Schedule:
    """A bisque schedule to cone 06."""
    return schedule(name, **({"kind": "bisque", "cone": "06", "cooling": "natural"} | values))


def circuit(name: str = "Kiln room", **values: Any) -> Circuit:
    """A supply that heats one kiln at once."""
    return Circuit.objects.get_or_create(name=name, defaults=values)[0]


def kiln(name: str = "Wren", **values: Any) -> Kiln:
    """A small round-sided kiln for 20 mugs; it knows its bisque and glaze runs when they exist."""
    defaults: dict[str, Any] = {
        "sides": 8,
        "inside_width_mm": 445,
        "inside_height_mm": 457,
        "top_cone": "10",
        "glaze_room_tenths": 200,
        "bisque_room_tenths": 400,
    }
    if "circuit" not in values:
        values["circuit"] = circuit()
    return Kiln.objects.get_or_create(name=name, defaults=defaults | values)[0]


def run(kiln: Kiln, schedule: Schedule, **values: Any) -> Run:
    """Two days and 900 pence of this schedule in this kiln."""
    defaults: dict[str, Any] = {"busy_days": 2, "cost_pence": 900}
    made, _ = Run.objects.get_or_create(kiln=kiln, schedule=schedule, defaults=defaults | values)
    return made


def firing(
    schedule: Schedule, *, kiln: Kiln | None = None, state: str = "opened", **values: Any
) -> Firing:
    """A firing as a row, in any state, with the times that state must have."""
    defaults: dict[str, Any] = {"start_date": date(2026, 3, 10), "busy_days": 2}
    lit_at = datetime(2026, 3, 10, 8, tzinfo=UTC)
    if state in ("firing", "cooling", "opened"):
        defaults["lit_at"] = lit_at
    if state in ("cooling", "opened"):
        defaults["off_at"] = lit_at + timedelta(hours=9)
    if state == "opened":
        defaults["opened_at"] = lit_at + timedelta(hours=36)
    return Firing.objects.create(
        kiln=kiln or _a_kiln(), schedule=schedule, state=state, **(defaults | values)
    )


def line(**values: Any) -> Line:
    """The line of a mug in kelp, or of what is given."""
    four: dict[str, Any] = {
        "form": form,
        "clay_lot": clay_lot,
        "coats": coats,
        "schedule": schedule,
    }
    key = {name: values.pop(name) if name in values else make() for name, make in four.items()}
    return Line.objects.get_or_create(**key, defaults={"standing": "proven"} | values)[0]


def board(
    stage: str = "thrown",
    count: int = 6,
    *,
    label: str = "",
    by: User | None = None,
    made_date: date = MADE,
    at: datetime = AT,
    seconds: int = 0,
    **kind: Any,
) -> Board:
    """A board of ``count`` pieces brought to a stage (not listed: those leave their board).

    ``kind`` may give form, clay_lot, coats, schedule, bisque_firing, glaze_firing. Of graded ones
    ``seconds`` are seconds.
    """
    by = by or user()
    who: dict[str, Any] = {"by": by, "at": at}
    change = services.throw(
        form=kind.get("form") or form(),
        clay_lot=kind.get("clay_lot") or clay_lot(),
        count=count,
        board_label=label or f"T{next(_labels)}",
        made_date=made_date,
        **who,
    )
    made = subject_board(change)
    way = list(Stage.values)[: list(Stage.values).index(stage) + 1]
    for onward in way[1:]:
        if onward == Stage.BISQUED:
            given = kind.get("bisque_firing") or firing(bisque_schedule())
            pass_firing(made, to_stage=onward, firing=given, **who)
        elif onward == Stage.GLAZED:
            services.glaze(
                board=made,
                coats=kind.get("coats") or coats(),
                schedule=kind.get("schedule") or schedule(),
                count=count,
                **who,
            )
        elif onward == Stage.FIRED:
            meant = made.pieces.first().schedule  # type: ignore[union-attr]
            given = kind.get("glaze_firing") or firing(meant)  # type: ignore[arg-type]
            pass_firing(made, to_stage=onward, firing=given, **who)
        elif onward == Stage.GRADED:
            services.grade(board=made, firsts=count - seconds, seconds=seconds, **who)
        else:
            raise ValueError("listed pieces stand on no board: use make.pieces")
    return made


def subject_board(change: Change) -> Board:
    """The board that a change was done to."""
    assert change.subject == "board"
    assert change.subject_id is not None
    return Board.objects.get(id=change.subject_id)


def pieces(stage: str = "graded", count: int = 1, **more: Any) -> list[Piece]:
    """``count`` pieces at a stage, listed included. Takes what ``board`` takes."""
    on = "graded" if stage == Stage.LISTED else stage
    ids = list(board(on, count, **more).pieces.values_list("id", flat=True))
    made = list(Piece.objects.filter(id__in=ids).select_related("form", "board"))
    if stage == Stage.LISTED:
        with transaction.atomic():
            change = record(room="sales", action="list", said="Listed", by=more.get("by") or user())
            services.list_pieces(pieces=made, change=change, at=more.get("at", AT))
        made = list(Piece.objects.filter(id__in=ids).select_related("form", "board"))
    return made


def piece(stage: str = "graded", **more: Any) -> Piece:
    """One piece at a stage."""
    return pieces(stage, 1, **more)[0]


@transaction.atomic
def pass_firing(board: Board, *, to_stage: str, firing: Firing, by: User, at: datetime) -> None:
    """Bring all of a board through an opened firing, as opening the kiln does."""
    change = record(room="firings", action="open", said=f"Opened {firing.kiln}", by=by, undo={})
    services.pass_firing(
        pieces=list(board.pieces.all()), to_stage=to_stage, firing=firing, change=change, at=at
    )


def in_load(board: Board, firing: Firing) -> None:
    """Stand a board's pieces in a load, as rows."""
    Place.objects.bulk_create(
        Place(firing=firing, piece=piece, board=board) for piece in board.pieces.all()
    )


def _a_kiln() -> Kiln:
    return kiln()
