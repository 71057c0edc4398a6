"""Does ware stand on and in one another as it may? A law of the referee, apart from the packer.

What stands in another form is reckoned to stand on its rim: no lower, whatever its inside.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import groupby

from studio.craft.kiln_load import Level, LoadRules, Spot, Ware


def stacks(
    rules: LoadRules, wares: dict[str, Ware], level: Level, spots: Sequence[Spot]
) -> Iterator[str]:
    """Ware stands as high as it may and as its level is clear."""
    piles: dict[tuple[float, float], list[Spot]] = {}
    for spot in spots:
        piles.setdefault((spot.x_mm, spot.y_mm), []).append(spot)
    for stack in piles.values():
        stack.sort(key=lambda spot: spot.tier)
        if [spot.tier for spot in stack] != list(range(len(stack))):
            yield f"{stack[0].ware_key} on level {level.number} stands on nothing."
        runs = [(key, len(list(some))) for key, some in groupby(s.ware_key for s in stack)]
        tall = rules.tile_mm if is_on_tile(rules, wares[runs[0][0]]) else 0
        for at, (key, count) in enumerate(runs):
            ware = wares[key]
            most = ware.stack_most if rules.kind == "bisque" else 1
            if count > most:
                yield f"{count} {key} stand on one another; {most} may."
            if at and (count > 1 or not _goes_in(rules, ware, wares[runs[at - 1][0]])):
                yield f"{key} on level {level.number} does not stand in {runs[at - 1][0]}."
            step = ware.height_mm if ware.stacks == "rim_to_rim" else ware.nest_step_mm
            tall += ware.height_mm + (count - 1) * step
        if tall > level.clear_mm:
            yield (
                f"{runs[0][0]} stands {tall} mm tall on level {level.number}:"
                f" {level.clear_mm} mm clear."
            )


def _goes_in(rules: LoadRules, ware: Ware, into: Ware) -> bool:
    """Whether one piece stands between the walls of another, by what is told of both.

    As far as it reaches from where it stands, that far the other is hollow.
    """
    if rules.kind != "bisque" or into.stacks != "nested" or ware.stacks == "no":
        return False
    half = ware.width_mm / 2
    far = half + ware.handle_mm
    if ware.shape == "oblong":
        along, over = ware.length_mm / 2 - ware.corner_mm, half - ware.corner_mm
        far = math.hypot(along, over) + ware.corner_mm
    return far <= into.width_mm / 2 - into.nest_step_mm


def is_on_tile(rules: LoadRules, ware: Ware) -> bool:
    """Whether a catch tile is under a piece."""
    return ware.is_runny and rules.kind == "glaze" and rules.runny == "catch_tile"
