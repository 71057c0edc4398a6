"""How does the packer see a kiln, the ware that is to go in, and a load that was drawn?"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace
from functools import lru_cache
from typing import Any, Final, NamedTuple, cast

from studio.craft import kiln_load
from studio.craft.kiln_load import (
    BadKiln,
    KilnRoom,
    Level,
    LoadPlan,
    LoadRules,
    Lot,
    Probe,
    Ware,
    bisque_rules,
    glaze_rules,
)
from studio.craft.kiln_packing import pack
from studio.craft.load import (
    MUG_ACROSS_MM,
    MUG_HEIGHT_MM,
    SHELF_MM,
    going_in_mm,
)
from studio.firings.models import Kiln, Sheet, Spot
from studio.wares.models import ClayLot, Coats, Form

POSTS_MM: Final = (51, 76, 102, 114, 127, 152, 203)
"""2 to 8 in: what a kiln is reckoned with until its own posts are written down. Common practice,
no source."""
MOST_MUGS: Final = 400
MUG_STEPS: Final = 2_000
"""A short look: the number is a help beside the potter's own."""
SECONDS: Final = 20.0
"""The packer's steps end a search within about a second; the clock is only for a choked computer,
where a shorter one would draw a worse load than the same press at another hour."""
_FURNITURE = ("shelf_gap_mm", "wall_mm", "lid_mm", "floor_post_mm", "post_across_mm")


class Sort(NamedTuple):
    """What is alike in a load: form, clay and coats; a bisque load has no coats."""

    form_id: int
    clay_lot_id: int
    coats_id: int | None

    @property
    def key(self) -> str:
        """The packer's name for it."""
        return f"{self.form_id}.{self.clay_lot_id}.{self.coats_id or 0}"


def sort_from(key: str) -> Sort:
    """The sort that the packer named. Raises ValueError."""
    form, clay, coats = (int(part) for part in key.split("."))
    return Sort(form, clay, coats or None)


