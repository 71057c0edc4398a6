"""Does small ware stand in large ware in bisque only where it may, and does the referee mind?"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.kiln_load import (
    KilnRoom,
    Level,
    LoadPlan,
    LoadRules,
    Lot,
    PostStock,
    ShelfStock,
    Spot,
    Ware,
    bisque_rules,
    glaze_rules,
)
from studio.craft.kiln_packing import pack, still_fits
from studio.craft.load_referee import broken_rules
from studio.craft.load_riders import goes_in, reach_mm
from tests.craft.load_cases import loaded, rooms, wares

BISQUE = replace(bisque_rules(), cone_packs=0)
LARGE = Ware(key="large bowl", width_mm=200, height_mm=90, stacks="nested", stack_most=2,
             nest_step_mm=20)  # fmt: skip
SMALL = Ware(key="small bowl", width_mm=150, height_mm=60, stacks="nested", stack_most=3,
             nest_step_mm=15)  # fmt: skip
CUP = Ware(key="cup", shape="handled", width_mm=80, handle_mm=30, handle_width_mm=15, height_mm=70,
           stacks="rim_to_rim", stack_most=2)  # fmt: skip
JAR = Ware(key="jar", width_mm=80, height_mm=70)


def tiny(height_mm: int) -> KilnRoom:
    """A box in which one large bowl stands: 230 by 230 with 13 mm kept at each wall, one shelf."""
    return KilnRoom(sides=4, width_mm=230, depth_mm=230, height_mm=height_mm, lid_mm=25,
                    floor_post_mm=13, shelves=(ShelfStock(kind="whole", thickness_mm=16, count=1),),
                    posts=(PostStock(height_mm=100, sets=1),))  # fmt: skip


def test_what_goes_into_what() -> None:
    # 200 less a wall of 20 on each side: 160 between them.
    assert goes_in(SMALL, LARGE)
    assert not goes_in(replace(SMALL, width_mm=161), LARGE)
    assert not goes_in(LARGE, SMALL)
    # A cup may be turned any way: 80 and its handle of 30 on both sides are 140.
    assert reach_mm(CUP) == 80 + 2 * 30
    assert goes_in(CUP, LARGE)
    assert not goes_in(replace(CUP, handle_mm=41), LARGE)
    # What does not stack stays on its shelf, and what does not nest has no inside told.
    assert not goes_in(JAR, LARGE)
    assert not goes_in(SMALL, replace(LARGE, stacks="rim_to_rim", nest_step_mm=0))
    assert not goes_in(LARGE, LARGE)


@pytest.mark.parametrize(
    ("height_mm", "stands"),
    [
        (54 + 90 + 60, True),  # 13 of post, 16 of shelf and 25 under the lid; the bowls 90 and 60
        (54 + 90 + 60 - 1, False),
    ],
)
def test_a_small_bowl_stands_in_a_large_one_where_the_height_is(
    height_mm: int, stands: bool
) -> None:
    lots = (Lot(ware=LARGE, count=1), Lot(ware=SMALL, count=1))
    room = tiny(height_mm)
    plan = loaded(room, lots, BISQUE, steps=200)
    assert broken_rules(room=room, lots=lots, rules=BISQUE, plan=plan) == ()
    assert plan.standing()["small bowl"] == stands
    if stands:
        large, small = plan.spots
        assert (large.tier, small.tier) == (0, 1)
        assert (large.x_mm, large.y_mm) == (small.x_mm, small.y_mm)


def test_nothing_stands_in_glazed_ware() -> None:
    lots = (Lot(ware=LARGE, count=1), Lot(ware=SMALL, count=1))
    glaze = replace(glaze_rules(), cone_packs=0, test_tiles=0)
    plan = loaded(tiny(400), lots, glaze, steps=200)
    assert sum(plan.standing().values()) == 1


def test_a_stack_takes_one_after_another() -> None:
    """Two large bowls nested are 110 tall, a small one 60 more, a cup 70 more."""
    # 60 and twice 30 are 120: as wide as a small bowl of 150 is between walls of 15.
    thin = replace(CUP, width_mm=60)
    assert goes_in(thin, SMALL)
    lots = (Lot(ware=LARGE, count=2), Lot(ware=SMALL, count=1), Lot(ware=thin, count=1))
    room = tiny(54 + 90 + 20 + 60 + 70)
    plan = loaded(room, lots, BISQUE, steps=200)
    assert [s.ware_key for s in plan.spots] == ["large bowl", "large bowl", "small bowl", "cup"]
    assert [s.tier for s in plan.spots] == [0, 1, 2, 3]
    assert broken_rules(room=room, lots=lots, rules=BISQUE, plan=plan) == ()
    # A stack that carries others takes no more of its own.
    assert still_fits(room=room, plan=plan, lots=lots, ware=LARGE, rules=BISQUE) == 0
    alone = replace(plan, spots=plan.spots[:1])
    assert still_fits(room=room, plan=alone, lots=lots, ware=LARGE, rules=BISQUE) == 1


LEVEL = Level(number=1, part="whole", shelf="whole", base_mm=29, thickness_mm=16, clear_mm=300)
ROOM = tiny(29 + 300 + 25)


def said(*standing: tuple[Ware, int], rules: LoadRules = BISQUE, clear_mm: int = 300) -> str:
    """What the referee says of a stack: wares and their tiers at one place."""
    spots = tuple(Spot(ware_key=w.key, level=1, x_mm=0, y_mm=0, tier=tier) for w, tier in standing)
    counts = {w: sum(other is w for other, _ in standing) for w, _ in standing}
    lots = tuple(Lot(ware=w, count=n) for w, n in counts.items())
    plan = LoadPlan(levels=(replace(LEVEL, clear_mm=clear_mm),), spots=spots, left_out=())
    return " ".join(broken_rules(room=ROOM, lots=lots, rules=rules, plan=plan))


def test_the_referee_passes_what_may_stand_so() -> None:
    assert said((LARGE, 0), (SMALL, 1)) == ""
    assert said((LARGE, 0), (LARGE, 1), (SMALL, 2)) == ""
    assert said((LARGE, 0), (CUP, 1)) == ""
    # 90 and 60 are all that a level of 150 takes.
    assert said((LARGE, 0), (SMALL, 1), clear_mm=150) == ""


def test_the_referee_minds_each_way_to_stand_wrong() -> None:
    glaze = replace(glaze_rules(), cone_packs=0, test_tiles=0)
    in_large = "on level 1 does not stand in large bowl."
    assert said((LARGE, 0), (SMALL, 1), rules=glaze) == f"small bowl {in_large}"
    assert said((LARGE, 0), (JAR, 1)) == f"jar {in_large}"
    assert said((LARGE, 0), (replace(SMALL, width_mm=162), 1)) == f"small bowl {in_large}"
    assert said((LARGE, 0), (replace(CUP, handle_mm=41), 1)) == f"cup {in_large}"
    assert said((LARGE, 0), (SMALL, 1), (SMALL, 2)) == f"small bowl {in_large}"
    assert said((SMALL, 0), (LARGE, 1)) == "large bowl on level 1 does not stand in small bowl."
    flat = replace(LARGE, stacks="no", stack_most=1, nest_step_mm=0)
    assert said((flat, 0), (SMALL, 1)) == f"small bowl {in_large}"
    assert said((LARGE, 0), (SMALL, 2)) == "large bowl on level 1 stands on nothing."
    assert said((SMALL, 1)) == "small bowl on level 1 stands on nothing."
    assert said((LARGE, 0), (SMALL, 1), clear_mm=149) == (
        "large bowl stands 150 mm tall on level 1: 149 mm clear."
    )
    # Two of one kind at one place and tier stand in one another.
    assert "stands on nothing" in said((LARGE, 0), (LARGE, 0))


@settings(deadline=None, max_examples=25)
@given(rooms(), wares("one"), wares("other"), st.integers(1, 12), st.integers(1, 12))
def test_a_bisque_load_keeps_every_rule(
    room: KilnRoom, one: Ware, other: Ware, ones: int, others: int
) -> None:
    nesting = replace(one, stacks="nested", stack_most=2, nest_step_mm=max(1, one.width_mm // 12),
                      height_mm=max(one.height_mm, one.width_mm // 12, 1))  # fmt: skip
    little = replace(other, stacks="rim_to_rim", stack_most=2, nest_step_mm=0)
    lots = (Lot(ware=nesting, count=ones), Lot(ware=little, count=others, value=2))
    plan = pack(room=room, lots=lots, rules=BISQUE, steps=60, seconds=600.0)
    assert broken_rules(room=room, lots=lots, rules=BISQUE, plan=plan) == ()
