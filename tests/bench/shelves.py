"""How near to the best-known packings does one shelf come, and how much do handles gain?

python -m tests.bench.shelves [seconds a shelf]. Run by hand; nothing asserted. The seconds are of a
core (process time), so that a busy machine finds as much as an idle one.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from studio.craft.kiln_load import KilnRoom, LoadRules, ShelfStock, Ware
from studio.craft.shelf import Region, area_bound, disc, footprint, post_places, shelf_region
from studio.craft.shelf_packing import Budget, most_of
from tests.craft.packing_records import CIRCLE, SQUARE, best_known

RADIUS_MM = 50.0


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 0.15
    print(f"equal discs, {seconds} s a shelf")
    ratios = [2.003 + 0.1 * k for k in range(60)]
    _records("circle", CIRCLE, [(q, Region.round(radius=q * RADIUS_MM)) for q in ratios], seconds)
    sides = [4.003 + 0.15 * k for k in range(67)]
    boxes = [(q, Region.box(width=q * RADIUS_MM, depth=q * RADIUS_MM)) for q in sides]
    _records("square", SQUARE, boxes, seconds)
    _handles()


def _records(
    name: str, figures: tuple[float, ...], cases: list[tuple[float, Region]], seconds: float
) -> None:
    found = known = bound = exact = 0
    longest = 0.0
    for size, region in cases:
        begin = time.process_time()
        count = len(most_of(region, disc(RADIUS_MM), budget=_budget(seconds)))
        longest = max(longest, time.process_time() - begin)
        best = best_known(figures, size)
        found, known, exact = found + count, known + best, exact + (count == best)
        bound += area_bound(region, RADIUS_MM)
    print(
        f"  {name}: {found} of {known} best known = {100 * found / known:.2f} %,"
        f" {exact} of {len(cases)} exact, area bound {bound} ({100 * found / bound:.1f} % of it),"
        f" longest {longest:.2f} s"
    )


def _handles() -> None:
    """A mug of 3.4 in body and 4.85 in over a handle 0.9 in wide, on shelves with three posts."""
    mug = Ware(
        key="mug", shape="handled", width_mm=86, handle_mm=37, handle_width_mm=23, height_mm=108
    )
    print("mugs on one shelf with three posts: circle round the handle / handles as they are")
    for sides, width_mm in ((8, 444), (10, 594), (12, 711)):
        room = KilnRoom(
            sides=sides, width_mm=width_mm, height_mm=450, shelves=(ShelfStock(kind="whole"),)
        )
        counts = []
        for handles, seconds in (("clear", 0.25), ("interlock", 0.4), ("interlock", 2.0)):
            rules = LoadRules(handles=handles)  # type: ignore[arg-type]
            posts = [(x, y, 16 + 3.0) for x, y in post_places(room, "whole")]
            region = shelf_region(room, "whole", 6.0).with_stones(posts)
            poses = most_of(region, footprint(mug, rules), budget=_budget(seconds))
            counts.append(len(poses))
        area, _ = shelf_region(room, "whole", 0.0).area_and_rim(0.0)
        body = np.pi * 43**2 * counts[2]
        print(
            f"  {sides:2} sides, {width_mm} mm: {counts[0]} / {counts[1]} in 0.4 s,"
            f" {counts[2]} in 2 s: {100 * counts[2] / counts[0] - 100:+.0f} %,"
            f" bodies cover {100 * body / area:.0f} % of the shelf"
        )


def _budget(seconds: float) -> Budget:
    return Budget(steps=10**9, seconds=seconds, clock=time.process_time)


if __name__ == "__main__":
    main()