def room_in(kiln: Kiln) -> KilnRoom:
    """A kiln's inside with its own furniture, or the usual until that is told. Raises BadKiln."""
    shelves = tuple(
        kiln_load.ShelfStock(
            kind="half" if row.kind == "half" else "whole",
            thickness_mm=row.thickness_mm,
            count=row.count,
        )
        for row in kiln.shelves.all()
    )
    posts = tuple(
        kiln_load.PostStock(height_mm=row.height_mm, sets=row.count // kiln_load.POSTS_A_SHELF)
        for row in kiln.posts.all()
    )
    whole = kiln_load.ShelfStock(kind="whole", thickness_mm=SHELF_MM, count=kiln.shelf_count)
    usual = tuple(
        kiln_load.PostStock(height_mm=height, sets=kiln.shelf_count) for height in POSTS_MM
    )
    return KilnRoom(
        sides=kiln.sides,
        width_mm=kiln.inside_width_mm,
        height_mm=kiln.inside_height_mm,
        depth_mm=(kiln.inside_depth_mm or 0) if kiln.sides == 4 else 0,
        shelves=shelves or (whole,),
        posts=posts or usual,
        probe=_probe(kiln),
        **{name: getattr(kiln, name) for name in _FURNITURE},
    )


def _probe(kiln: Kiln) -> Probe | None:
    """Where the thermocouple ends: so far in from the wall it comes through."""
    if not kiln.probe_side:
        return None
    across_y = (kiln.inside_depth_mm or 0) if kiln.sides == 4 else kiln.inside_width_mm
    x, y = kiln.inside_width_mm // 2 - kiln.probe_in_mm, across_y // 2 - kiln.probe_in_mm
    ends = {"back": (0, y), "front": (0, -y), "left": (-x, 0), "right": (x, 0)}
    at_x, at_y = ends[kiln.probe_side]
    return Probe(x_mm=at_x, y_mm=at_y, height_mm=kiln.probe_height_mm)


def ware_of(form: Form, clay_lot: ClayLot, coats: Coats | None) -> Ware:
    """A form of a clay as it stands when it goes in. Raises BadKiln."""

    def dry(fired_mm: int) -> int:
        return going_in_mm(fired_mm=fired_mm, shrinkage_permille=clay_lot.shrinkage_permille)

    sort = Sort(form.pk, clay_lot.pk, coats.pk if coats else None)
    width, outline = dry(form.width_mm), dict[str, Any](shape="round")
    if form.length_mm:
        # A handle of an oblong form makes it longer.
        outline = {"shape": "oblong", "length_mm": dry(form.length_mm + form.handle_mm)}
    elif form.handle_mm:
        across = min(dry(form.handle_width_mm), width)
        handle = {"handle_mm": dry(form.handle_mm), "handle_width_mm": across}
        outline = {"shape": "handled", **handle}
    step = dry(form.nest_step_mm) if form.nest_step_mm else 0
    return Ware(
        key=sort.key,
        width_mm=width,
        height_mm=dry(form.height_mm),
        is_runny=bool(coats and coats.is_runny),
        stacks=cast(kiln_load.Stacks, form.stacks),
        stack_most=form.stack_most,
        nest_step_mm=step,
        **outline,
    )


def rules_of(kind: str, *, runny: str = "low", handles: str = "clear") -> LoadRules:
    """How close ware stands in a kind of firing, as the potter wants it. Raises BadKiln."""
    if kind == "bisque":
        return bisque_rules()
    return replace(
        glaze_rules(),
        runny=cast(Any, runny),
        handles=cast(Any, handles),
    )


def levels_of(sheet: Sheet) -> tuple[Level, ...]:
    """The levels of a drawn load, from the bottom."""
    return tuple(
        Level(
            **{
                **row,
                "post_mm": tuple(row["post_mm"]),
                "posts": tuple((x, y) for x, y in row["posts"]),
            }
        )
        for row in sheet.levels
    )


def level_rows(levels: Iterable[Level]) -> list[dict[str, Any]]:
    """Levels as a row keeps them."""
    return [asdict(level) for level in levels]


def wares_in(spots: Iterable[Spot]) -> dict[str, Ware]:
    """Every sort of ware on a drawn load, by the packer's name."""
    found: dict[str, Ware] = {}
    for spot in spots:
        if spot.form is not None and spot.clay_lot is not None:
            ware = ware_of(spot.form, spot.clay_lot, spot.coats)
            found.setdefault(ware.key, ware)
    return found


def plan_of(sheet: Sheet, spots: Sequence[Spot]) -> tuple[LoadPlan, list[Lot]]:
    """A drawn load as the packer's plan, without what was left out, and its lots.

    The plan's spots are ``exact`` ones in their order. What stood on a piece that is gone came
    down.
    """
    wares, counts, standing = wares_in(spots), dict[str, int](), []
    for spot, tier in exact(spots):
        if spot.x_mm is None or spot.y_mm is None:
            continue
        key = key_of(spot)
        counts[key] = counts.get(key, 0) + 1
        standing.append(
            kiln_load.Spot(
                ware_key=key,
                level=spot.level,
                x_mm=spot.x_mm,
                y_mm=spot.y_mm,
                turn_deg=spot.turn_deg,
                tier=tier,
            )
        )
    lots = [Lot(ware=ware, count=counts.get(key, 0)) for key, ware in wares.items()]
    return LoadPlan(levels=levels_of(sheet), spots=tuple(standing)), lots


def exact(spots: Iterable[Spot]) -> list[tuple[Spot, int]]:
    """The spots on which something stands at a known place, each with its tier as it is now."""
    found: list[tuple[Spot, int]] = []
    stacks: dict[tuple[int, float, float], list[int]] = {}
    for spot in spots:
        if spot.mark == Spot.Mark.LEFT_OUT or spot.x_mm is None or spot.y_mm is None:
            continue
        stack = stacks.setdefault((spot.level, spot.x_mm, spot.y_mm), [])
        stack.append(spot.tier)
        found.append((spot, 0))
    return [
        (spot, sorted(stacks[spot.level, spot.x_mm or 0.0, spot.y_mm or 0.0]).index(spot.tier))
        for spot, _ in found
    ]


def key_of(spot: Spot) -> str:
    """The packer's name for what stands on a spot."""
    if spot.what == Spot.What.CONE:
        return kiln_load.CONE_PACK.key
    if spot.what == Spot.What.TILE or spot.form_id is None or spot.clay_lot_id is None:
        return kiln_load.TEST_TILE.key
    return Sort(spot.form_id, spot.clay_lot_id, spot.coats_id).key


def ring_at(room: KilnRoom, x_mm: float, y_mm: float) -> str:
    """Whether a spot is in the inner or the outer half of a shelf, each half of its area."""
    if room.sides == 4:
        out = max(abs(x_mm) / (room.width_mm / 2), abs(y_mm) / (room.across_y_mm / 2))
    else:
        out = math.hypot(x_mm, y_mm) / (room.width_mm / 2)
    return "inner" if out <= math.sqrt(0.5) else "outer"


def mugs_found(kiln: Kiln, kind: str = "glaze") -> int | None:
    """How many of the stated mug the packer finds room for; None for a kiln that cannot be."""
    try:
        return _mugs(room_in(kiln), rules_of(kind))
    except BadKiln:
        return None


@lru_cache(maxsize=64)
def _mugs(room: KilnRoom, rules: LoadRules) -> int:
    mug = Ware(key="mug", width_mm=MUG_ACROSS_MM, height_mm=MUG_HEIGHT_MM)
    lots = [Lot(ware=mug, count=MOST_MUGS)]
    return pack(room=room, lots=lots, rules=rules, steps=MUG_STEPS, seconds=SECONDS).standing()[
        "mug"
    ]
