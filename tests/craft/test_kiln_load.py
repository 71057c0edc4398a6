"""Are sizes, counts and words that cannot be refused with a sentence that names them?"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from studio.craft.kiln_load import (
    CONE_PACK,
    BadKiln,
    KilnRoom,
    LoadRules,
    Lot,
    Pin,
    PostStock,
    ShelfStock,
    Ware,
    bisque_rules,
    glaze_rules,
    with_cones,
)
from tests.craft.load_cases import BOX, DISH, MUG, TEN


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"sides": 3}, "5 to 16 sides, not 3"),
        ({"width_mm": 90}, "inside width is 100 to 3000, not 90"),
        ({"height_mm": 40}, "inside height is 50 to 3000, not 40"),
        ({"depth_mm": 500}, "Only a box kiln has a depth"),
        ({"lid_mm": -1}, "under the lid is 0 to 500, not -1"),
        ({"width_mm": 100, "wall_mm": 40}, "leave no shelf"),
        ({"shelves": ()}, "at least one shelf"),
        ({"shelves": (ShelfStock(kind="whole", count=0),)}, "at least one shelf"),
    ],
)
def test_kilns_that_cannot_be_are_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(BadKiln, match=words):
        replace(TEN, **change)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"key": ""}, "has a name"),
        ({"shape": "star"}, "round, handled, oblong, not 'star'"),
        ({"height_mm": 0}, "height of mug is 1 to 2000, not 0"),
        ({"handle_mm": 0}, "handle of mug is 1 to 400, not 0"),
        ({"handle_width_mm": 90}, "handle's width of mug is 2 to 86, not 90"),
        ({"shape": "round"}, "only handled ware has a handle"),
        ({"corner_mm": 3}, "only oblong ware has a length and corners"),
        ({"stack_most": 2}, "does not stack stands one high"),
        ({"stacks": "nested", "stack_most": 2}, "nesting step of mug is 1 to 114, not 0"),
        ({"nest_step_mm": 5}, "only nested ware has a nesting step"),
    ],
)
def test_ware_that_cannot_be_is_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(BadKiln, match=words):
        replace(MUG, **change)


def test_an_oblong_is_at_least_as_long_as_wide() -> None:
    with pytest.raises(BadKiln, match="length of dish is 110 to 2000, not 109"):
        replace(DISH, length_mm=109)
    with pytest.raises(BadKiln, match="corners of dish is 0 to 55, not 56"):
        replace(DISH, corner_mm=56)


def test_lots_and_rules_that_cannot_be_are_refused() -> None:
    pin = Pin(level=1, x_mm=0.0, y_mm=0.0)
    with pytest.raises(BadKiln, match="More mug are pinned than there are"):
        Lot(ware=MUG, count=1, pinned=(pin, pin))
    with pytest.raises(BadKiln, match="at least the gap of other ware"):
        LoadRules(gap_mm=6, runny_gap_mm=5)
    with pytest.raises(BadKiln, match="low, catch_tile, anywhere, not 'high'"):
        LoadRules(runny="high")  # type: ignore[arg-type]
    with pytest.raises(BadKiln, match="level is 1 to 40, not 0"):
        Pin(level=0, x_mm=0.0, y_mm=0.0)
    with pytest.raises(BadKiln, match="whole, half, not 'third'"):
        ShelfStock(kind="third")  # type: ignore[arg-type]
    with pytest.raises(BadKiln, match="post's height is 10 to 600, not 5"):
        PostStock(height_mm=5)
    with pytest.raises(BadKiln, match="mug comes in two lots"):
        with_cones((Lot(ware=MUG, count=1), Lot(ware=MUG, count=2)), glaze_rules())
    with pytest.raises(BadKiln, match="asked for by the rules"):
        with_cones((Lot(ware=CONE_PACK, count=1),), glaze_rules())


def test_cones_and_tiles_are_worth_more_than_all_the_ware() -> None:
    lots = with_cones((Lot(ware=MUG, count=30, value=4),), glaze_rules())
    assert [(lot.ware.key, lot.count) for lot in lots] == [
        ("mug", 30),
        ("cone pack", 1),
        ("test tile", 1),
    ]
    assert lots[1].value > 30 * 4


def test_the_circle_round_an_outline() -> None:
    assert MUG.across_mm == 86 + 35
    assert Ware(key="plate", width_mm=250, height_mm=30).across_mm == 250
    # Corners of radius 15: the rectangle of their middles is 80 x 160, its diagonal 178.9.
    assert DISH.across_mm == pytest.approx(178.885 + 30, abs=0.01)


def test_the_tallest_ware_stands_on_one_shelf_under_the_lid() -> None:
    # 686 inside, less 13 of floor posts, a shelf of 16 and 25 under the lid.
    assert TEN.tallest_mm == 686 - 13 - 16 - 25
    thin = replace(TEN, shelves=(*TEN.shelves, ShelfStock(kind="half", thickness_mm=12)))
    assert thin.tallest_mm == 686 - 13 - 12 - 25


def test_ware_keeps_off_the_wall_and_over_its_shelf() -> None:
    assert replace(BOX, shelf_gap_mm=10, wall_mm=30).edge_mm == 30
    assert replace(BOX, shelf_gap_mm=15, wall_mm=5).edge_mm == 15


def test_bisque_stacks_by_the_limits_of_the_form() -> None:
    cup = replace(MUG, stacks="nested", stack_most=4, nest_step_mm=98, height_mm=108)
    # 108 + 3 x 98 = 402
    assert bisque_rules().pieces_high(cup, 402) == 4
    assert bisque_rules().pieces_high(cup, 401) == 3
    assert bisque_rules().pieces_high(cup, 107) == 0
    assert glaze_rules().pieces_high(cup, 402) == 1
    rim = replace(MUG, stacks="rim_to_rim", stack_most=2)
    assert rim.stack_height_mm(2) == 228
    with pytest.raises(BadKiln, match="stack of mug is 1 to 2, not 3"):
        rim.stack_height_mm(3)


def test_a_catch_tile_makes_runny_ware_taller_in_glaze_alone() -> None:
    cup = replace(MUG, is_runny=True)
    tiled = replace(glaze_rules(), runny="catch_tile")
    assert tiled.pieces_high(cup, 123) == 0  # 114 + 10 is 124
    assert tiled.pieces_high(cup, 124) == 1
    assert tiled.air_mm(cup) == 6.0
    assert not bisque_rules().on_tile(cup)
    assert bisque_rules().air_mm(cup) == 0.0


def test_shelves_are_counted_thinnest_first() -> None:
    room = KilnRoom(
        sides=0,
        width_mm=500,
        height_mm=500,
        shelves=(
            ShelfStock(kind="whole", thickness_mm=20, count=2),
            ShelfStock(kind="whole", thickness_mm=12, count=1),
            ShelfStock(kind="half", thickness_mm=15, count=1),
        ),
    )
    assert room.thicknesses_mm("whole") == (12, 20, 20)
    assert room.thicknesses_mm("half") == (15,)
