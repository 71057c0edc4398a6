"""Does a whole load come out as potters load, and keep what it was told to keep?

Budgets are in steps, so that these loads are the same on every machine.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import product

import pytest

from studio.craft.kiln_load import (
    BadKiln,
    KilnRoom,
    LoadPlan,
    Lot,
    Pin,
    PostStock,
    Probe,
    ShelfStock,
    Ware,
    bisque_rules,
    glaze_rules,
)
from studio.craft.kiln_packing import (
    pack,
)
from studio.craft.load_referee import broken_rules
from studio.craft.shelf import footprint, shelf_region
from studio.craft.shelf_packing import Budget, fit
from tests.craft.load_cases import (
    BARE,
    BOWL,
    BOX,
    DISH,
    EIGHT,
    HALVES,
    MIXED,
    MUG,
    RUNNY,
    TEN,
    TWELVE,
    VASE,
    loaded,
    pinned,
    sound,
)

BIG_BOWL = Ware(key="big bowl", width_mm=279, height_mm=127)
"""11 in across and 5 in tall."""


def mugs(plan: LoadPlan) -> int:
    return plan.standing()["mug"]


# Common practice, no source: what potters say of kilns of these sizes, with a mug of 121 mm
# over the handle and 114 mm tall. "About" is taken as a tenth, and two mugs of twenty.


def test_eight_sides_hold_about_twenty_mugs_or_a_big_bowl_and_ten() -> None:
    """Common practice, no source: 17 1/2 in across, 18 in deep."""
    assert 18 <= mugs(sound(EIGHT, (Lot(ware=MUG, count=60),), BARE)) <= 22
    lots = (Lot(ware=BIG_BOWL, count=1, value=1000), Lot(ware=MUG, count=60))
    plan = sound(EIGHT, lots, BARE)
    assert plan.standing()["big bowl"] == 1
    assert 9 <= mugs(plan) <= 11


def test_ten_sides_hold_fifty_to_sixty_mugs_or_two_big_bowls_and_forty() -> None:
    """Common practice, no source: 23.4 in across, 27 in deep. The packer finds 47 by two bowls."""
    assert 50 <= mugs(sound(TEN, (Lot(ware=MUG, count=100),), BARE)) <= 60
    lots = (Lot(ware=BIG_BOWL, count=2, value=1000), Lot(ware=MUG, count=100))
    plan = sound(TEN, lots, BARE)
    assert plan.standing()["big bowl"] == 2
    assert 40 <= mugs(plan) <= 48


def test_twelve_sides_hold_about_sixty_mugs_glazed_and_a_hundred_pots_bisqued() -> None:
    """Common practice, no source: 28 in across, 18 in deep. In bisque mugs of 108 mm stand four
    high, each 98 mm up in the one below."""
    assert 60 <= mugs(sound(TWELVE, (Lot(ware=MUG, count=100),), BARE)) <= 66
    stacked = replace(MUG, height_mm=108, stacks="nested", stack_most=4, nest_step_mm=98)
    rules = replace(bisque_rules(), handles="clear")
    assert 90 <= mugs(sound(TWELVE, (Lot(ware=stacked, count=150),), rules)) <= 110


def test_handles_as_they_are_beat_the_circle_round_them() -> None:
    lots = (Lot(ware=MUG, count=60),)
    clear = mugs(sound(EIGHT, lots, BARE))
    locked = mugs(sound(EIGHT, lots, replace(BARE, handles="interlock")))
    assert locked >= 1.6 * clear


MIX = (
    Lot(ware=MUG, count=16),
    Lot(ware=BOWL, count=8),
    Lot(ware=VASE, count=2),
    Lot(ware=DISH, count=3),
    Lot(ware=RUNNY, count=8),
)


@pytest.mark.parametrize("room", [TEN, HALVES, MIXED, replace(TEN, sides=0)])
@pytest.mark.parametrize("runny", ["low", "catch_tile"])
def test_mixed_ware_stands_on_whole_half_and_mixed_shelves(room: KilnRoom, runny: str) -> None:
    rules = replace(glaze_rules(), runny=runny)
    plan = sound(room, MIX, rules)
    assert plan.left_out == ()
    halves = {level.shelf for level in plan.levels}
    assert ("half" in halves) == (room in (HALVES, MIXED))
    assert plan.standing()["cone pack"] == plan.standing()["test tile"] == 1


def test_a_box_takes_what_a_box_takes() -> None:
    plan = sound(BOX, MIX, glaze_rules())
    assert sum(count for _, count in plan.left_out) <= 2


def test_runny_ware_stands_low() -> None:
    lots = (Lot(ware=RUNNY, count=30), Lot(ware=MUG, count=20))
    plan = sound(TEN, lots, glaze_rules())
    assert plan.left_out == ()
    runny = {spot.level for spot in plan.spots if spot.ware_key == "runny cup"}
    other = {spot.level for spot in plan.spots if spot.ware_key == "mug"}
    assert max(runny) <= min(other)
    # In bisque nothing runs, and it may stand anywhere.
    assert sound(TEN, lots, bisque_rules()).left_out == ()


def test_the_most_valuable_set_is_taken() -> None:
    """One level only: a lid 150 mm over one shelf. 7 or 8 mugs fit, or the dear bowls first."""
    room = replace(EIGHT, height_mm=180, shelves=(ShelfStock(kind="whole", count=1),))
    cheap, dear = Lot(ware=MUG, count=20, value=1), Lot(ware=BOWL, count=3, value=9)
    plan = sound(room, (cheap, dear), BARE)
    assert plan.standing()["bowl"] == 3
    other = sound(room, (replace(cheap, value=50), dear), BARE)
    assert other.standing()["bowl"] == 0
    assert other.standing()["mug"] >= 8


def test_no_dearer_set_is_found_by_trying_them_all() -> None:
    """One shelf of 418 mm and nine pots: every set worth more is tried alone, and none stands."""
    room = replace(EIGHT, height_mm=250, shelves=(ShelfStock(kind="whole", count=1),))
    lots = (
        Lot(ware=Ware(key="small", width_mm=114, height_mm=100), count=4, value=1),
        Lot(ware=Ware(key="middle", width_mm=143, height_mm=100), count=1, value=7),
        Lot(ware=Ware(key="wide", width_mm=214, height_mm=100), count=4, value=5),
    )
    standing = sound(room, lots, BARE, steps=4000).standing()
    value = sum(standing[lot.ware.key] * lot.value for lot in lots)
    region = shelf_region(room, "whole", BARE.gap_mm)
    area, _ = region.area_and_rim(0.0)
    for counts in product(*(range(lot.count + 1) for lot in lots)):
        worth = sum(count * lot.value for count, lot in zip(counts, lots, strict=True))
        shapes = [
            footprint(lot.ware, BARE)
            for count, lot in zip(counts, lots, strict=True)
            for _ in range(count)
        ]
        # No discs cover more than 0.9069 of a plane, and a shelf has a rim as well.
        if worth > value and sum(shape.area for shape in shapes) < 0.9 * area:
            assert fit(region, shapes, budget=Budget(steps=1500, seconds=600.0)) is None
    assert value == 18  # one middle, one small, two wide


def test_of_what_does_not_fit_the_rest_is_told() -> None:
    lots = (Lot(ware=MUG, count=100), Lot(ware=replace(VASE, height_mm=700), count=2))
    plan = sound(EIGHT, lots, BARE)
    left = Counter(dict(plan.left_out))
    assert left["mug"] == 100 - mugs(plan)
    assert left["vase"] == 2


def test_no_level_can_be_built_for_it() -> None:
    plan = sound(EIGHT, (Lot(ware=replace(VASE, height_mm=700), count=2),), BARE)
    assert plan.levels == plan.spots == ()
    assert plan.left_out == (("vase", 2),)
    assert sound(EIGHT, (), BARE).left_out == ()


def test_one_shelf_where_there_are_no_posts() -> None:
    plan = sound(replace(TEN, posts=()), (Lot(ware=MUG, count=40),), BARE)
    assert len(plan.levels) == 1
    assert mugs(plan) >= 14


def test_posts_are_stacked_where_no_single_one_is_tall_enough() -> None:
    room = replace(TEN, posts=(PostStock(height_mm=120, sets=2),))
    plan = sound(room, (Lot(ware=VASE, count=24),), BARE)
    assert plan.left_out == ()
    assert plan.levels[0].post_mm == (120, 120)  # 216 + 6 over it is 222


def test_the_stock_of_posts_bounds_the_levels() -> None:
    room = replace(TEN, posts=(PostStock(height_mm=125, sets=1),))
    plan = sound(room, (Lot(ware=MUG, count=100),), BARE)
    assert len(plan.levels) == 2


def test_the_thermocouple_keeps_its_air() -> None:
    room = replace(TEN, probe=Probe(x_mm=-255, y_mm=0, height_mm=300, clear_mm=60))
    plan = sound(room, (Lot(ware=MUG, count=100),), glaze_rules())
    assert 40 <= mugs(plan) <= 57


def test_pinned_pieces_keep_their_places() -> None:
    plan = sound(TEN, MIX, glaze_rules())
    kept = pinned(plan, MIX)
    for seed in (1, 2):
        again = pack(
            room=TEN,
            lots=kept,
            rules=glaze_rules(),
            levels=plan.levels,
            steps=2000,
            seconds=600.0,
            seed=seed,
        )
        assert broken_rules(room=TEN, lots=kept, rules=glaze_rules(), plan=again) == ()
        assert again.levels == plan.levels


def test_a_piece_may_be_pinned_before_any_shelf_stands() -> None:
    pin = Pin(level=2, x_mm=40.0, y_mm=-30.0)
    lots = (Lot(ware=VASE, count=1, pinned=(pin,)), Lot(ware=MUG, count=30))
    plan = sound(TEN, lots, BARE)
    assert plan.left_out == ()
    assert plan.levels[1].clear_mm >= 216


@pytest.mark.parametrize(
    ("pin", "words"),
    [
        (Pin(level=9, x_mm=0.0, y_mm=0.0), "level 9, which is not built"),
        (Pin(level=1, x_mm=260.0, y_mm=0.0), "pinned piece on level 1 stands over the shelf"),
    ],
)
def test_a_pin_that_cannot_be_kept_is_refused(pin: Pin, words: str) -> None:
    lots = (Lot(ware=BOWL, count=3, pinned=(pin,)),)
    with pytest.raises(BadKiln, match=words):
        loaded(TEN, lots, BARE)


def test_a_pinned_piece_too_tall_for_its_level_is_refused() -> None:
    plan = loaded(TEN, (Lot(ware=MUG, count=40),), BARE)
    lots = (Lot(ware=VASE, count=1, pinned=(Pin(level=1, x_mm=0.0, y_mm=0.0),)),)
    with pytest.raises(BadKiln, match="vase is too tall for level 1"):
        pack(room=TEN, lots=lots, rules=BARE, levels=plan.levels)


def test_the_same_seed_and_steps_give_the_same_load() -> None:
    lots = (Lot(ware=MUG, count=40), Lot(ware=DISH, count=9), Lot(ware=VASE, count=4))
    assert loaded(EIGHT, lots, BARE, steps=1200) == loaded(EIGHT, lots, BARE, steps=1200)


def test_bisque_stacks_rim_to_rim_and_nests() -> None:
    rim = replace(BOWL, key="rim", stacks="rim_to_rim", stack_most=2)
    nest = replace(BOWL, key="nest", stacks="nested", stack_most=5, nest_step_mm=14)
    plan = sound(EIGHT, (Lot(ware=rim, count=9), Lot(ware=nest, count=13)), bisque_rules())
    assert plan.left_out == ()
    tiers = Counter((spot.ware_key, spot.tier) for spot in plan.spots)
    assert tiers["rim", 1] >= 1
    assert tiers["nest", 4] >= 1
    assert tiers["rim", 2] == tiers["nest", 5] == 0
