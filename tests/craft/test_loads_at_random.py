"""Random kilns and ware: every load that is told keeps every rule, as the referee reckons it."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.kiln_load import KilnRoom, LoadRules, Lot, Pin
from studio.craft.kiln_packing import pack, still_fits
from studio.craft.load_referee import broken_rules
from tests.craft.load_cases import loaded, loads, pinned

Case = tuple[KilnRoom, tuple[Lot, ...], LoadRules]


@settings(deadline=None, max_examples=40)
@given(loads())
def test_a_load_keeps_every_rule(case: Case) -> None:
    room, lots, rules = case
    plan = loaded(room, lots, rules, steps=300)
    assert broken_rules(room=room, lots=lots, rules=rules, plan=plan) == ()


@settings(deadline=None, max_examples=12)
@given(loads(), st.integers(0, 3))
def test_pinned_pieces_stay_when_the_rest_is_packed_again(case: Case, seed: int) -> None:
    room, lots, rules = case
    plan = loaded(room, lots, rules, steps=100)
    kept = pinned(plan, lots)
    again = pack(
        room=room,
        lots=kept,
        rules=rules,
        levels=plan.levels,
        steps=100,
        seconds=600.0,
        seed=seed,
    )
    assert broken_rules(room=room, lots=kept, rules=rules, plan=again) == ()


@settings(deadline=None, max_examples=15)
@given(loads(), st.sampled_from(["off", "twice", "gone", "tall", "low", "sunk", "post"]))
def test_a_load_that_is_spoilt_is_never_sound(case: Case, how: str) -> None:
    """One thing changed that no load survives: the referee finds it."""
    room, lots, rules = case
    plan = loaded(room, lots, rules, steps=100)
    if not plan.spots:
        return
    first, level = plan.spots[0], plan.levels[0]
    spots, levels = list(plan.spots), list(plan.levels)
    if how == "off":
        spots[0] = replace(first, x_mm=first.x_mm + 1000)
    elif how == "twice":
        spots.append(first)
    elif how == "gone":
        spots.pop()
    elif how == "tall":
        at = first.level - 1
        levels[at] = replace(levels[at], clear_mm=1)
    elif how == "low":
        levels[0] = replace(level, clear_mm=level.clear_mm + 1)
    elif how == "sunk":
        levels[-1] = replace(levels[-1], base_mm=levels[-1].base_mm + 1)
    elif level.posts:
        levels[0] = replace(level, posts=level.posts[:2])
    else:
        levels[0] = replace(level, posts=((0.0, 0.0),), post_mm=(50,))
    spoilt = replace(plan, spots=tuple(spots), levels=tuple(levels))
    assert broken_rules(room=room, lots=lots, rules=rules, plan=spoilt) != ()


@settings(deadline=None, max_examples=12)
@given(loads())
def test_what_still_fits_really_fits(case: Case) -> None:
    """The pieces said to fit are pinned where nothing moved and stand in a load of the referee."""
    room, lots, rules = case
    plan = loaded(room, lots, rules, steps=100)
    ware = lots[0].ware
    more = still_fits(room=room, plan=plan, lots=lots, ware=ware, rules=rules)
    assert more >= 0
    if plan.left_out or not plan.levels or rules.kind == "bisque" or not more:
        return
    pins = {
        lot.ware.key: tuple(
            Pin(level=s.level, x_mm=s.x_mm, y_mm=s.y_mm, turn_deg=s.turn_deg)
            for s in plan.spots
            if s.ware_key == lot.ware.key
        )
        for lot in lots
    }
    kept = [replace(lot, pinned=pins[lot.ware.key]) for lot in lots]
    kept[0] = replace(kept[0], count=kept[0].count + more)
    bare = replace(rules, cone_packs=0, test_tiles=0)
    again = pack(
        room=room,
        lots=kept,
        rules=bare,
        levels=plan.levels,
        steps=3000,
        seconds=600.0,
    )
    assert broken_rules(room=room, lots=tuple(kept), rules=bare, plan=again) == ()
    assert sum(count for _, count in again.left_out) == 0
