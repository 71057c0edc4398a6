"""Does a piece that is moved by hand stand where its referee lets it, and what is in its way?"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.kiln_load import (
    CONE_PACK,
    TEST_TILE,
    KilnRoom,
    Level,
    LoadPlan,
    LoadRules,
    Lot,
    PostStock,
    Probe,
    ShelfStock,
    Spot,
    Ware,
)
from studio.craft.load_places import InTheWay, in_the_way, place_near, stands_on
from studio.craft.load_referee import broken_rules
from tests.craft.load_cases import BARE, BOWL, DISH, MUG, RUNNY, TEN, loaded, loads

# A box of 400 by 300 with 20 mm kept at each wall: x from -180 to 180, y from -130 to 130.
BOX = KilnRoom(
    sides=4, width_mm=400, depth_mm=300, height_mm=400, wall_mm=20, shelf_gap_mm=20,
    shelves=(ShelfStock(kind="whole", thickness_mm=16, count=2),),
    posts=(PostStock(height_mm=150, sets=2),),
)  # fmt: skip
CUP = Ware(key="cup", width_mm=80, height_mm=90)
LOW = Level(number=1, part="whole", shelf="whole", base_mm=29, thickness_mm=16, clear_mm=144,
            post_mm=(150,), posts=((0.0, 112.0), (-162.0, -112.0), (162.0, -112.0)))  # fmt: skip
HIGH = Level(number=2, part="whole", shelf="whole", base_mm=195, thickness_mm=16, clear_mm=180)
NONE = LoadPlan(levels=(LOW, HIGH), spots=(), left_out=())


def at(x: float, y: float, *, level: int = 1, key: str = "cup", turn: float = 0.0) -> Spot:
    return Spot(ware_key=key, level=level, x_mm=x, y_mm=y, turn_deg=turn)


def way(spot: Spot, plan: LoadPlan = NONE, *, ware: Ware = CUP, room: KilnRoom = BOX,
        rules: LoadRules = BARE) -> tuple[InTheWay, ...]:  # fmt: skip
    lots = (Lot(ware=CUP, count=9), Lot(ware=DISH, count=9), Lot(ware=MUG, count=9))
    return in_the_way(room=room, plan=plan, lots=lots, rules=rules, ware=ware, spot=spot)


def test_a_cup_keeps_to_its_shelf() -> None:
    # 180 less its half of 80: its middle may lie 140 off, and not 140.1.
    assert way(at(140, 0)) == ()
    assert way(at(140.1, 0)) == (InTheWay(what="edge"),)
    assert way(at(-300, 0)) == (InTheWay(what="edge"),)


def test_a_cup_keeps_off_the_posts_of_its_level() -> None:
    # The post at the back is 32 across: 112 - 16 - 6 of air - 40 = 50.
    assert way(at(0, 50)) == ()
    assert way(at(0, 50.1)) == (InTheWay(what="post"),)
    assert way(at(0, 50.1, level=2)) == ()


def test_a_cup_keeps_its_gap_to_other_ware() -> None:
    plan = replace(NONE, spots=(at(-100, 0), at(0, 0), at(0, 0, level=2)))
    # 80 across and 6 between: 86 from one middle to the other.
    assert way(at(86, 0), plan) == ()
    assert way(at(85.9, 0), plan) == (InTheWay(what="ware", spot=1),)
    # 100 apart they leave no room between them: both are in the way.
    assert [one.spot for one in way(at(-50, 0), plan)] == [0, 1]


def test_the_thermocouple_keeps_its_air() -> None:
    room = replace(BOX, probe=Probe(x_mm=0, y_mm=0, height_mm=100, clear_mm=50))
    # 50 of air and half of 80: 90 to the thermocouple.
    assert way(at(90, 0), room=room) == ()
    assert way(at(89.9, 0), room=room) == (InTheWay(what="thermocouple"),)


def test_a_handle_and_an_oblong_are_turned() -> None:
    rules = replace(BARE, handles="interlock")
    # A mug's handle ends 43 + 35 = 78 from its middle; 180 - 78 = 102.
    assert way(at(101, 0, key="mug"), ware=MUG, rules=rules) == ()
    assert way(at(103, 0, key="mug"), ware=MUG, rules=rules) == (InTheWay(what="edge"),)
    assert way(at(103, 0, key="mug", turn=180), ware=MUG, rules=rules) == ()
    # A dish of 110 by 190: across the box 180 - 55, along it 180 - 95.
    assert way(at(85, 0, key="dish"), ware=DISH) == ()
    assert way(at(120, 25, key="dish"), ware=DISH) == (InTheWay(what="edge"),)
    assert way(at(120, 25, key="dish", turn=90), ware=DISH) == ()


def near(x: float, y: float, plan: LoadPlan = NONE, *, ware: Ware = CUP,
         within: float = 30, turn: float = 0.0) -> Spot | None:  # fmt: skip
    lots = (Lot(ware=CUP, count=9), Lot(ware=DISH, count=9))
    return place_near(room=BOX, plan=plan, lots=lots, rules=BARE, ware=ware, level=LOW, x_mm=x,
                      y_mm=y, turn_deg=turn, within_mm=within)  # fmt: skip


def test_where_it_is_tapped_if_there_is_room() -> None:
    assert near(20, 10) == at(20, 10)


def test_beside_where_it_is_tapped_if_that_touches() -> None:
    found = near(150, 0)
    # The shelf lets it stand 140 off at most; steps of a millimetre from the tap.
    assert found is not None
    assert 138 <= found.x_mm <= 140
    assert way(found) == ()


def test_no_room_near_the_tap() -> None:
    # Two cups 100 apart: between them is none within 30.
    plan = replace(NONE, spots=(at(-50, 0), at(50, 0)))
    assert near(0, 0, plan) is None
    assert near(0, 0, plan, within=150) is not None
    assert near(900, 0) is None


def test_an_oblong_is_turned_where_only_that_helps() -> None:
    # Between cups 116 beside its middle a dish of 110 across stands lengthways alone: half of 110,
    # 6 of air and half of 80 are 101, half of 190 would want 141.
    plan = replace(NONE, spots=(at(-116, 0), at(116, 0)))
    found = near(0, -20, plan, ware=DISH)
    assert found is not None
    assert found.turn_deg % 180 == 90


def test_why_a_level_is_none_for_a_piece() -> None:
    lots = (Lot(ware=BOWL, count=1), Lot(ware=RUNNY, count=1))

    def said(ware: Ware, level: Level, *spots: Spot, rules: LoadRules = BARE) -> str:
        plan = replace(NONE, spots=spots)
        return stands_on(plan=plan, lots=lots, rules=rules, ware=ware, level=level)

    tall = replace(BOWL, height_mm=145)
    assert said(tall, LOW) == "too tall"
    assert said(tall, HIGH) == ""
    bowl, runny = at(0, 0, key="bowl"), at(0, 0, key="runny cup")
    assert said(RUNNY, HIGH, bowl) == "runs over others"
    assert said(RUNNY, LOW, bowl) == ""
    assert said(BOWL, LOW, replace(runny, level=2)) == "under what runs"
    assert said(BOWL, LOW, runny) == ""
    assert said(CONE_PACK, LOW, replace(runny, level=2)) == ""
    anywhere = replace(BARE, runny="anywhere")
    assert said(RUNNY, HIGH, bowl, rules=anywhere) == ""


@settings(deadline=None, max_examples=25)
@given(loads(), st.floats(-250, 250), st.floats(-250, 250), st.floats(0, 360))
def test_what_is_found_passes_the_referee(
    case: tuple[KilnRoom, tuple[Lot, ...], LoadRules], x: float, y: float, turn: float
) -> None:
    room, lots, rules = case
    plan = loaded(room, lots, rules, steps=60)
    bottom = [k for k, spot in enumerate(plan.spots) if not _is_stacked(plan, spot)]
    if not bottom:
        return
    gone = plan.spots[bottom[0]]
    rest = replace(plan, spots=tuple(s for k, s in enumerate(plan.spots) if k != bottom[0]))
    extra = {one.key: one for one in (CONE_PACK, TEST_TILE)}
    ware = ({lot.ware.key: lot.ware for lot in lots} | extra)[gone.ware_key]
    for level in plan.levels:
        asked = {"plan": rest, "lots": lots, "rules": rules, "ware": ware}
        if stands_on(level=level, **asked):  # type: ignore[arg-type]
            continue
        found = place_near(room=room, level=level, x_mm=x, y_mm=y, turn_deg=turn, within_mm=60,
                           **asked)  # type: ignore[arg-type]  # fmt: skip
        if found is None:
            continue
        assert in_the_way(room=room, spot=found, **asked) == ()  # type: ignore[arg-type]
        moved = replace(rest, spots=(*rest.spots, found))
        assert broken_rules(room=room, lots=lots, rules=rules, plan=moved) == ()


def _is_stacked(plan: LoadPlan, spot: Spot) -> bool:
    """Whether another piece shares its place, so that it cannot be taken away alone."""
    return sum((s.level, s.x_mm, s.y_mm) == (spot.level, spot.x_mm, spot.y_mm)
               for s in plan.spots) > 1  # fmt: skip


def test_a_place_that_is_in_the_way_breaks_a_rule_of_the_referee() -> None:
    lots = (Lot(ware=MUG, count=20), Lot(ware=BOWL, count=6))
    plan = loaded(TEN, lots, BARE, steps=300)
    first, second = plan.spots[:2]
    rest = replace(plan, spots=plan.spots[1:])
    ware = next(lot.ware for lot in lots if lot.ware.key == first.ware_key)
    for spot in (replace(second, ware_key=first.ware_key), replace(first, x_mm=first.x_mm - 900)):
        assert in_the_way(room=TEN, plan=rest, lots=lots, rules=BARE, ware=ware, spot=spot)
        spoilt = replace(rest, spots=(*rest.spots, spot))
        assert broken_rules(room=TEN, lots=lots, rules=BARE, plan=spoilt)
    assert not in_the_way(room=TEN, plan=rest, lots=lots, rules=BARE, ware=ware, spot=first)
