"""How much of a mixed load does the packer place, how fast, and does its referee agree?

python -m tests.bench.loads. Run by hand; nothing asserted. Budgets are of the clock: on a busy
machine less of a core goes into them, which is told beside.

The loads are mixed ware of eight forms in kilns of the usual sizes. ``unfitting`` asks for more
than the kiln can hold; of ``tight`` 198 is the most that a run of 40 s has placed.
"""

from __future__ import annotations

import math
import random
import time
from dataclasses import replace

from studio.craft.kiln_load import KilnRoom, LoadPlan, LoadRules, Lot, PostStock, ShelfStock, Ware
from studio.craft.kiln_packing import FITS_STEPS, STEPS, fits, pack, still_fits
from studio.craft.load_referee import broken_rules
from studio.craft.shelf import area_bound, footprint, shelf_region

POSTS = tuple(PostStock(height_mm=round(12.7 * half), sets=8) for half in range(1, 17))
SHELVES = (ShelfStock(kind="whole", thickness_mm=16, count=10),)
EIGHT = KilnRoom(sides=8, width_mm=444, height_mm=457, shelves=SHELVES, posts=POSTS)
TEN = KilnRoom(sides=10, width_mm=594, height_mm=686, shelves=SHELVES, posts=POSTS)
TWELVE = KilnRoom(sides=12, width_mm=711, height_mm=914, shelves=SHELVES, posts=POSTS)
BOX = KilnRoom(sides=4, width_mm=600, depth_mm=600, height_mm=800, shelves=SHELVES, posts=POSTS)

MUG = Ware(key="mug", shape="handled", width_mm=86, handle_mm=35, handle_width_mm=23, height_mm=108)
TUMBLER = Ware(key="tumbler", width_mm=83, height_mm=127)
CEREAL = Ware(key="cereal bowl", width_mm=152, height_mm=70)
PLATE = Ware(key="dinner plate", width_mm=254, height_mm=32)
SMALL = Ware(key="small plate", width_mm=178, height_mm=25)
ESPRESSO = Ware(key="espresso cup", width_mm=89, height_mm=70)
DISH = Ware(
    key="butter dish", shape="oblong", width_mm=110, length_mm=180, corner_mm=15, height_mm=60
)
VASE = Ware(key="vase", width_mm=114, height_mm=216)

KINDS = (MUG, TUMBLER, CEREAL, PLATE, SMALL, ESPRESSO, DISH, VASE)
ASKED = 20

LOADS: tuple[tuple[str, KilnRoom, float, tuple[tuple[Ware, int], ...]], ...] = (
    ("20", EIGHT, 1.0, ((MUG, 10), (ESPRESSO, 8), (CEREAL, 2))),
    ("60", TEN, 1.0, ((MUG, 26), (TUMBLER, 12), (CEREAL, 8), (ESPRESSO, 12), (DISH, 2))),
    ("60 hard", TEN, 1.0, ((MUG, 24), (TUMBLER, 14), (CEREAL, 8), (ESPRESSO, 11), (VASE, 3))),
    (
        "100",
        TWELVE,
        2.5,
        ((MUG, 40), (TUMBLER, 20), (CEREAL, 10), (ESPRESSO, 20), (DISH, 4), (PLATE, 4), (VASE, 2)),
    ),
    (
        "200",
        TWELVE,
        5.0,
        ((MUG, 46), (TUMBLER, 22), (CEREAL, 16), (ESPRESSO, 90), (SMALL, 10), (DISH, 16)),
    ),
    (
        "200 tight",
        TWELVE,
        5.0,
        ((MUG, 54), (TUMBLER, 24), (CEREAL, 20), (ESPRESSO, 76), (SMALL, 6), (DISH, 20)),
    ),
    (
        "200 unfitting",
        TWELVE,
        5.0,
        ((MUG, 90), (TUMBLER, 30), (CEREAL, 30), (ESPRESSO, 40), (PLATE, 6), (VASE, 4)),
    ),
    ("60 in a box", BOX, 1.0, ((MUG, 30), (TUMBLER, 12), (CEREAL, 6), (DISH, 12))),
)


