"""Where may a piece of a drawn load stand instead, with nothing else moved?

The packer's own outlines and gaps answer, so that a load changed by hand is still one that can be
built, and what became of a piece is learnt from where it truly stood.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from studio.craft import kiln_load
from studio.craft.kiln_load import CONE_PACK, TEST_TILE, KilnRoom, Level, LoadPlan, LoadRules, Ware
from studio.craft.load_places import InTheWay, in_the_way, place_near, stands_on
from studio.firings import rules
from studio.firings.models import Firing, Sheet, Spot
from studio.firings.selectors.packing import (
    exact,
    key_of,
    levels_of,
    plan_of,
    room_in,
    wares_in,
)
from studio.firings.selectors.sheets import law_of, no_bigger, what_is
from studio.web.selectors import length_unit

TAP_MM: Final = 30.0
"""A finger on a small drawing means no better than this. Common practice, no source."""
THIRDS: Final = (
    ("back left", -1, 1), ("back", 0, 1), ("back right", 1, 1),
    ("left", -1, 0), ("middle", 0, 0), ("right", 1, 0),
    ("front left", -1, -1), ("front", 0, -1), ("front right", 1, -1),
)  # fmt: skip
"""The nine parts of a level, as one stands before the kiln."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Ground:
    """A drawn load without one piece, which is asked about."""

    room: KilnRoom
    law: LoadRules
    levels: tuple[Level, ...]
    plan: LoadPlan
    lots: list[kiln_load.Lot]
    free_lots: list[kiln_load.Lot]
    free_plan: LoadPlan
    standing: tuple[Spot, ...]
    ware: Ware
    what: str


@dataclass(frozen=True, kw_only=True, slots=True)
class PartOf:
    """A ninth of a level, and why the piece does not stand there."""

    name: str
    refusal: str


def ground_of(firing: Firing, sheet: Sheet, spot: Spot, spots: Sequence[Spot]) -> Ground:
    """A drawn load without what stands on a spot."""
    others = [one for one in spots if one.pk != spot.pk]
    plan, lots = plan_of(sheet, others)
    free_plan, free_lots = plan_of(sheet, [one for one in others if not one.is_pinned])
    wares = {**wares_in([spot]), CONE_PACK.key: CONE_PACK, TEST_TILE.key: TEST_TILE}
    what = spot.get_what_display().lower()
    if spot.form is not None and spot.clay_lot is not None:
        what = what_is(spot.form, spot.clay_lot, spot.coats)
    return Ground(
        room=room_in(firing.kiln),
        law=law_of(firing, sheet),
        levels=levels_of(sheet),
        plan=plan,
        lots=lots,
        free_plan=free_plan,
        free_lots=free_lots,
        standing=tuple(one for one, _ in exact(others)),
        ware=wares[key_of(spot)],
        what=what,
    )


def level_of(sheet: Sheet, number: int) -> Level | None:
    """A level of a drawn load."""
    return next((level for level in levels_of(sheet) if level.number == number), None)


def why_not_on(ground: Ground, level: Level) -> str:
    """Why a piece does not stand on a level, wherever there is room; '' when it does."""
    why = stands_on(
        plan=ground.free_plan,
        lots=ground.free_lots,
        rules=ground.law,
        ware=ground.ware,
        level=level,
    )
    if why == "too tall":
        tile = ground.law.tile_mm if ground.law.on_tile(ground.ware) else 0
        return rules.can_stand(
            what=ground.what,
            height_mm=ground.ware.height_mm + tile,
            clear_mm=level.clear_mm,
            level=level.number,
            unit=length_unit(),
        )
    if why:
        return rules.runs_there(
            what=ground.what, level=level.number, is_over=why == "runs over others"
        )
    return ""


def found_at(
    ground: Ground, level: Level, *, x_mm: float, y_mm: float, turn_deg: float, within_mm: float
) -> kiln_load.Spot | None:
    """The nearest place to a point of a level where the piece stands clear."""
    return place_near(
        room=ground.room,
        plan=ground.plan,
        lots=ground.lots,
        rules=ground.law,
        ware=ground.ware,
        level=level,
        x_mm=x_mm,
        y_mm=y_mm,
        turn_deg=turn_deg,
        within_mm=within_mm,
    )


def why_not_there(
    ground: Ground, level: Level, *, x_mm: float, y_mm: float, turn_deg: float
) -> str:
    """What keeps a piece from a point of a level, and how far off the nearest room is."""
    spot = kiln_load.Spot(
        ware_key=ground.ware.key, level=level.number, x_mm=x_mm, y_mm=y_mm, turn_deg=turn_deg
    )
    far = float(max(ground.room.width_mm, ground.room.across_y_mm))
    nearest = found_at(ground, level, x_mm=x_mm, y_mm=y_mm, turn_deg=turn_deg, within_mm=far)
    off = None
    if nearest is not None:
        off = ((nearest.x_mm - x_mm) ** 2 + (nearest.y_mm - y_mm) ** 2) ** 0.5
    return rules.no_room_there(
        what=ground.what,
        level=level.number,
        within_mm=TAP_MM,
        touches=_touches(ground, _in_the_way(ground, spot)),
        nearest_mm=off,
        unit=length_unit(),
    )


