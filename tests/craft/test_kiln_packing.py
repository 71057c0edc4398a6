"""Does a whole load come out as potters load, and keep what it was told to keep?

Budgets are in steps, so that these loads are the same on every machine.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import product

import pytest

from studio.craft.kiln_levels import Furnisher
from studio.craft.kiln_load import (
    BadKiln,
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
from studio.craft.kiln_packing import (
    FITS_STEPS,
    STEPS,
    _fits,
    _is_too_much,
    fits,
    pack,
    still_fits,
    why_not,
)
from studio.craft.level_weighing import rough_values, share_of_level
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
)

BIG_BOWL = Ware(key="big bowl", width_mm=279, height_mm=127)
"""11 in across and 5 in tall."""


def sound(
    room: KilnRoom, lots: tuple[Lot, ...], rules: LoadRules, *, steps: int = 2000, seed: int = 0
) -> LoadPlan:
    """A load that the referee finds nothing wrong with."""
    plan = loaded(room, lots, rules, steps=steps, seed=seed)
    assert broken_rules(room=room, lots=lots, rules=rules, plan=plan) == ()
    return plan


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


def test_how_many_more_fit_with_nothing_moved() -> None:
    lots = (Lot(ware=MUG, count=30), Lot(ware=BOWL, count=4))
    plan = sound(TEN, lots, BARE)
    more = still_fits(room=TEN, plan=plan, lots=lots, ware=MUG, rules=BARE)
    assert 5 <= more <= 28
    assert (
        still_fits(room=TEN, plan=plan, lots=lots, ware=replace(VASE, height_mm=600), rules=BARE)
        == 0
    )
    full = loaded(TEN, (Lot(ware=MUG, count=100),), BARE)
    mug = (Lot(ware=MUG, count=100),)
    assert still_fits(room=TEN, plan=full, lots=mug, ware=MUG, rules=BARE) == 0


def test_in_bisque_more_stand_on_the_stacks_there_are() -> None:
    """One level of three bowls side by side, each alone: six go on them, none beside."""
    room = replace(
        EIGHT, height_mm=13 + 16 + 25 + 100, shelves=(ShelfStock(kind="whole", count=1),)
    )
    wide = Ware(
        key="wide", width_mm=400, height_mm=60, stacks="nested", stack_most=3, nest_step_mm=20
    )
    rules = replace(bisque_rules(), cone_packs=0)
    lots = (Lot(ware=wide, count=1),)
    plan = sound(room, lots, rules)
    assert still_fits(room=room, plan=plan, lots=lots, ware=wide, rules=rules) == 2


def test_runny_ware_still_fits_low_alone() -> None:
    lots = (Lot(ware=MUG, count=30),)
    plan = sound(TEN, lots, BARE)
    assert len(plan.levels) > 1
    low = still_fits(room=TEN, plan=plan, lots=lots, ware=RUNNY, rules=BARE)
    anywhere = replace(BARE, runny="anywhere")
    assert low <= still_fits(room=TEN, plan=plan, lots=lots, ware=RUNNY, rules=anywhere)


@pytest.mark.parametrize(("missing", "looks"), [(0, 1), (1, 2), (10, 2), (11, 1)])
def test_only_a_near_miss_is_looked_at_longer(
    monkeypatch: pytest.MonkeyPatch, missing: int, looks: int
) -> None:
    """Of 100 pieces: 10 left over are a tenth, 11 are more."""
    asked: list[int] = []

    def short(*, steps: int, **_: object) -> LoadPlan:
        asked.append(steps)
        left = (("ware 0", missing),) if missing else ()
        return LoadPlan(levels=(), spots=(), left_out=left)

    monkeypatch.setattr("studio.craft.kiln_packing.pack", short)
    small = replace(BOWL, width_mm=10, height_mm=10 + missing)
    said = fits(room=TEN, lots=(Lot(ware=small, count=100),), rules=BARE)
    assert asked == [FITS_STEPS, STEPS][:looks]
    assert said == (missing == 0)
    _fits.cache_clear()


def test_fits_or_not_by_shape() -> None:
    some = (Lot(ware=MUG, count=40), Lot(ware=BOWL, count=5))
    assert fits(room=TEN, lots=some, rules=glaze_rules())
    assert not fits(room=TEN, lots=(Lot(ware=MUG, count=200),), rules=glaze_rules())
    assert not fits(room=EIGHT, lots=(Lot(ware=replace(BOWL, width_mm=430), count=1),), rules=BARE)
    # The same question by other names, in another order and in two lots of one shape.
    told = (
        Lot(ware=replace(BOWL, key="b"), count=5, value=7),
        Lot(ware=replace(MUG, key="x"), count=15),
        Lot(ware=replace(MUG, key="y"), count=25),
    )
    before = _hits()
    assert fits(room=TEN, lots=told, rules=glaze_rules())
    assert _hits() == before + 1


def test_too_much_for_a_kiln_is_told_without_a_search() -> None:
    """By its volume: 100 mugs of radius 63.5 with air and 114 + 6 + 16 of height want 172 dm³;
    the kiln has a shelf of 574 across the flats and 648 + 6 of height: about 175 dm³."""
    assert not _is_too_much(TEN, (Lot(ware=MUG, count=100),), BARE)
    assert _is_too_much(TEN, (Lot(ware=MUG, count=110),), BARE)
    assert not _is_too_much(TEN, (Lot(ware=MUG, count=900),), bisque_rules())


def _hits() -> int:
    return _fits.cache_info().hits


def test_why_a_kind_never_stands() -> None:
    assert why_not(room=TEN, ware=MUG, rules=BARE) is None
    assert why_not(room=TEN, ware=replace(MUG, height_mm=633), rules=BARE) == "too tall"
    assert why_not(room=TEN, ware=replace(BOWL, width_mm=600), rules=BARE) == "too wide"
    # A half of the kiln is 281 deep at most: 297 - 13 - 3 of seam.
    assert why_not(room=HALVES, ware=replace(BOWL, width_mm=300), rules=BARE) == "too wide"
    assert why_not(room=TEN, ware=replace(BOWL, width_mm=300), rules=BARE) is None


def test_levels_are_the_least_that_the_posts_make() -> None:
    """Mugs of 114 and 6 over them want 120: of posts by the half inch 127."""
    furnisher = Furnisher(TEN, BARE, (Lot(ware=MUG, count=100),))
    assert furnisher.heights == [127]
    best = furnisher.levels(furnisher.ranked()[0])
    # 686 - 25 - 13 = 648: four shelves of 16 and three of 127 leave 203, five leave 60.
    assert [level.clear_mm for level in best] == [121, 121, 121, 203]
    assert [level.base_mm for level in best] == [29, 172, 315, 458]


def test_levels_are_weighed_by_a_rough_count() -> None:
    """One lot, levels filled to 86, 94 and 102 parts of a hundred, as many as are there."""
    share = share_of_level(TEN, "whole", BARE.gap_mm, footprint(MUG, BARE))
    on_a_level = [int(hope / share + 1e-9) for hope in (0.86, 0.94, 1.02)]
    assert on_a_level[0] >= 12
    lots = (Lot(ware=MUG, count=100, value=3),)
    builds = [[(False, 121), (False, 300)], [(False, 113), (False, 300)], [(False, 100)]]
    two, one, none = rough_values(room=TEN, rules=BARE, lots=lots, builds=builds)
    assert two == 3 * 2 * sum(on_a_level)
    assert one == 3 * sum(on_a_level)
    assert none == 0
    few = rough_values(room=TEN, rules=BARE, lots=(Lot(ware=MUG, count=5),), builds=builds)
    assert list(few) == [15, 15, 0]


def test_many_small_things_are_loaded_within_their_time() -> None:
    """The clock ends the setting down of pieces too; what did not come up is told."""
    beads = (Lot(ware=Ware(key="bead", width_mm=20, height_mm=20), count=600),)
    plan = pack(room=TEN, lots=beads, rules=BARE, seconds=0.0)
    assert plan.standing()["bead"] + sum(count for _, count in plan.left_out) == 600
    assert broken_rules(room=TEN, lots=beads, rules=BARE, plan=plan) == ()


def test_the_builds_of_a_mixed_kiln_are_sound() -> None:
    """The referee reads the levels alone: many builds, each with its posts both ways round."""
    lots = (Lot(ware=MUG, count=9), Lot(ware=BOWL, count=9))
    for room, turned in product((HALVES, MIXED, replace(MIXED, sides=4, depth_mm=500)), (0, 1)):
        furnisher = Furnisher(room, BARE, lots)
        builds = list(furnisher.builds())
        assert len({repr(build) for build in builds}) == len(builds) > 10
        for build in builds[::60]:
            plan = LoadPlan(levels=furnisher.levels(build, turned=turned), spots=())
            assert broken_rules(room=room, lots=(), rules=BARE, plan=plan) == ()
