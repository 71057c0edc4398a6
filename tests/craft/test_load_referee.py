"""Does the referee see each broken rule? One sound load made by hand, broken one rule at a time.

The kiln is a box of 400 x 400 x 500 with nothing kept from walls but 13 mm: a shelf of 374 x 374.
Two whole shelves of 16 mm; the lower lies on floor posts of 13 with its face at 29, posts of 150
on it, the upper shelf's face at 29 + 150 + 16 = 195, and 500 - 25 - 195 = 280 clear over it.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from studio.craft.kiln_load import (
    KilnRoom,
    Level,
    LoadPlan,
    LoadRules,
    Lot,
    Pin,
    PostStock,
    Probe,
    ShelfStock,
    Spot,
    Ware,
    bisque_rules,
)
from studio.craft.load_referee import broken_rules

ROOM = KilnRoom(
    sides=4,
    width_mm=400,
    depth_mm=400,
    height_mm=500,
    shelves=(ShelfStock(kind="whole", thickness_mm=16, count=2),),
    posts=(PostStock(height_mm=150, sets=1), PostStock(height_mm=75, sets=1)),
)
RULES = LoadRules(cone_packs=0, test_tiles=0, handles="interlock")
CUP = Ware(key="cup", width_mm=80, height_mm=100)
MUG = Ware(key="mug", shape="handled", width_mm=80, handle_mm=40, handle_width_mm=20, height_mm=100)
DISH = Ware(key="dish", shape="oblong", width_mm=100, length_mm=200, corner_mm=10, height_mm=50)
POSTS = ((0.0, 165.0), (-165.0, -165.0), (165.0, -165.0))
LOW = Level(
    number=1,
    part="whole",
    shelf="whole",
    base_mm=29,
    thickness_mm=16,
    clear_mm=144,
    post_mm=(150,),
    posts=POSTS,
)
HIGH = Level(number=2, part="whole", shelf="whole", base_mm=195, thickness_mm=16, clear_mm=280)
CUP_SPOT = Spot(ware_key="cup", level=1, x_mm=-100.0, y_mm=0.0)
# The handle points right: its tip at 40 + 40 = 80 from the middle.
MUG_SPOT = Spot(ware_key="mug", level=1, x_mm=0.0, y_mm=0.0)
DISH_SPOT = Spot(ware_key="dish", level=2, x_mm=0.0, y_mm=0.0)
LOTS = (Lot(ware=CUP, count=1), Lot(ware=MUG, count=1), Lot(ware=DISH, count=1))
PLAN = LoadPlan(levels=(LOW, HIGH), spots=(CUP_SPOT, MUG_SPOT, DISH_SPOT))


def judged(
    plan: LoadPlan = PLAN,
    *,
    room: KilnRoom = ROOM,
    lots: tuple[Lot, ...] = LOTS,
    rules: LoadRules = RULES,
) -> tuple[str, ...]:
    return broken_rules(room=room, lots=lots, rules=rules, plan=plan)


def with_level(**change: Any) -> LoadPlan:
    return replace(PLAN, levels=(replace(LOW, **change), HIGH))


def with_spot(old: Spot, **change: Any) -> LoadPlan:
    return replace(PLAN, spots=tuple(replace(s, **change) if s is old else s for s in PLAN.spots))


def test_the_sound_load_is_sound() -> None:
    assert judged() == ()


@pytest.mark.parametrize(
    ("old", "change", "words"),
    [
        # A shelf ends at 187: a cup of radius 40 may stand to 147.
        (CUP_SPOT, {"x_mm": -148.0}, "1.0 mm over the edge"),
        (CUP_SPOT, {"x_mm": -147.0}, None),
        # Cup and mug: 40 + 40 of bodies and 6 of gap.
        (CUP_SPOT, {"x_mm": -85.0}, "is 5.0 mm from cup"),
        (CUP_SPOT, {"x_mm": -86.0}, None),
        # The handle turned towards the cup: 100 - 40 - 80 is less than nothing.
        (MUG_SPOT, {"turn_deg": 180.0}, "is -20.0 mm from cup"),
        # A cup beside the handle: from its middle line 40 + 10 + 6 = 56.
        (CUP_SPOT, {"x_mm": 70.0, "y_mm": 56.0}, None),
        (CUP_SPOT, {"x_mm": 70.0, "y_mm": 55.0}, "is 5.0 mm from cup"),
        # A post of radius 16 at (0, 165): 165 - 16 - 40 - 6 = 103.
        (CUP_SPOT, {"x_mm": 0.0, "y_mm": 103.0}, None),
        (CUP_SPOT, {"x_mm": 0.0, "y_mm": 104.0}, "is 5.0 mm from a post"),
        (MUG_SPOT, {"x_mm": 108.0, "y_mm": 0.0}, "1.0 mm over the edge"),
        (DISH_SPOT, {"x_mm": 87.0}, None),
        (DISH_SPOT, {"x_mm": 88.0}, "1.0 mm over the edge"),
        (DISH_SPOT, {"x_mm": 87.0, "turn_deg": 90.0}, None),
        (DISH_SPOT, {"level": 3}, r"levels \[3\], which there are not"),
        (CUP_SPOT, {"tier": 1}, "stands on nothing"),
    ],
)
def test_places(old: Spot, change: dict[str, Any], words: str | None) -> None:
    broken = judged(with_spot(old, **change))
    if words is None:
        assert broken == ()
    else:
        (sentence,) = broken
        assert re.search(words, sentence)


def test_oblongs_keep_their_gap_side_by_side_and_crossed() -> None:
    lots = (Lot(ware=DISH, count=2),)

    def two(**second: Any) -> tuple[str, ...]:
        spots = (replace(DISH_SPOT, y_mm=-60.0), replace(DISH_SPOT, **second))
        return judged(replace(PLAN, spots=spots), lots=lots)

    assert two(y_mm=46.0) == ()  # 106 apart: 50 + 50 + 6
    assert "is 5.0 mm from dish" in two(y_mm=45.0)[0]
    assert any("from dish" in words for words in two(y_mm=-60.0, turn_deg=90.0))


def test_a_pot_within_a_dish_is_seen() -> None:
    """No edge of the one crosses an edge of the other."""
    egg = Ware(key="egg cup", width_mm=20, height_mm=50)
    spots = (DISH_SPOT, Spot(ware_key="egg cup", level=2, x_mm=5.0, y_mm=5.0))
    lots = (Lot(ware=DISH, count=1), Lot(ware=egg, count=1))
    assert "from dish" in judged(replace(PLAN, spots=spots), lots=lots)[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"clear_mm": 145}, "told 145 mm clear; it has 144 mm"),
        ({"clear_mm": 99}, "stands 100 mm tall on level 1: 99 mm clear"),
        ({"base_mm": 30}, "does not lie on what is below it"),
        ({"posts": POSTS[:2]}, "no three posts"),
        ({"posts": ()}, "no three posts"),
        ({"posts": ((0.0, 165.0), (-165.0, 165.0), (165.0, 165.0))}, "would tip off"),
        ({"posts": ((0.0, 172.0), *POSTS[1:])}, "not under the shelf over it"),
        ({"posts": ((0.0, 165.0), (-165.0, -165.0), (-150.0, -165.0))}, "stand in one another"),
        ({"post_mm": (75, 75)}, "2 sets of posts of 75 mm are used; there are 1"),
        ({"post_mm": (100,)}, "1 sets of posts of 100 mm are used; there are 0"),
        ({"thickness_mm": 14, "base_mm": 27}, "1 whole shelves of 14 mm are used; there are 0"),
        ({"part": "left"}, "has a left and a right part"),
    ],
)
def test_levels(change: dict[str, Any], words: str) -> None:
    assert any(re.search(words, sentence) for sentence in judged(with_level(**change)))


def test_levels_are_numbered_from_the_bottom() -> None:
    told = replace(PLAN, levels=(replace(LOW, number=2), replace(HIGH, number=1)))
    assert "Levels are numbered from the bottom up." in judged(told)


def test_nothing_reaches_over_the_lid_clearance() -> None:
    told = replace(PLAN, levels=(LOW, replace(HIGH, clear_mm=281)))
    assert judged(told) == ("Level 2 is told 281 mm clear; it has 280 mm.",)


def test_posts_on_the_topmost_level_carry_nothing() -> None:
    told = replace(PLAN, levels=(LOW, replace(HIGH, posts=POSTS, post_mm=(150,))))
    assert "Level 2 has posts and nothing on them." in judged(told)


def test_every_piece_stands_once_or_is_left_out() -> None:
    twice = replace(PLAN, spots=(*PLAN.spots, replace(CUP_SPOT, x_mm=-100.0, y_mm=90.0)))
    assert judged(twice) == ("Of 1 cup, 2 stand and 0 are left out.",)
    gone = replace(PLAN, spots=PLAN.spots[1:])
    assert judged(gone) == ("Of 1 cup, 0 stand and 0 are left out.",)
    assert judged(replace(gone, left_out=(("cup", 1),))) == ()
    # The second row alone would add up; told twice, nobody knows which holds.
    assert judged(replace(gone, left_out=(("cup", 5), ("cup", 1)))) == (
        "A kind is left out twice.",
    )
    stranger = replace(PLAN, spots=(*PLAN.spots, replace(CUP_SPOT, ware_key="jug")))
    assert judged(stranger) == ("Of 0 jug, 1 stand and 0 are left out.",)


def test_cones_and_tiles_are_asked_for() -> None:
    rules = replace(RULES, cone_packs=1, test_tiles=1)
    assert judged(rules=rules) == (
        "Of 1 cone pack, 0 stand and 0 are left out.",
        "Of 1 test tile, 0 stand and 0 are left out.",
    )


def test_handles_are_judged_by_the_circle_where_they_are_to_be_clear() -> None:
    """Cup and mug 100 apart: the circle round the mug, of radius 60, has its middle at x = 20."""
    clear = replace(RULES, handles="clear")
    assert judged(rules=clear) == ()  # 120 - 40 - 60 = 20
    beside = with_spot(CUP_SPOT, x_mm=70.0, y_mm=56.0)
    assert "mm from cup" in judged(beside, rules=clear)[0]


def test_runny_ware_keeps_more_and_stands_low() -> None:
    runny = replace(CUP, is_runny=True)
    lots = (Lot(ware=runny, count=1), *LOTS[1:])
    # 3 + 6 of air: 40 + 40 + 9 = 89.
    assert judged(with_spot(CUP_SPOT, x_mm=-89.0), lots=lots) == ()
    assert "is 8.0 mm from cup" in judged(with_spot(CUP_SPOT, x_mm=-88.0), lots=lots)[0]
    high = with_spot(CUP_SPOT, level=2, x_mm=0.0, y_mm=130.0)
    assert judged(high, lots=lots) == ("cup is runny and stands over mug.",)
    assert judged(high, lots=lots, rules=replace(RULES, runny="anywhere")) == ()
    pin = Pin(level=2, x_mm=0.0, y_mm=130.0)
    assert judged(high, lots=(Lot(ware=runny, count=1, pinned=(pin,)), *LOTS[1:])) == ()


def test_a_catch_tile_is_wider_and_thicker() -> None:
    lots = (Lot(ware=replace(CUP, is_runny=True), count=1), *LOTS[1:])
    tiled = replace(RULES, runny="catch_tile")
    # 52 + 40 + 9 = 101.
    assert "is 8.0 mm from cup" in judged(lots=lots, rules=tiled)[0]
    assert judged(with_spot(CUP_SPOT, x_mm=-101.0), lots=lots, rules=tiled) == ()
    low = with_level(clear_mm=109)
    assert any("stands 110 mm tall" in w for w in judged(low, lots=lots, rules=tiled))


def test_stacks_are_for_bisque_and_within_their_limits() -> None:
    cup = replace(CUP, stacks="nested", stack_most=3, nest_step_mm=20)
    lots = (Lot(ware=cup, count=3), *LOTS[1:])
    spots = tuple(replace(CUP_SPOT, tier=tier) for tier in range(3))
    plan = replace(PLAN, spots=(*spots, *PLAN.spots[1:]))
    bisque = replace(bisque_rules(), cone_packs=0)
    assert judged(plan, lots=lots, rules=bisque) == ()  # 100 + 2 x 20 = 140 of 144
    assert judged(plan, lots=lots) == ("3 cup stand on one another; 1 may.",)
    two = (Lot(ware=replace(cup, stack_most=2), count=3), *LOTS[1:])
    assert judged(plan, lots=two, rules=bisque) == ("3 cup stand on one another; 2 may.",)
    rim = (Lot(ware=replace(CUP, stacks="rim_to_rim", stack_most=3), count=3), *LOTS[1:])
    assert "stands 300 mm tall" in judged(plan, lots=rim, rules=bisque)[0]
    gap = replace(plan, spots=(spots[0], spots[2], replace(spots[1], tier=3), *PLAN.spots[1:]))
    assert judged(gap, lots=lots, rules=bisque) == ("cup on level 1 stands on nothing.",)


def test_pinned_pieces_are_where_they_were_pinned() -> None:
    pins = (Pin(level=1, x_mm=-100.0, y_mm=0.0),)
    lots = (Lot(ware=CUP, count=1, pinned=pins), *LOTS[1:])
    assert judged(lots=lots) == ()
    moved = judged(with_spot(CUP_SPOT, x_mm=-101.0), lots=lots)
    assert moved == ("cup is not where it was pinned on level 1.",)


def test_the_thermocouple_keeps_its_air_and_meets_no_shelf_or_post() -> None:
    probe = Probe(x_mm=-187, y_mm=0, height_mm=100, clear_mm=50)
    room = replace(ROOM, probe=probe)
    # The cup's rim is at -140: 47 from the tip.
    assert "is 47.0 mm from the thermocouple" in judged(room=room)[0]
    assert judged(with_spot(CUP_SPOT, x_mm=-97.0), room=room) == ()
    inside = replace(probe, x_mm=-170, height_mm=185)
    assert any("meets the shelf of level 2" in w for w in judged(room=replace(ROOM, probe=inside)))
    at_post = replace(probe, x_mm=-170, y_mm=-160)
    assert any("meets a post" in w for w in judged(room=replace(ROOM, probe=at_post)))


def test_posts_stand_over_the_posts_below() -> None:
    """Three shelves: 29, 29 + 75 + 16 = 120, 120 + 150 + 16 = 286."""
    room = replace(ROOM, shelves=(ShelfStock(kind="whole", thickness_mm=16, count=3),))
    first = replace(LOW, post_mm=(75,), clear_mm=69)
    second = replace(LOW, number=2, base_mm=120)
    third = replace(HIGH, number=3, base_mm=286, clear_mm=189)
    plan = LoadPlan(levels=(first, second, third), spots=(replace(DISH_SPOT, level=3),))
    lots = (Lot(ware=DISH, count=1),)
    assert judged(plan, room=room, lots=lots) == ()
    turned = tuple((x, -y) for x, y in POSTS)
    moved = replace(plan, levels=(first, replace(second, posts=turned), third))
    assert judged(moved, room=room, lots=lots) == (
        "The posts on level 2 are not over those below.",
    )


def test_halves_have_a_seam_and_posts_of_their_own() -> None:
    """A whole shelf at 29, split: left two halves over it, right open to the lid."""
    room = replace(
        ROOM,
        shelves=(
            ShelfStock(kind="whole", thickness_mm=16, count=1),
            ShelfStock(kind="half", thickness_mm=16, count=1),
        ),
    )
    posts = ((-165.0, 0.0), (-25.0, 165.0), (-25.0, -165.0))
    left = replace(LOW, part="left", posts=posts)
    right = replace(LOW, number=2, part="right", post_mm=(), posts=(), clear_mm=446)
    over = replace(HIGH, number=3, part="left", shelf="half")
    dish = replace(DISH_SPOT, level=3, x_mm=-95.0, turn_deg=90.0)
    lots = (Lot(ware=DISH, count=1),)
    plan = LoadPlan(levels=(left, right, over), spots=(dish,))
    assert judged(plan, room=room, lots=lots) == ()
    # The seam of 6 leaves the left half to x = -3: a dish 100 wide stands to -53.
    assert judged(replace(plan, spots=(replace(dish, x_mm=-53.0),)), room=room, lots=lots) == ()
    across = replace(plan, spots=(replace(dish, x_mm=-52.0),))
    assert "1.0 mm over the edge" in judged(across, room=room, lots=lots)[0]
    whole_over = judged(
        replace(plan, levels=(left, right, replace(over, shelf="whole"))), room=room, lots=lots
    )
    assert "2 whole shelves of 16 mm are used; there are 1." in whole_over
    carrying = replace(over, post_mm=(75,), posts=posts, clear_mm=69)
    on_top = replace(over, number=4, shelf="whole", base_mm=195 + 75 + 16, clear_mm=189)
    stacked = judged(replace(plan, levels=(left, right, carrying, on_top)), room=room, lots=lots)
    assert "Level 4: a whole shelf lies over a half one." in stacked
    tips = replace(left, posts=((-25.0, 0.0), (-60.0, 165.0), (-60.0, -165.0)))
    tipping = replace(plan, levels=(tips, right, over))
    assert any("would tip" in words for words in judged(tipping, room=room, lots=lots))
    unsplit = replace(plan, levels=(LOW, replace(over, number=2)), spots=())
    assert any("right part" in w for w in judged(unsplit, room=room, lots=()))