def main() -> None:
    print("whole loads: placed of asked, levels, seconds, share of the shelves covered")
    for name, room, seconds, counts in LOADS:
        lots = tuple(Lot(ware=ware, count=count) for ware, count in counts)
        rules = LoadRules()
        begin, begun = time.perf_counter(), time.process_time()
        plan = pack(room=room, lots=lots, rules=rules, seconds=seconds, steps=10**9)
        took, worked = time.perf_counter() - begin, time.process_time() - begun
        broken = broken_rules(room=room, lots=lots, rules=rules, plan=plan)
        asked = sum(count for _, count in counts)
        standing = sum(plan.standing().values()) - rules.cone_packs - rules.test_tiles
        begin = time.perf_counter()
        more = still_fits(room=room, plan=plan, lots=lots, ware=ESPRESSO, rules=rules)
        asking_ms = 1000 * (time.perf_counter() - begin)
        begin = time.perf_counter()
        does = fits(room=room, lots=lots, rules=rules)
        fits_s = time.perf_counter() - begin
        print(
            f"  {name:14}{standing:4} of {asked:3}, {len(plan.levels)} levels, {took:5.2f} s"
            f" ({worked:.2f} s of a core),"
            f" {100 * _cover(room, rules, lots, plan):3.0f} %, broken rules: {len(broken)};"
            f" {more} espresso cups more in {asking_ms:3.0f} ms; fits: {does} in {fits_s:.2f} s",
            flush=True,
        )
    _asked_again()
    _handles()
    _bounds()


def _asked_again() -> None:
    print("random loads that are known to fit, and a little more than known: is 'fits' a yes?")
    rng = random.Random(7)
    rules = LoadRules()
    for share in (1.0, 1.03):
        said = short_said = 0
        began = time.process_time()
        for _ in range(ASKED):
            room = rng.choice([EIGHT, TEN])
            kinds = rng.sample(KINDS, rng.randint(2, 4))
            lots = [Lot(ware=ware, count=rng.randint(10, 60)) for ware in kinds]
            full = pack(room=room, lots=lots, rules=rules, steps=STEPS, seconds=60.0)
            stood = full.standing()
            asked = [
                replace(lot, count=math.ceil(stood[lot.ware.key] * share))
                for lot in lots
                if stood[lot.ware.key]
            ]
            short = pack(room=room, lots=asked, rules=rules, steps=FITS_STEPS, seconds=60.0)
            short_said += not short.left_out
            said += fits(room=room, lots=asked, rules=rules)
        took = (time.process_time() - began) / ASKED
        print(
            f"  {share:4.0%} of what a long look placed: yes to {short_said} of {ASKED} by a short"
            f" look, to {said} in all; {took:.1f} s of a core each with the long look",
            flush=True,
        )


def _cover(room: KilnRoom, rules: LoadRules, lots: tuple[Lot, ...], plan: LoadPlan) -> float:
    """The share of all levels under the ware and its air."""
    area, _ = shelf_region(room, "whole", rules.gap_mm).area_and_rim(0.0)
    shapes = {lot.ware.key: footprint(lot.ware, rules) for lot in lots}
    covered = sum(shapes[s.ware_key].area for s in plan.spots if s.ware_key in shapes)
    return covered / (area * max(1, len(plan.levels)))


def _handles() -> None:
    print("mugs in a kiln of ten sides: circle round the handle / handles as they are, 5 s each")
    counts = []
    for handles in ("clear", "interlock"):
        rules = replace(LoadRules(), handles=handles)
        lots = (Lot(ware=MUG, count=200),)
        plan = pack(room=TEN, lots=lots, rules=rules, seconds=5.0, steps=10**9)
        counts.append(plan.standing()[MUG.key])
        assert not broken_rules(room=TEN, lots=lots, rules=rules, plan=plan)
    print(f"  {counts[0]} / {counts[1]}: {100 * counts[1] / counts[0] - 100:+.0f} %")


def _bounds() -> None:
    print("mugs a level against the area bound (Groemer, Oler), posts not counted")
    for name, room in (("8", EIGHT), ("10", TEN), ("12", TWELVE)):
        rules = replace(LoadRules(), cone_packs=0, test_tiles=0)
        lots = (Lot(ware=MUG, count=300),)
        plan = pack(room=room, lots=lots, rules=rules, seconds=2.0, steps=10**9)
        region = shelf_region(room, "whole", rules.gap_mm)
        bound = area_bound(region, footprint(MUG, rules).radius)
        area, _ = region.area_and_rim(0.0)
        most = max(len(plan.on(level.number)) for level in plan.levels)
        dense = most * math.pi * footprint(MUG, rules).radius ** 2 / area
        print(f"  {name} sides: {most} of at most {bound}; {100 * dense:.0f} % covered")


if __name__ == "__main__":
    main()
