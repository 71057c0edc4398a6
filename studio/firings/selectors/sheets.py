"""What is a load drawn from, what stands where on it, and what may stand there instead?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from studio.craft.kiln_load import BadKiln, LoadRules, Lot, Pin, Ware
from studio.craft.kiln_packing import still_fits
from studio.firings import rules
from studio.firings.models import Firing, Place, Sheet, Spot
from studio.firings.selectors.loads import BoardChoice, load_of, loadable_boards
from studio.firings.selectors.packing import (
    Sort,
    plan_of,
    room_in,
    rules_of,
    ware_of,
)
from studio.wares.models import Board, ClayLot, Coats, Form

IN_THE_LOAD, MEANT, MAY_GO_IN = 100, 10, 1
"""What a piece is worth loading, times its room: what stands there before what the plan wants."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """So many of a sort that a load is to hold, and how they are worth."""

    sort: Sort
    what: str
    ware: Ware
    count: int
    value: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Unplaced:
    """Pieces of a board that are in the load and have no place on its drawing."""

    place: Place
    count: int
    what: str


@dataclass(frozen=True, kw_only=True, slots=True)
class StillFits:
    """How many more of a sort fit a drawn load, nothing moved; ``why_not`` where none does."""

    what: str
    count: int
    waiting: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Instead:
    """What may stand at a place instead: pieces in the load without a place, or of a board."""

    words: str
    place: Place | None
    board: Board | None
    seen: str
    refusal: str


def sort_of(place: Place, *, is_bisque: bool) -> Sort:
    """The sort of a piece in a load."""
    piece = place.piece
    return Sort(piece.form_id, piece.clay_lot_id, None if is_bisque else piece.coats_id)


def what_is(form: Form, clay_lot: ClayLot, coats: Coats | None) -> str:
    """'Mug in Tide, lot 7'; without coats the whole clay."""
    return f"{form} in {coats}, lot {clay_lot.lot}" if coats else f"{form}, {clay_lot}"


def sheet_of_firing(firing: Firing) -> Sheet | None:
    """The drawn load of a firing, if there is one."""
    return Sheet.objects.filter(firing=firing).first()


def spots_of(sheet: Sheet) -> list[Spot]:
    """Every spot of a drawn load by number, with what stands there."""
    return list(
        sheet.spots.select_related(
            "form", "clay_lot", "coats", "place__board", "place__piece"
        ).order_by("number")
    )


def open_places(firing: Firing) -> list[Place]:
    """The pieces in a load that were not taken out again."""
    return list(
        firing.places.exclude(outcome=Place.Outcome.TAKEN_OUT)
        .select_related("piece__form", "piece__clay_lot", "piece__coats", "board")
        .order_by("id")
    )


def asked_of(
    firing: Firing, *, fill_up: bool = False, choices: list[BoardChoice] | None = None
) -> list[Asked]:
    """What a load is to hold: what stands in it, then what it is meant for, then what may go in.

    What may go in comes along when ``fill_up`` is asked for, and when nothing else is known.
    """
    is_bisque = firing.schedule.kind == "bisque"
    rows: dict[Sort, tuple[Form, ClayLot, Coats | None]] = {}
    inside: Counter[Sort] = Counter()
    for place in open_places(firing):
        piece, sort = place.piece, sort_of(place, is_bisque=is_bisque)
        inside[sort] += 1
        rows.setdefault(sort, (piece.form, piece.clay_lot, None if is_bisque else piece.coats))
    wanted: Counter[Sort] = Counter()
    for ware in firing.planned_wares.select_related("form", "clay_lot", "coats"):
        sort = Sort(ware.form_id, ware.clay_lot_id, ware.coats_id)
        wanted[sort] = ware.count
        rows.setdefault(sort, (ware.form, ware.clay_lot, ware.coats))
    waiting: Counter[Sort] = Counter()
    if fill_up or not rows:
        boards = loadable_boards(firing) if choices is None else choices
        for sort, parts, count in _waiting(boards, is_bisque=is_bisque):
            waiting[sort] += count
            rows.setdefault(sort, parts)
    found = []
    for sort, (form, clay_lot, coats) in rows.items():
        ranks = ((inside, IN_THE_LOAD), (wanted, MEANT), (waiting, MAY_GO_IN))
        rank = next(worth for counts, worth in ranks if counts[sort])
        found.append(
            Asked(
                sort=sort,
                what=what_is(form, clay_lot, coats),
                ware=ware_of(form, clay_lot, coats),
                count=max(wanted[sort], inside[sort] + waiting[sort]),
                value=max(form.room_tenths, 1) * rank,
            )
        )
    return sorted(found, key=lambda one: (-one.value, one.sort.key))


def _waiting(
    choices: Iterable[BoardChoice], *, is_bisque: bool
) -> Iterable[tuple[Sort, tuple[Form, ClayLot, Coats | None], int]]:
    """The ware that may go into a load, by sort."""
    boards = {choice.board.pk: choice for choice in choices if not choice.refusal}
    firsts = {
        board.pk: board.pieces.select_related("form", "clay_lot", "coats").first()
        for board in Board.objects.filter(pk__in=boards)
    }
    for board_id, choice in boards.items():
        piece = firsts[board_id]
        if piece is None:
            continue
        coats = None if is_bisque else piece.coats
        sort = Sort(piece.form_id, piece.clay_lot_id, coats.pk if coats else None)
        yield sort, (piece.form, piece.clay_lot, coats), choice.most


def pins_of(spots: Iterable[Spot]) -> dict[Sort, list[Pin]]:
    """The spots that keep their place when a load is drawn again."""
    found: dict[Sort, list[Pin]] = {}
    for spot in spots:
        if not spot.is_pinned or spot.form_id is None or spot.clay_lot_id is None:
            continue
        if spot.x_mm is None or spot.y_mm is None or spot.mark == Spot.Mark.LEFT_OUT:
            continue
        sort = Sort(spot.form_id, spot.clay_lot_id, spot.coats_id)
        pin = Pin(level=spot.level, x_mm=spot.x_mm, y_mm=spot.y_mm, turn_deg=spot.turn_deg)
        found.setdefault(sort, []).append(pin)
    return found


def unplaced(firing: Firing, spots: Iterable[Spot]) -> list[Unplaced]:
    """What is in a load and has no place on its drawing, by board and sort."""
    placed = {spot.place_id for spot in spots if spot.place_id}
    is_bisque = firing.schedule.kind == "bisque"
    groups: dict[tuple[int, Sort], list[Place]] = {}
    for place in open_places(firing):
        if place.pk not in placed:
            key = (place.board_id, sort_of(place, is_bisque=is_bisque))
            groups.setdefault(key, []).append(place)
    return [
        Unplaced(place=some[0], count=len(some), what=_what_of(some[0], is_bisque=is_bisque))
        for some in groups.values()
    ]


def _what_of(place: Place, *, is_bisque: bool) -> str:
    piece = place.piece
    return what_is(piece.form, piece.clay_lot, None if is_bisque else piece.coats)


def more_fit(
    firing: Firing, sheet: Sheet, spots: list[Spot], *, choices: list[BoardChoice]
) -> list[StillFits]:
    """How many more of each sort fit this load, with nothing moved.

    What waits on a board and is drawn already, ahead of its loading, is not asked for again.
    """
    is_bisque = firing.schedule.kind == "bisque"
    room, law = room_in(firing.kiln), law_of(firing, sheet)
    plan, lots = plan_of(sheet, spots)
    found: dict[Sort, StillFits] = {}
    for sort, parts, count in _waiting(choices, is_bisque=is_bisque):
        before = found.get(sort)
        if before is not None:
            found[sort] = replace(before, waiting=before.waiting + count)
            continue
        fits = still_fits(room=room, plan=plan, lots=lots, ware=ware_of(*parts), rules=law)
        found[sort] = StillFits(what=what_is(*parts), count=fits, waiting=count)
    ahead = Counter(
        Sort(spot.form_id, spot.clay_lot_id, spot.coats_id)
        for spot in spots
        if spot.form_id
        and spot.clay_lot_id
        and not spot.place_id
        and spot.mark != Spot.Mark.LEFT_OUT
    )
    further = [
        replace(one, waiting=one.waiting - ahead[sort])
        for sort, one in found.items()
        if one.waiting > ahead[sort]
    ]
    return sorted(further, key=lambda one: (-one.count, one.what))


def law_of(firing: Firing, sheet: Sheet) -> LoadRules:
    """How close ware stands on a drawn load."""
    return rules_of(firing.schedule.kind, runny=sheet.runny, handles=sheet.handles)


def no_bigger(ware: Ware, other: Ware) -> bool:
    """Whether a piece stands where another was drawn: within its outline, and no taller."""
    if ware.height_mm > other.height_mm or (ware.is_runny and not other.is_runny):
        return False
    if ware.shape == other.shape == "oblong":
        return ware.width_mm <= other.width_mm and ware.length_mm <= other.length_mm
    if ware.shape == other.shape == "handled":
        return (
            ware.width_mm <= other.width_mm
            and ware.handle_mm <= other.handle_mm
            and ware.handle_width_mm <= other.handle_width_mm
        )
    # Round the middle of its body, a handle reaches out on every side it may point to.
    reach = ware.width_mm + 2 * ware.handle_mm if ware.shape == "handled" else ware.across_mm
    return reach <= other.width_mm


def choices_instead(
    firing: Firing, spot: Spot, spots: list[Spot], *, boards: list[BoardChoice]
) -> list[Instead]:
    """What may stand at a place instead, what may not last."""
    if spot.form is None or spot.clay_lot is None:
        return []
    is_bisque = firing.schedule.kind == "bisque"
    there = ware_of(spot.form, spot.clay_lot, spot.coats)
    now = what_is(spot.form, spot.clay_lot, spot.coats)
    found = []
    for one in unplaced(firing, spots):
        piece = one.place.piece
        ware = ware_of(piece.form, piece.clay_lot, None if is_bisque else piece.coats)
        refusal = rules.can_take_its_place(
            what=one.what, instead_of=now, fits=no_bigger(ware, there)
        )
        words = f"{one.what}, board {one.place.board} ({one.count} in the load without a place)"
        found.append(Instead(words=words, place=one.place, board=None, seen="", refusal=refusal))
    for choice in boards:
        first = choice.board.pieces.select_related("form", "clay_lot", "coats").first()
        if choice.refusal or first is None:
            continue
        coats = None if is_bisque else first.coats
        what = what_is(first.form, first.clay_lot, coats)
        fits = no_bigger(ware_of(first.form, first.clay_lot, coats), there)
        refusal = rules.can_take_its_place(what=what, instead_of=now, fits=fits)
        words = f"1 {what}, board {choice.board} ({choice.batch.count} wait there)"
        found.append(
            Instead(words=words, place=None, board=choice.board, seen=choice.seen, refusal=refusal)
        )
    return sorted(found, key=lambda one: bool(one.refusal))


def why_not_draw(firing: Firing, *, asked: int) -> str:
    """Why a load may not be drawn; '' when it may."""
    try:
        room_in(firing.kiln)
    except BadKiln as problem:
        return str(problem)
    return rules.can_draw(
        state=firing.state, kiln=firing.kiln.name, asked=asked, kind=firing.schedule.kind
    )


def lots_of(asked: Iterable[Asked], pins: dict[Sort, list[Pin]]) -> list[Lot]:
    """What was asked for as the packer takes it; pins of what is no longer asked for go."""
    return [
        Lot(
            ware=one.ware,
            count=one.count,
            value=one.value,
            pinned=tuple(pins.get(one.sort, ())[: one.count]),
        )
        for one in asked
    ]


def boards_beside(firing: Firing) -> list[BoardChoice]:
    """The boards beside a load, for drawing it and for changing it."""
    return loadable_boards(firing, load=load_of(firing))