def third_of(ground: Ground, level: Level, name: str) -> tuple[float, float, float]:
    """The middle of a ninth of a level and how far its corners are off: x, y, reach [mm]."""
    left, right = -ground.room.width_mm / 2, ground.room.width_mm / 2
    if level.part != "whole":
        left, right = (left, 0.0) if level.part == "left" else (0.0, right)
    wide, deep = (right - left) / 3, ground.room.across_y_mm / 3
    column, row = next((x, y) for key, x, y in THIRDS if key == name)
    reach = (wide**2 + deep**2) ** 0.5 / 2
    return (left + right) / 2 + column * wide, row * deep, reach


def found_in(ground: Ground, level: Level, name: str, *, turn_deg: float) -> kiln_load.Spot | None:
    """The place nearest to the middle of a ninth of a level where the piece stands clear."""
    x, y, reach = third_of(ground, level, name)
    return found_at(ground, level, x_mm=x, y_mm=y, turn_deg=turn_deg, within_mm=reach)


def parts_of_level(ground: Ground, level: Level, *, turn_deg: float) -> list[PartOf]:
    """The nine parts of a level, from the back; each with why the piece does not stand there."""
    no_room = rules.no_room_in_part(what=ground.what, level=level.number)
    return [
        PartOf(
            name=name,
            refusal="" if found_in(ground, level, name, turn_deg=turn_deg) else no_room,
        )
        for name, _, _ in THIRDS
    ]


def why_not_clear(firing: Firing, sheet: Sheet, spot: Spot, spots: Sequence[Spot]) -> str:
    """Why what a spot is drawn with does not stand there any more; '' when it does.

    A piece that was moved by hand may stand where a free place was.
    """
    if spot.x_mm is None or spot.y_mm is None:
        return ""
    here = (spot.level, spot.x_mm, spot.y_mm)
    # Those of its own stack share its place.
    others = [one for one in spots if (one.level, one.x_mm, one.y_mm) != here]
    ground = ground_of(firing, sheet, spot, others)
    at = kiln_load.Spot(
        ware_key=ground.ware.key,
        level=spot.level,
        x_mm=spot.x_mm,
        y_mm=spot.y_mm,
        turn_deg=spot.turn_deg,
    )
    touches = _touches(ground, [one for one in _in_the_way(ground, at) if one.what == "ware"])
    return rules.stands_in_the_way(number=spot.number, touches=touches) if touches else ""


def free_spots_for(firing: Firing, sheet: Sheet, spot: Spot, spots: list[Spot]) -> list[Spot]:
    """The free places of a drawn load that take what stands at this one."""
    if spot.form is None or spot.clay_lot is None:
        return []
    ground = ground_of(firing, sheet, spot, spots)
    others = [one for one in spots if one.pk != spot.pk]
    free = []
    for other in others:
        if other.mark != Spot.Mark.LEFT_OUT or other.form is None:
            continue
        there = wares_in([other])[key_of(other)]
        level = level_of(sheet, other.level)
        if level is None or not no_bigger(ground.ware, there) or why_not_on(ground, level):
            continue
        if not why_not_clear(firing, sheet, other, others):
            free.append(other)
    return free


def tier_of(spot: Spot, spots: Sequence[Spot]) -> int:
    """How many pieces are under what stands on a spot, as the load stands now."""
    return next((tier for one, tier in exact(spots) if one.pk == spot.pk), 0)


def without_a_point(spots: Sequence[Spot], level: int) -> list[int]:
    """The numbers of what was moved to a level by hand and stands nobody wrote down where."""
    return [
        one.number
        for one in spots
        if one.level == level and one.x_mm is None and one.mark == Spot.Mark.MOVED
    ]


def _in_the_way(ground: Ground, spot: kiln_load.Spot) -> list[InTheWay]:
    return list(
        in_the_way(
            room=ground.room,
            plan=ground.plan,
            lots=ground.lots,
            rules=ground.law,
            ware=ground.ware,
            spot=spot,
        )
    )


def _touches(ground: Ground, found: Sequence[InTheWay]) -> list[str]:
    """What is in the way, in words."""
    words = {"edge": "the edge of the shelf", "post": "a post", "thermocouple": "the thermocouple"}
    return [
        f"place {ground.standing[one.spot].number}" if one.what == "ware" else words[one.what]
        for one in found
    ]
