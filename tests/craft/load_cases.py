"""Kilns and ware for the tests of loads: ours, made up, and at random."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from hypothesis import strategies as st

from studio.craft.kiln_load import (
    KilnRoom,
    LoadPlan,
    LoadRules,
    Lot,
    Pin,
    PostStock,
    Probe,
    ShelfStock,
    Ware,
    bisque_rules,
    glaze_rules,
)
from studio.craft.kiln_packing import pack
from studio.craft.load_referee import broken_rules

POSTS: Final = tuple(PostStock(height_mm=round(12.7 * k), sets=6) for k in range(1, 17))
"""Posts from half an inch up in steps of half an inch."""
SHELVES: Final = (ShelfStock(kind="whole", thickness_mm=16, count=8),)
EIGHT: Final = KilnRoom(sides=8, width_mm=444, height_mm=457, shelves=SHELVES, posts=POSTS)
TEN: Final = KilnRoom(sides=10, width_mm=594, height_mm=686, shelves=SHELVES, posts=POSTS)
TWELVE: Final = KilnRoom(sides=12, width_mm=711, height_mm=457, shelves=SHELVES, posts=POSTS)
BOX: Final = KilnRoom(
    sides=4, width_mm=600, depth_mm=450, height_mm=600, shelves=SHELVES, posts=POSTS
)
HALVES: Final = replace(TEN, shelves=(ShelfStock(kind="half", thickness_mm=16, count=10),))
MIXED: Final = replace(
    TEN,
    shelves=(
        ShelfStock(kind="whole", thickness_mm=18, count=2),
        ShelfStock(kind="half", thickness_mm=16, count=4),
    ),
)
BARE: Final = replace(glaze_rules(), cone_packs=0, test_tiles=0)
"""Glaze rules without room for cones and tiles."""

MUG: Final = Ware(
    key="mug", shape="handled", width_mm=86, handle_mm=35, handle_width_mm=23, height_mm=114
)
"""The stated mug: 121 mm (4 3/4 in) over the handle, 114 mm (4 1/2 in) tall."""
BOWL: Final = Ware(key="bowl", width_mm=152, height_mm=70)
VASE: Final = Ware(key="vase", width_mm=114, height_mm=216)
DISH: Final = Ware(
    key="dish", shape="oblong", width_mm=110, length_mm=190, corner_mm=15, height_mm=55
)
RUNNY: Final = Ware(key="runny cup", width_mm=90, height_mm=80, is_runny=True)


def loaded(
    room: KilnRoom, lots: tuple[Lot, ...], rules: LoadRules, *, steps: int = 3000, seed: int = 0
) -> LoadPlan:
    """A load by steps alone, the same on every machine."""
    return pack(room=room, lots=lots, rules=rules, steps=steps, seconds=600.0, seed=seed)


@st.composite
def rooms(draw: st.DrawFn) -> KilnRoom:
    """Kilns of every shape, with whole, half and mixed shelves, some with a thermocouple."""
    sides = draw(st.sampled_from([0, 4, 6, 8, 10, 12]))
    width, height = draw(st.integers(300, 650)), draw(st.integers(150, 500))
    depth = draw(st.integers(300, 650)) if sides == 4 else 0
    whole, half = draw(st.sampled_from([(4, 0), (0, 6), (2, 4), (1, 3)]))
    shelves = (
        ShelfStock(kind="whole", thickness_mm=draw(st.integers(10, 25)), count=whole),
        ShelfStock(kind="half", thickness_mm=draw(st.integers(10, 25)), count=half),
    )
    heights = draw(st.lists(st.integers(25, 200), min_size=1, max_size=5, unique=True))
    posts = tuple(PostStock(height_mm=mm, sets=draw(st.integers(1, 4))) for mm in heights)
    probe = draw(st.none() | st.builds(_probe, st.just(width), st.integers(60, height - 40)))
    return KilnRoom(
        sides=sides,
        width_mm=width,
        depth_mm=depth,
        height_mm=height,
        shelves=shelves,
        posts=posts,
        probe=probe,
        seam_mm=draw(st.integers(0, 15)),
        wall_mm=draw(st.integers(5, 30)),
    )


def _probe(width: int, height: int) -> Probe:
    return Probe(x_mm=-width // 2 + 30, y_mm=10, height_mm=height, clear_mm=40)


@st.composite
def wares(draw: st.DrawFn, key: str) -> Ware:
    """Round, handled and oblong ware, some of it runny, some that stacks."""
    shape = draw(st.sampled_from(["round", "handled", "oblong"]))
    width, height = draw(st.integers(40, 180)), draw(st.integers(15, 180))
    stacks = draw(st.sampled_from(["no", "rim_to_rim", "nested"]))
    more = {}
    if shape == "handled":
        more = {"handle_mm": draw(st.integers(5, 60)), "handle_width_mm": draw(st.integers(8, 30))}
    if shape == "oblong":
        more = {
            "length_mm": width + draw(st.integers(0, 120)),
            "corner_mm": draw(st.integers(0, width // 2)),
        }
    return Ware(
        key=key,
        shape=shape,
        width_mm=width,
        height_mm=height,
        is_runny=draw(st.booleans()),
        stacks=stacks,
        stack_most=1 if stacks == "no" else draw(st.integers(1, 4)),
        nest_step_mm=draw(st.integers(1, height)) if stacks == "nested" else 0,
        **more,
    )


@st.composite
def loads(draw: st.DrawFn) -> tuple[KilnRoom, tuple[Lot, ...], LoadRules]:
    """A kiln, up to four lots and rules."""
    kinds = draw(st.integers(1, 4))
    lots = tuple(
        Lot(
            ware=draw(wares(f"ware {k}")),
            count=draw(st.integers(0, 12)),
            value=draw(st.integers(0, 5)),
        )
        for k in range(kinds)
    )
    rules = draw(st.sampled_from([glaze_rules(), bisque_rules()]))
    if rules.kind == "glaze":
        gap = draw(st.integers(0, 8))
        rules = replace(
            rules,
            gap_mm=gap,
            runny_gap_mm=gap + draw(st.integers(0, 8)),
            handles=draw(st.sampled_from(["clear", "interlock"])),
            runny=draw(st.sampled_from(["low", "catch_tile", "anywhere"])),
        )
    return draw(rooms()), lots, replace(rules, cone_packs=draw(st.integers(0, 2)))


def pinned(plan: LoadPlan, lots: tuple[Lot, ...], *, every: int = 3) -> tuple[Lot, ...]:
    """The lots with every third piece that stands on a shelf pinned to its place."""
    result = []
    for lot in lots:
        spots = [s for s in plan.spots if s.ware_key == lot.ware.key and s.tier == 0]
        pins = tuple(
            Pin(level=s.level, x_mm=s.x_mm, y_mm=s.y_mm, turn_deg=s.turn_deg)
            for s in spots[::every]
        )
        result.append(replace(lot, pinned=pins))
    return tuple(result)


def sound(
    room: KilnRoom, lots: tuple[Lot, ...], rules: LoadRules, *, steps: int = 2000, seed: int = 0
) -> LoadPlan:
    """A load that the referee finds nothing wrong with."""
    plan = loaded(room, lots, rules, steps=steps, seed=seed)
    assert broken_rules(room=room, lots=lots, rules=rules, plan=plan) == ()
    return plan
