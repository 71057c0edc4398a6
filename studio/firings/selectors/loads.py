"""Which boards stand in a load, which may still go in, and how full is it?"""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, F, QuerySet, Sum

from studio.craft.load import going_in_mm
from studio.firings import rules
from studio.firings.models import Firing, Kiln, Place, PlannedWare, Run, TrialRule
from studio.firings.selectors.kilns import UNDER_WAY, busy_with
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Board, ClayLot, Form, Line, Stage
from studio.wares.selectors import Group, boards_now, standings
from studio.web.selectors import length_unit

BEFORE_KILN = [Stage.THROWN, Stage.BISQUED, Stage.GLAZED]


@dataclass(frozen=True, kw_only=True, slots=True)
class BoardChoice:
    """A board beside a load: may it go in, and if not, why not?"""

    board: Board
    batch: rules.Batch
    seen: str
    room_tenths: int
    refusal: str
    most: int
    """How many of it one tap puts in: all, or what a line that is not proven allows."""
    is_meant: bool = False

    @property
    def is_part(self) -> bool:
        """Whether one tap puts in only a part of the board."""
        return self.most < self.batch.count


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """A board in a load: how many of it stand there and the room they take.

    ``height_mm`` is as tall as they go in: what the posts of their shelf must clear.
    """

    board: Board
    what: str
    clay: str
    lot: str
    coats: str
    stage: str
    count: int
    room_tenths: int
    height_mm: int
    width_mm: int
    is_runny: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Fill:
    """How full a load is, by the studio's own measure of room."""

    used_tenths: int
    room_tenths: int
    pieces: int
    caution: str

    @property
    def percent(self) -> int:
        """Of the usual room, rounded down; may be over 100."""
        return self.used_tenths * 100 // self.room_tenths

    @property
    def bar(self) -> int:
        """The percent that a bar can show."""
        return min(self.percent, 100)

    @property
    def words(self) -> str:
        """'31 of about 60 mug places'."""
        used, room = rules.places(self.used_tenths), rules.places(self.room_tenths)
        return f"{used} of about {room} mug places"


def room_of(kiln: Kiln, kind: str) -> int:
    """The usual room of a kiln for a kind of firing [tenths of a mug place]."""
    return kiln.bisque_room_tenths if kind == "bisque" else kiln.glaze_room_tenths


def counted_places(firing: Firing) -> QuerySet[Place]:
    """The places that count as this firing's load: all that were not taken out again."""
    return firing.places.exclude(outcome=Place.Outcome.TAKEN_OUT)


def firing_fill(firing: Firing) -> Fill:
    """How much of the kiln's usual room this firing's load takes."""
    sums = counted_places(firing).aggregate(
        used=Sum("piece__form__room_tenths"), pieces=Count("id")
    )
    used = sums["used"] or 0
    room = room_of(firing.kiln, firing.schedule.kind)
    caution = rules.looks_full(kiln=firing.kiln.name, used_tenths=used, room_tenths=room)
    return Fill(used_tenths=used, room_tenths=room, pieces=sums["pieces"], caution=caution)


def boards_in(firing: Firing) -> list[Standing]:
    """The boards of a load, in the order they went in."""
    rows = (
        counted_places(firing)
        .values(
            "board_id",
            "piece__form_id",
            "piece__clay_lot_id",
            "piece__coats_id",
        )
        .annotate(
            n=Count("id"),
            form=F("piece__form__name"),
            room=F("piece__form__room_tenths"),
            height=F("piece__form__height_mm"),
            shrinks=F("piece__clay_lot__shrinkage_permille"),
            width=F("piece__form__width_mm"),
            handle=F("piece__form__handle_mm"),
            clay=F("piece__clay_lot__body"),
            lot=F("piece__clay_lot__lot"),
            coats=F("piece__coats__name"),
            runny=F("piece__coats__is_runny"),
            stage=F("piece__stage"),
        )
        .order_by("board__label", "piece__form__name")
    )
    boards = Board.objects.in_bulk({row["board_id"] for row in rows})
    return [
        Standing(
            board=boards[row["board_id"]],
            what=row["form"],
            clay=f"{row['clay']}, lot {row['lot']}",
            lot=row["lot"],
            coats=row["coats"] or "",
            stage=row["stage"],
            count=row["n"],
            room_tenths=row["n"] * row["room"],
            height_mm=going_in_mm(fired_mm=row["height"], shrinkage_permille=row["shrinks"]),
            width_mm=row["width"] + row["handle"],
            is_runny=bool(row["runny"]),
        )
        for row in rows
    ]


@dataclass(frozen=True, kw_only=True, slots=True)
class Meant:
    """A ware that a firing is planned for, and how many of it stand in the load."""

    ware: PlannedWare
    inside: int


def meant(firing: Firing) -> list[Meant]:
    """What a firing is planned for beside what it holds.

    A bisque load is counted by form and clay, whatever glaze the pots were given since.
    """
    is_bisque = firing.schedule.kind == "bisque"
    inside: dict[tuple[int, int, int | None], int] = {}
    for (form, clay, coats, _), count in _kinds_in(firing).items():
        key = (form, clay, None if is_bisque else coats)
        inside[key] = inside.get(key, 0) + count
    wares = firing.planned_wares.select_related("form", "clay_lot", "coats")
    return [
        Meant(ware=ware, inside=inside.get((ware.form_id, ware.clay_lot_id, ware.coats_id), 0))
        for ware in wares
    ]


