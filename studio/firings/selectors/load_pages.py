"""What do the pages of a drawn load show beside the drawing?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from studio.firings import rules
from studio.firings.models import Firing, Place, Sheet, Spot
from studio.firings.selectors.load_pictures import (
    DrawnLoad,
    drawn_load,
    level_drawing,
    spot_words,
)
from studio.firings.selectors.moved import (
    free_spots_for,
    ground_of,
    level_of,
    parts_of_level,
    tier_of,
    why_not_clear,
    why_not_on,
    without_a_point,
)
from studio.firings.selectors.packing import levels_of
from studio.firings.selectors.sheets import (
    boards_beside,
    choices_instead,
    more_fit,
    open_places,
    sheet_of_firing,
    spots_of,
    unplaced,
    why_not_draw,
)
from studio.web.models import Change

TAKES_WARE = ("planned", "loaded")
TOUCH_PX = 44.0
"""What a finger needs. A large drawing has a pixel for each millimetre, or more for small ware.
Source: Web Content Accessibility Guidelines 2.2, success criterion 2.5.5, W3C 2023."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftOut:
    """So many pieces of a board that were left out at a loading, and the board they stand on."""

    count: int
    board: str
    stands_on: str


def left_out_of(firing: Firing) -> list[LeftOut]:
    """What was left out of a load and stands on a board beside it now, by board."""
    marks = Change.objects.filter(
        room="firings", action="mark_spot", subject_id=firing.pk, undone_by__isnull=True
    )
    taken = [
        pk for kept in marks.values_list("undo", flat=True) for pk in (kept or {}).get("taken", [])
    ]
    out = (
        Place.objects.filter(pk__in=taken, piece__parting="", piece__board__isnull=False)
        .exclude(piece__in=Place.objects.filter(outcome="").values("piece"))
        .select_related("board", "piece__board")
        .order_by("id")
    )
    # A piece that was loaded again and left out again is one.
    pieces = {place.piece_id: place for place in out if place.piece.board_id != place.board_id}
    counts = Counter((one.board.label, str(one.piece.board)) for one in pieces.values())
    return [
        LeftOut(count=count, board=was, stands_on=now)
        for (was, now), count in sorted(counts.items())
    ]


def load_page(firing: Firing, sheet: Sheet | None) -> dict[str, Any]:
    """The whole drawing of a firing, what it lacks and what still fits."""
    takes_ware = firing.state in TAKES_WARE
    boards = boards_beside(firing) if takes_ware else []
    asked = (
        len(open_places(firing))
        + firing.planned_wares.count()
        + sum(not one.refusal for one in boards)
    )
    context: dict[str, Any] = {
        "why_not_draw": why_not_draw(firing, asked=asked),
        "why_not_mark": rules.can_mark(state=firing.state, kiln=firing.kiln.name),
        "sheet": sheet,
    }
    if sheet is None:
        return context
    spots = spots_of(sheet)
    return context | {
        "drawn": drawn_load(firing, sheet, spots),
        "unplaced": unplaced(firing, spots),
        "left_out": left_out_of(firing) if takes_ware else [],
        "more": more_fit(firing, sheet, spots, choices=boards) if takes_ware else [],
    }


def drawn_load_of(firing: Firing) -> DrawnLoad | None:
    """The drawn load of a firing, if there is one."""
    sheet = sheet_of_firing(firing)
    return drawn_load(firing, sheet, spots_of(sheet)) if sheet else None


def level_page(firing: Firing, number: int) -> dict[str, Any] | None:
    """One level of a drawn load, large, with every place to press; None: no such level."""
    drawn = drawn_load_of(firing)
    if drawn is None:
        return None
    cards = {card.level.number: card for card in drawn.levels}
    card = cards.get(number)
    if card is None:
        return None
    scale = TOUCH_PX / min([TOUCH_PX, *(mark.least for mark in card.picture.marks)])
    return {
        "card": card,
        "wide": round(card.picture.width * scale),
        "tall": round(card.picture.height * scale),
        "beside": [one for one in cards if one != number],
        "why_not_mark": rules.can_mark(state=firing.state, kiln=firing.kiln.name),
    }


def place_page(spot: Spot) -> dict[str, Any]:
    """What may be done with a place, each with the reason where it may not."""
    sheet, firing = spot.sheet, spot.sheet.firing
    spots = spots_of(sheet)
    is_free = spot.mark == Spot.Mark.LEFT_OUT
    why_not = rules.can_mark(state=firing.state, kiln=firing.kiln.name)
    boards = boards_beside(firing) if not why_not and spot.what == Spot.What.WARE else []
    has_spot = spot.x_mm is not None
    choices = [] if why_not else choices_instead(firing, spot, spots, boards=boards)
    ground = ground_of(firing, sheet, spot, spots)
    return {
        "words": spot_words(spot),
        "why_not": why_not,
        "why_not_leave": rules.can_leave_out(number=spot.number, is_free=is_free),
        "why_not_pin": rules.can_pin(
            number=spot.number, is_free=is_free, has_spot=has_spot, tier=tier_of(spot, spots)
        ),
        "choices": choices,
        "may": [one for one in choices if not one.refusal],
        "may_not": [one for one in choices if one.refusal],
        "free": [] if why_not or is_free else free_spots_for(firing, sheet, spot, spots),
        "levels": [(level, why_not_on(ground, level)) for level in levels_of(sheet)],
        "is_free": is_free,
        "why_not_clear": why_not_clear(firing, sheet, spot, spots) if is_free else "",
    }


def where_page(spot: Spot, number: int) -> dict[str, Any] | None:
    """A level to put a piece down on: its drawing and its nine parts; None: no such level."""
    sheet, firing = spot.sheet, spot.sheet.firing
    level, spots = level_of(sheet, number), spots_of(sheet)
    if level is None:
        return None
    ground = ground_of(firing, sheet, spot, spots)
    is_free = spot.mark == Spot.Mark.LEFT_OUT
    refusal = (
        rules.can_mark(state=firing.state, kiln=firing.kiln.name)
        or rules.can_leave_out(number=spot.number, is_free=is_free)
        or why_not_on(ground, level)
    )
    return {
        "words": spot_words(spot),
        "level": level,
        "why_not": refusal,
        "picture": level_drawing(firing, sheet, spots, level, leaving=spot),
        "parts": [] if refusal else parts_of_level(ground, level, turn_deg=spot.turn_deg),
        "without_a_point": without_a_point(spots, level.number),
    }
