"""Say of a place on a drawn load: moved, left out, this one instead, keep it there."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from studio.firings import rules, selectors
from studio.firings.models import Firing, Place, Spot
from studio.firings.selectors.packing import ring_at
from studio.firings.services.leaving import take_out_of_load
from studio.firings.services.loading import free_when_empty, load
from studio.firings.services.sheets import SPOT_FIELDS
from studio.firings.services.writing import held
from studio.wares.models import Board, Piece
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.selectors import length_unit
from studio.web.services import record

Mark = Spot.Mark


@transaction.atomic
def leave_out(*, spot: Spot, seen: int, by: User, at: datetime) -> Change:
    """Free a place: what stood there is out of the load, on a board beside it. Raises Refusal.

    What is left out of one board at one loading stands together.
    """
    firing, spot = _held(spot, seen)
    refuse(rules.can_leave_out(number=spot.number, is_free=spot.mark == Mark.LEFT_OUT))
    was = _values([spot])
    change = _recorded(firing, f"Left out place {spot.number}: {_what(spot)}", by=by, at=at)
    taken = [spot.place_id] if spot.place_id else []
    if board := take_out_of_load(spot, firing, change):
        change.said += f"; it stands on board {board}"
    spot.mark, spot.place, spot.is_pinned = Mark.LEFT_OUT, None, False
    return _kept(change, firing, [spot], was, taken=taken)


@transaction.atomic
def move(*, spot: Spot, seen: int, level: int, ring: str, by: User, at: datetime) -> Change:
    """Write down that a piece stands on a level, inner or outer. Raises Refusal."""
    firing, spot = _held(spot, seen)
    refuse(rules.can_leave_out(number=spot.number, is_free=spot.mark == Mark.LEFT_OUT))
    found = selectors.level_of(spot.sheet, level)
    if found is None:
        raise Refusal(rules.no_such_level(level=level, levels=len(spot.sheet.levels)))
    ground = selectors.ground_of(firing, spot.sheet, spot, selectors.spots_of(spot.sheet))
    refuse(selectors.why_not_on(ground, found))
    was = _values([spot])
    spot.level, spot.ring, spot.mark = level, ring, Mark.MOVED
    spot.x_mm = spot.y_mm = None
    spot.is_pinned, spot.tier = False, 0
    said = f"Moved place {spot.number}, {_what(spot)}, to level {level}, {ring}"
    return _kept(_recorded(firing, said, by=by, at=at), firing, [spot], was)


@transaction.atomic
def put_at(
    *,
    spot: Spot,
    seen: int,
    level: int,
    point: tuple[float, float] | None = None,
    part: str = "",
    by: User,
    at: datetime,
) -> Change:
    """Write down just where a piece stands now: by a tap, or by a ninth of a level.

    ``point`` [mm] from the kiln's middle to the right and to the back; the piece stands at the
    nearest place that keeps every gap, no more than a finger's width off. Raises Refusal.
    """
    firing, spot = _held(spot, seen)
    refuse(rules.can_leave_out(number=spot.number, is_free=spot.mark == Mark.LEFT_OUT))
    there = selectors.level_of(spot.sheet, level)
    if there is None:
        raise Refusal(rules.no_such_level(level=level, levels=len(spot.sheet.levels)))
    ground = selectors.ground_of(firing, spot.sheet, spot, selectors.spots_of(spot.sheet))
    refuse(selectors.why_not_on(ground, there))
    turn = spot.turn_deg
    if part:
        found = selectors.found_in(ground, there, part, turn_deg=turn)
        why_not = rules.no_room_in_part(what=ground.what, level=level)
    elif point is not None:
        x, y = point
        near = selectors.TAP_MM
        found = selectors.found_at(ground, there, x_mm=x, y_mm=y, turn_deg=turn, within_mm=near)
        why_not = ""
        if found is None:
            why_not = selectors.why_not_there(ground, there, x_mm=x, y_mm=y, turn_deg=turn)
    else:
        raise Refusal(rules.NO_POINT)
    if found is None:
        raise Refusal(why_not)
    was = _values([spot])
    spot.level, spot.mark, spot.is_pinned, spot.tier = level, Mark.MOVED, False, 0
    spot.x_mm, spot.y_mm, spot.turn_deg = found.x_mm, found.y_mm, found.turn_deg
    spot.ring = ring_at(ground.room, found.x_mm, found.y_mm)
    where = rules.point_words(x_mm=found.x_mm, y_mm=found.y_mm, unit=length_unit())
    said = f"Moved place {spot.number}, {_what(spot)}, to level {level}, {where}"
    return _kept(_recorded(firing, said, by=by, at=at), firing, [spot], was)


@transaction.atomic
def move_to(*, spot: Spot, seen: int, to: Spot, by: User, at: datetime) -> Change:
    """Put what stands at a place on a free one; its own is free then. Raises Refusal."""
    firing, spot = _held(spot, seen)
    refuse(rules.can_leave_out(number=spot.number, is_free=spot.mark == Mark.LEFT_OUT))
    spots = selectors.spots_of(spot.sheet)
    free = {one.pk: one for one in selectors.free_spots_for(firing, spot.sheet, spot, spots)}
    if to.pk not in free:
        raise Refusal(
            rules.changed_meanwhile(number=to.number, by=selectors.last_said(firing, "mark_spot"))
        )
    target = free[to.pk]
    was = _values([spot, target])
    place, sort = spot.place, (spot.form, spot.clay_lot, spot.coats)
    spot.place, spot.mark, spot.is_pinned = None, Mark.LEFT_OUT, False
    target.place, target.mark = place, Mark.MOVED
    target.form, target.clay_lot, target.coats = sort
    said = f"Moved {_what(target)} from place {spot.number} to place {target.number}"
    # The piece leaves the one place before it stands on the other.
    return _kept(_recorded(firing, said, by=by, at=at), firing, [spot, target], was)


@transaction.atomic
def instead(
    *,
    spot: Spot,
    seen: int,
    place: Place | None = None,
    board: Board | None = None,
    board_seen: str = "",
    by: User,
    at: datetime,
) -> Change:
    """Stand another piece at a place: one of the load without a place, or one of a board.

    What stood there is out of the load, as when it is left out. Raises Refusal.
    """
    firing, spot = _held(spot, seen)
    loading: Change | None = None
    spots = selectors.spots_of(spot.sheet)
    if spot.mark == Mark.LEFT_OUT:
        refuse(selectors.why_not_clear(firing, spot.sheet, spot, spots))
    choice = _choice(firing, spot, spots, place=place, board=board)
    refuse(choice.refusal)
    if choice.board is not None:
        loading = load(
            firing=firing, board=choice.board, count=1, seen=board_seen or None, by=by, at=at
        )
        last = firing.places.filter(outcome="").order_by("-id")
        place = last.select_related(
            "piece__form", "piece__clay_lot", "piece__coats", "board"
        ).first()
    else:
        place = choice.place
    spot = _again(spot)
    if place is None:
        raise Refusal(rules.LOAD_CHANGED)
    others = list(Spot.objects.filter(place=place).exclude(pk=spot.pk))
    was = _values([spot, *others])
    piece, before = place.piece, _what(spot)
    coats = None if firing.schedule.kind == "bisque" else piece.coats
    now = selectors.what_is(piece.form, piece.clay_lot, coats)
    said = f"Place {spot.number}: {now} instead of {before}"
    if now == before:
        said += f", of board {place.board}"
    change = _recorded(firing, said, by=by, at=at)
    if loading is not None:
        # Taking this back takes the piece out of the load again.
        change.undo = {**(change.undo or {}), "loading": loading.pk}
    taken = [spot.place_id] if spot.place_id else []
    if stands_on := take_out_of_load(spot, firing, change):
        change.said += f"; what stood there is on board {stands_on}"
    for other in others:
        other.place = None
    spot.form, spot.clay_lot, spot.coats = piece.form, piece.clay_lot, coats
    spot.place, spot.mark, spot.is_pinned = place, Mark.SWAPPED, False
    return _kept(change, firing, [*others, spot], was, taken=taken)


@transaction.atomic
def pin(*, spot: Spot, seen: int, keep: bool, by: User, at: datetime) -> Change:
    """Let what stands at a place keep it when the load is drawn again, or not. Raises Refusal."""
    firing, spot = _held(spot, seen)
    refuse(
        rules.can_pin(
            number=spot.number,
            is_free=spot.mark == Mark.LEFT_OUT,
            has_spot=spot.x_mm is not None,
            tier=selectors.tier_of(spot, selectors.spots_of(spot.sheet)) if keep else 0,
        )
    )
    was = _values([spot])
    spot.is_pinned = keep
    word = "keeps its place" if keep else "may stand elsewhere"
    said = f"Place {spot.number}: {_what(spot)} {word} when the load is drawn again"
    return _kept(_recorded(firing, said, by=by, at=at), firing, [spot], was)


def unmark(firing: Firing, kept: dict[str, Any]) -> None:
    """The way back from a mark: the spots as they were. Pieces are on their boards again."""
    refuse(rules.can_mark(state=firing.state, kiln=firing.kiln.name))
    found = {
        spot.pk: spot for spot in Spot.objects.filter(pk__in=[row["pk"] for row in kept["spots"]])
    }
    same = all(row["pk"] in found and found[row["pk"]].seq == row["seq"] for row in kept["spots"])
    refuse(rules.can_undo(same, now="the drawing was changed since"))
    Spot.objects.filter(pk__in=found).update(place=None)
    Place.objects.filter(pk__in=kept["taken"]).update(outcome="")
    if kept["taken"]:
        firing.state = kept["state"]
        firing.save(update_fields=["state"])
    standing = {place.pk for place in selectors.open_places(firing)}
    for row in kept["spots"]:
        spot = found[row["pk"]]
        for name, value in row["was"].items():
            setattr(spot, name, value)
        if spot.place_id not in standing:
            spot.place_id = None
        spot.seq = row["seq"] + 1
        spot.save()
    _refuse_if_taken(firing, list(found))
    _count_up(firing)


def _refuse_if_taken(firing: Firing, back: Sequence[int]) -> None:
    """A piece comes back to its place only while nothing else was moved there."""
    sheet = selectors.sheet_of_firing(firing)
    spots = selectors.spots_of(sheet) if sheet else []
    for spot in spots:
        if sheet and spot.pk in back and spot.mark != Mark.LEFT_OUT:
            taken = selectors.why_not_clear(firing, sheet, spot, spots)
            refuse(rules.can_undo(not taken, now="another piece was moved there since"))


def _held(spot: Spot, seen: int) -> tuple[Firing, Spot]:
    """Hold the firing, and the spot as it is now if it is still as the person saw it."""
    firing = held(spot.sheet.firing)
    refuse(rules.can_mark(state=firing.state, kiln=firing.kiln.name))
    now = Spot.objects.select_for_update().filter(pk=spot.pk).first()
    if now is None:
        raise Refusal(rules.DRAWN_SINCE)
    if now.seq != seen:
        raise Refusal(
            rules.changed_meanwhile(number=now.number, by=selectors.last_said(firing, "mark_spot"))
        )
    return firing, _again(now)


def _again(spot: Spot) -> Spot:
    parts = ("sheet", "form", "clay_lot", "coats", "place__piece", "place__board")
    return Spot.objects.select_related(*parts).get(pk=spot.pk)


def _choice(
    firing: Firing, spot: Spot, spots: list[Spot], *, place: Place | None, board: Board | None
) -> selectors.Instead:
    """The choice that the page offered, as it is now; refused when it is no longer one."""
    boards = selectors.boards_beside(firing) if board else []
    for one in selectors.choices_instead(firing, spot, spots, boards=boards):
        if board is not None and one.board == board:
            return one
        if place is not None and one.place == place:
            return one
    raise Refusal(rules.LOAD_CHANGED.replace("while it was drawn", "meanwhile"))


def _what(spot: Spot) -> str:
    if spot.form is None or spot.clay_lot is None:
        return spot.get_what_display().lower()
    return selectors.what_is(spot.form, spot.clay_lot, spot.coats)


def _values(spots: Sequence[Spot]) -> list[dict[str, Any]]:
    return [
        {"pk": spot.pk, "was": {name: getattr(spot, name) for name in SPOT_FIELDS if name != "seq"}}
        for spot in spots
    ]


def _recorded(firing: Firing, said: str, *, by: User, at: datetime) -> Change:
    return record(
        room="firings", action="mark_spot", said=said, by=by, at=at, subject="firing",
        subject_id=firing.pk, undo={"state": firing.state},
    )  # fmt: skip


def _kept(
    change: Change,
    firing: Firing,
    spots: Sequence[Spot],
    was: list[dict[str, Any]],
    *,
    taken: Sequence[int] = (),
) -> Change:
    """Save the spots, each with one change more, and what the way back needs."""
    for spot in spots:
        spot.seq += 1
        spot.save()
    if taken:
        free_when_empty(firing)
    _count_up(firing)
    seqs = {spot.pk: spot.seq for spot in spots}
    rows = [{**row, "seq": seqs[row["pk"]]} for row in was]
    went_to = Piece.objects.filter(places__in=taken).values_list("board_id", flat=True).first()
    kept = {"spots": rows, "taken": list(taken), "went_to": went_to}
    change.undo = {**(change.undo or {}), **kept}
    change.save()
    return change


def _count_up(firing: Firing) -> None:
    """Tell pages that show the whole drawing that it changed."""
    sheet = selectors.sheet_of_firing(firing)
    if sheet is not None:
        sheet.seq += 1
        sheet.save(update_fields=["seq"])
