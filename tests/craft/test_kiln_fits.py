"""How many more fit, does a load fit at all, and which levels can be built?"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from studio.craft.kiln_levels import Furnisher
from studio.craft.kiln_load import (
    LoadPlan,
    Lot,
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
from studio.craft.shelf import footprint
from tests.craft.load_cases import (
    BARE,
    BOWL,
    EIGHT,
    HALVES,
    MIXED,
    MUG,
    RUNNY,
    TEN,
    VASE,
    loaded,
    sound,
)

BIG_BOWL = Ware(key="big bowl", width_mm=279, height_mm=127)
"""11 in across and 5 in tall."""


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
