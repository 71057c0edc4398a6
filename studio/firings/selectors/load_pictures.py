"""How is a drawn load shown: which picture for each level, and which words beside it?"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from django.urls import reverse

from studio.craft.kiln_load import CONE_PACK, TEST_TILE, KilnRoom, Level, LoadRules, Ware
from studio.craft.quantities import show_length
from studio.drawing.load_levels import LevelPicture, Standing, level_picture, ranges
from studio.drawing.load_stack import StackPicture, stack_picture
from studio.firings.models import Firing, Sheet, Spot
from studio.firings.selectors.packing import (
    exact,
    key_of,
    levels_of,
    room_in,
    rules_of,
    wares_in,
)
from studio.firings.selectors.sheets import what_is
from studio.web.selectors import length_unit


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceRow:
    """Like pieces on a level: their hatch, their words and their places."""

    hatch: int
    what: str
    note: str
    spots: tuple[Spot, ...]

    @property
    def numbers(self) -> str:
        """'1-4, 7'."""
        return ranges(spot.number for spot in self.spots)

    @property
    def count(self) -> int:
        """How many stand there."""
        return len(self.spots)


@dataclass(frozen=True, kw_only=True, slots=True)
class LevelCard:
    """One level: its drawing and the table beside it."""

    level: Level
    words: str
    picture: LevelPicture
    rows: tuple[PlaceRow, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class DrawnLoad:
    """A drawn load as it is shown on a page and on paper."""

    sheet: Sheet
    levels: tuple[LevelCard, ...]
    stack: StackPicture
    pieces: int
    free: int
    left_out: tuple[tuple[str, int], ...]


def drawn_load(firing: Firing, sheet: Sheet, spots: Sequence[Spot]) -> DrawnLoad:
    """A drawn load, level by level from the bottom."""
    room, levels = room_in(firing.kiln), levels_of(sheet)
    wares = {**wares_in(spots), CONE_PACK.key: CONE_PACK, TEST_TILE.key: TEST_TILE}
    law = rules_of(firing.schedule.kind, runny=sheet.runny, handles=sheet.handles)
    hatches, inside = _hatches(spots), stands_inside(spots)
    standing: list[tuple[int, Standing]] = []
    cards = []
    for level in levels:
        there = [spot for spot in spots if spot.level == level.number]
        shown = [
            _standing(spot, wares[key_of(spot)], hatches.get(key_of(spot), 0), law)
            for spot in there
            if spot.x_mm is not None
        ]
        standing += [(level.number, one) for one in shown]
        cards.append(
            LevelCard(
                level=level,
                words=_level_words(level),
                picture=_picture(room, level, shown),
                rows=tuple(_rows(there, hatches, inside)),
            )
        )
    ware = [spot for spot in spots if spot.what == Spot.What.WARE]
    free = sum(spot.mark == Spot.Mark.LEFT_OUT for spot in ware)
    return DrawnLoad(
        sheet=sheet,
        levels=tuple(cards),
        stack=_stack(room, levels, standing, kiln=firing.kiln.name),
        pieces=len(ware) - free,
        free=free,
        left_out=tuple((str(what), int(count)) for what, count in sheet.left_out),
    )


def level_drawing(
    firing: Firing,
    sheet: Sheet,
    spots: Sequence[Spot],
    level: Level,
    *,
    leaving: Spot | None = None,
) -> LevelPicture:
    """One level of a drawn load; the place that a piece is ``leaving`` is drawn free."""
    wares = {**wares_in(spots), CONE_PACK.key: CONE_PACK, TEST_TILE.key: TEST_TILE}
    law = rules_of(firing.schedule.kind, runny=sheet.runny, handles=sheet.handles)
    hatches = _hatches(spots)
    shown = [
        replace(one, is_free=one.is_free or (leaving is not None and spot.pk == leaving.pk))
        for spot in spots
        if spot.level == level.number and spot.x_mm is not None
        for one in [_standing(spot, wares[key_of(spot)], hatches.get(key_of(spot), 0), law)]
    ]
    return _picture(room_in(firing.kiln), level, shown)


def _hatches(spots: Sequence[Spot]) -> dict[str, int]:
    """Ware has its hatch by the order in which it first comes; cones and tiles are plain."""
    sorts = list(dict.fromkeys(key_of(spot) for spot in spots if spot.what == Spot.What.WARE))
    return {key: at % 8 + 1 for at, key in enumerate(sorts)} if len(sorts) > 1 else {}


def _standing(spot: Spot, ware: Ware, hatch: int, law: LoadRules) -> Standing:
    return Standing(
        number=spot.number,
        ware=ware,
        x_mm=spot.x_mm or 0.0,
        y_mm=spot.y_mm or 0.0,
        turn_deg=spot.turn_deg,
        tier=spot.tier,
        hatch=hatch,
        words=f"Place {spot.number}: {spot_words(spot)}",
        href=reverse("firings:place", args=[spot.sheet.firing_id, spot.pk]),
        is_free=spot.mark == Spot.Mark.LEFT_OUT,
        is_kept=spot.is_pinned,
        tile_over_mm=law.tile_over_mm if law.on_tile(ware) else 0,
    )


def spot_words(spot: Spot) -> str:
    """What stands on a spot, in words; 'free, was ...' where it was left out."""
    if spot.form is None or spot.clay_lot is None:
        return spot.get_what_display().lower()
    what = what_is(spot.form, spot.clay_lot, spot.coats)
    return f"free, was {what}" if spot.mark == Spot.Mark.LEFT_OUT else what


def stands_inside(spots: Sequence[Spot]) -> set[int]:
    """The spots whose piece stands in one of another form: a small bowl in a large one."""
    below: dict[tuple[int, float, float], str] = {}
    found = set()
    for spot, _ in sorted(exact(spots), key=lambda pair: pair[1]):
        here = (spot.level, spot.x_mm or 0.0, spot.y_mm or 0.0)
        if here in below and below[here] != key_of(spot):
            found.add(spot.pk)
        below[here] = key_of(spot)
    return found


def _rows(
    spots: Sequence[Spot], hatches: dict[str, int], inside: Collection[int]
) -> list[PlaceRow]:
    groups: dict[tuple[str, str], list[Spot]] = {}
    for spot in spots:
        notes = ["inside what is under it"] if spot.pk in inside else []
        note = ", ".join([*notes, *filter(None, [_note(spot)])])
        groups.setdefault((spot_words(spot), note), []).append(spot)
    return [
        PlaceRow(hatch=hatches.get(key_of(some[0]), 0), what=what, note=note, spots=tuple(some))
        for (what, note), some in groups.items()
    ]


def _note(spot: Spot) -> str:
    """What was said of a place by hand, and that it waits for its piece."""
    if spot.mark == Spot.Mark.MOVED:
        return f"moved here, {spot.ring}" if spot.x_mm is None else "moved here"
    if spot.mark == Spot.Mark.SWAPPED:
        return "instead of what was drawn"
    if spot.mark == Spot.Mark.DRAWN and spot.what == Spot.What.WARE and spot.place_id is None:
        return "not loaded yet"
    return "keeps its place" if spot.is_pinned else ""


def _level_words(level: Level) -> str:
    unit = length_unit()
    clear = show_length(level.clear_mm, unit=unit)
    part = "" if level.part == "whole" else f", {level.part} half"
    if not level.post_mm:
        return f"Level {level.number}{part}: {clear} up to the lid"
    posts = " + ".join(show_length(tall, unit=unit) for tall in level.post_mm)
    return f"Level {level.number}{part}: 3 posts of {posts}; {clear} clear"


def _picture(room: KilnRoom, level: Level, shown: Sequence[Standing]) -> LevelPicture:
    standing = sum(not one.is_free for one in shown)
    return level_picture(
        room=room,
        level=level,
        standing=shown,
        title=f"Level {level.number} seen from above",
        desc=(
            f"{standing} things stand on it; the back of the kiln is at the top. The table beside"
            " it names the ware of each number. Black discs are posts, a dashed ring is a free"
            " place, a black dot beside a number keeps that place."
        ),
    )


def _stack(
    room: KilnRoom,
    levels: Sequence[Level],
    standing: Sequence[tuple[int, Standing]],
    *,
    kiln: str,
) -> StackPicture:
    told = "; ".join(_level_words(level) for level in levels)
    return stack_picture(
        room=room,
        levels=levels,
        standing=standing,
        labels=[(level.number, f"Level {level.number}") for level in levels],
        title=f"The load of {kiln} from the side",
        desc=f"From the floor up. {told}.",
    )