def trial_rule() -> TrialRule:
    """The studio's word on trials; before anyone has said it, an unsaved row of defaults."""
    return TrialRule.objects.filter(pk=1).first() or TrialRule()


def going_in(form: Form, clay_lot: ClayLot) -> int:
    """How tall a form of this clay stands as it goes into a kiln [mm]."""
    return going_in_mm(fired_mm=form.height_mm, shrinkage_permille=clay_lot.shrinkage_permille)


def load_of(firing: Firing) -> rules.Load:
    """A firing as the rules of loading see it."""
    kiln, schedule, rule = firing.kiln, firing.schedule, trial_rule()
    return rules.Load(
        state=firing.state,
        kiln=kiln.name,
        kiln_top_cone=kiln.top_cone,
        inside_height_mm=kiln.inside_height_mm,
        takes_trials=kiln.takes_trials,
        schedule=schedule.name,
        schedule_id=schedule.id,
        kind=schedule.kind,
        cone=schedule.cone,
        has_run=Run.objects.filter(kiln=kiln, schedule=schedule).exists(),
        room_tenths=room_of(kiln, schedule.kind),
        trials=rules.Trials(
            least_pieces=rule.least_pieces,
            most_pieces=rule.most_pieces,
            share_percent=rule.share_percent,
        ),
        busy_with=busy_with(kiln=kiln, but=firing),
        trial_kilns=tuple(Kiln.objects.filter(takes_trials=True).values_list("name", flat=True)),
    )


def batch_of(group: Group, firing: Firing) -> rules.Batch:
    """What a board holds now, as the rules of loading see it."""
    stand = standings(kiln_id=firing.kiln_id)
    return _batch(group, firing, _kinds_in(firing), stand, _names())


def loadable_boards(firing: Firing, *, load: rules.Load | None = None) -> list[BoardChoice]:
    """Every board of thrown, bisqued and glazed ware beside this load, those that may go in first.

    A board that stands in this load already is not among them: ``boards_in`` has it. ``load`` is
    ``load_of`` the firing, when it is known already.
    """
    load = load or load_of(firing)
    choices = [choice for choice in _choices(firing, load) if not choice.batch.in_this_load]
    wanted = Stage.THROWN if firing.schedule.kind == "bisque" else Stage.GLAZED
    return sorted(
        choices,
        key=lambda choice: (
            bool(choice.refusal),
            choice.batch.stage != wanted,
            not choice.is_meant,
            choice.batch.stage,
            choice.board.label,
        ),
    )


def _choices(firing: Firing, load: rules.Load) -> list[BoardChoice]:
    unit = length_unit()
    in_load, stand, names = _kinds_in(firing), standings(kiln_id=firing.kiln_id), _names()
    planned = {
        (ware.form_id, ware.clay_lot_id, ware.coats_id) for ware in firing.planned_wares.all()
    }
    found = []
    for group in boards_now():
        if group.stage not in BEFORE_KILN or group.form is None:
            continue
        batch = _batch(group, firing, in_load, stand, names)
        allowed = rules.most_of_batch(batch=batch, load=load)
        most = batch.count if allowed is None else min(batch.count, allowed)
        refusal = rules.can_load(
            batch=batch, load=load, count=most or batch.count, length_unit=unit
        )
        found.append(
            BoardChoice(
                board=group.board,
                batch=batch,
                seen=group.seen,
                room_tenths=group.form.room_tenths,
                refusal=refusal,
                most=most,
                is_meant=kind_of(group)[:3] in planned,
            )
        )
    return found


def _batch(
    group: Group,
    firing: Firing,
    in_load: dict[Kind, int],
    standings: dict[Kind, str],
    names: dict[int, str],
) -> rules.Batch:
    form, clay, coats, schedule = group.form, group.clay_lot, group.coats, group.schedule
    kind = kind_of(group)
    here = group.firing_id == firing.pk
    other = "" if here or group.firing_id is None else names[group.firing_id]
    return rules.Batch(
        board=group.board.label,
        what=form.name if form else "",
        count=group.count,
        stage=group.stage,
        is_dry=group.is_dry,
        clay=str(clay) if clay else "",
        clay_top_cone=clay.top_cone if clay else firing.schedule.cone,
        coats=coats.name if coats else "",
        coats_top_cone=coats.top_cone if coats else "",
        schedule=schedule.name if schedule else "",
        schedule_id=schedule.pk if schedule else None,
        going_in_mm=going_in(form, clay) if form and clay else 1,
        room_tenths=form.room_tenths if form else 1,
        standing=standings.get(kind, Line.Standing.UNTRIED),
        line_in_load=in_load.get(kind, 0),
        in_load=other,
        in_this_load=here,
    )


def _names() -> dict[int, str]:
    under_way = Firing.objects.filter(state__in=UNDER_WAY).select_related("kiln", "schedule")
    return {firing.pk: str(firing) for firing in under_way}


def _kinds_in(firing: Firing) -> dict[Kind, int]:
    keys = [f"piece__{name}" for name in Kind._fields]
    rows = counted_places(firing).values_list(*keys).annotate(n=Count("id")).order_by()
    return {Kind(*row[:4]): row[4] for row in rows}
