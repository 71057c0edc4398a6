"""What that found no place on a shelf may stand in a wider piece of a bisque load?

A small bowl in a large one. Forms tell no inside, so this is reckoned on the safe side from what
they do tell: a piece that nests adds ``nest_step_mm``, so its wall is no thicker than that, and
what goes in between the walls stands no higher than on the rim. It takes that much height, though
in the kiln it will sink lower. Small ware in large ware, in bisque alone, is common practice, no
source.
"""

from __future__ import annotations

from dataclasses import replace

from studio.craft.kiln_load import Ware
from studio.craft.load_state import Load, Standing, Task


def goes_in(ware: Ware, into: Ware) -> bool:
    """Whether a piece stands in one of another form, turned any way, with both upright."""
    if ware.stacks == "no" or into.stacks != "nested" or ware == into:
        return False
    return reach_mm(ware) <= into.width_mm - 2 * into.nest_step_mm


def reach_mm(ware: Ware) -> float:
    """Twice as far as it reaches from the middle of its body [mm]."""
    return ware.width_mm + 2 * ware.handle_mm if ware.shape == "handled" else ware.across_mm


def ridden(task: Task, load: Load) -> Load:
    """A bisque load with left-over pieces in wider ones, the widest first; others as they were."""
    if task.rules.kind != "bisque" or not any(load.rest):
        return load
    load = load.copy()
    lots = sorted(
        (k for k, left in enumerate(load.rest) if left),
        key=lambda k: (-task.lots[k].value, -reach_mm(task.lots[k].ware), k),
    )
    for tray in load.trays:
        for at, item in enumerate(tray.items):
            for k in () if item.is_held else lots:
                if load.rest[k] and _takes(task, item, k, tray.level.clear_mm):
                    item = replace(item, riders=(*item.riders, k))
                    load.rest[k] -= 1
            tray.items[at] = item
    return load


def _takes(task: Task, item: Standing, lot: int, clear_mm: int) -> bool:
    """Whether one more piece stands in the topmost of a stack."""
    ware, top = task.lots[lot].ware, task.lots[(item.lot, *item.riders)[-1]].ware
    tall = task.lots[item.lot].ware.stack_height_mm(item.pieces)
    tall += sum(task.lots[k].ware.height_mm for k in item.riders)
    return goes_in(ware, top) and tall + ware.height_mm <= clear_mm
