"""How often does a kiln's true offset lie within what is said of it? Run by hand; nothing asserted.

A thousand kilns are made up, each with a thermocouple of its own error and with places that are a
few degrees apart; witness cones are bent by the heat work that reached them and read as a potter
reads them. The share of kilns whose true offset lies within the stated spread should be about 95 %.

python -m tests.bench.offsets [kilns]
"""

from __future__ import annotations

import math
import sys

import numpy as np

from studio.craft.cones import cone_named
from studio.craft.heat_work import heat_work
from studio.craft.kiln_fit import Bend, Fired, Seen, fit_offset
from studio.craft.programme import CoolingLaw, Programme, Segment, whole_curve

PLACE_SD_C = 5.0
TOPS = {"04": 1063.0, "6": 1222.0, "7": 1239.0}


def read_bend(work: float) -> Bend:
    """A cone as a potter finds it, by its share of heat work."""
    if work >= 2:
        return "flat"
    if work >= 1:
        return "down"
    return "bending" if work >= math.exp(-1) else "up"


def firing(rng: np.random.Generator, offset_c: float, cones: int) -> Fired:
    """A firing near a cone with so many witness cones; its readings are short by the offset."""
    name = str(rng.choice(list(TOPS)))
    top = TOPS[name] + rng.uniform(-12, 12)
    rows = (Segment(rate_c_per_h=60, target_c=top, hold_min=5),)
    law = CoolingLaw(above_h=5, below_h=6.5)
    times, temps = (np.array(v) for v in zip(*whole_curve(Programme(segments=rows), law=law),
                                             strict=True))  # fmt: skip
    seen = []
    for _ in range(cones):
        place = rng.normal(0, PLACE_SD_C)
        line = cone_named(name).bending_line()
        work = heat_work(line, times=times, temps=temps + place)[-1]
        seen.append(Seen(cone=name, bend=read_bend(float(work))))
    return Fired(
        times_h=tuple(times.tolist()), temps_c=tuple((temps - offset_c).tolist()), seen=tuple(seen)
    )


def main() -> None:
    kilns = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    rng = np.random.default_rng(11)
    print(
        f"{'firings':>8} {'cones each':>10} {'fixed':>6} {'within':>7} {'spread °C':>10}"
        f" {'off °C':>7}"
    )
    for firings, cones in ((1, 3), (3, 1), (3, 3), (7, 3), (15, 2)):
        inside, spreads, off = 0, [], []
        for _ in range(kilns):
            truth = rng.uniform(-30, 30)
            fit = fit_offset([firing(rng, truth, cones) for _ in range(firings)])
            if fit.spread_c is None:
                continue
            inside += abs(fit.offset_c - truth) <= fit.spread_c
            spreads.append(fit.spread_c)
            off.append(fit.offset_c - truth)
        share = inside / len(spreads) if spreads else float("nan")
        print(
            f"{firings:8} {cones:10} {len(spreads) / kilns:6.0%} {share:7.0%}"
            f" {np.median(spreads):10.1f} {np.sqrt(np.mean(np.square(off))):7.1f}"
        )


if __name__ == "__main__":
    main()
