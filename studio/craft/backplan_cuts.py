"""How many loads are needed at the very least, whatever the days?

What is promised by a date needs room in kilns before it. The cheapest set of loads that has the
room (a cover: whole loads, so no half firings) is a proven floor under the cost, and a strong
help to the solver. Each missing piece lowers the floor by at most the cheapest cover of the room
it would have taken, because covers of two rooms together cover their sum.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from studio.craft.backplan_frame import NEVER, Frame, share_up
from studio.craft.backplan_model import Model
from studio.craft.problem import BISQUE, Ware


def cheapest_cover(*, room_tenths: int, loads: Sequence[tuple[int, int]]) -> list[int]:
    """The least cost to have each room from 0 to ``room_tenths`` [tenths of a mug place].

    ``loads`` are (room, cost) of the loads to choose from, as many of each as one likes.
    """
    best = [0] * (room_tenths + 1)
    for room in range(1, room_tenths + 1):
        best[room] = min(best[max(0, room - there)] + cost for there, cost in loads)
    return best


def add_cuts(*, model: Model) -> None:
    """Add floors under cost and number of loads, for every date, schedule and height."""
    made = model.made
    schedules = sorted({slot.schedule_key for slot in made.slots})
    for schedule in schedules:
        for height_mm in _heights(made, schedule):
            _add_covers(model, schedule, height_mm)
    _add_trial_loads(model)


def _add_trial_loads(model: Model) -> None:
    """A line that nobody has fired has its trial, if anything of it is kept that needs firing."""
    made = model.made
    for line in sorted({line for line, _ in model.trial if made.proven_from[line] == NEVER}):
        trials = [var for (key, _), var in model.trial.items() if key == line]
        need = fire_needs(made)[line, made.span - 1]
        if need:
            short = _missing(model, line, made.span)
            model.cp.add(
                need * sum(trials)
                + share_up(hundredths=100, percent=made.problem.yields.glaze_percent) * short
                >= need
            )


def _heights(made: Frame, schedule: str) -> list[int]:
    """0, and each height that some kiln of the schedule does not clear."""
    clears = {
        made.kiln(s.kiln_key).clear_height_mm for s in made.slots if s.schedule_key == schedule
    }
    return [0, *sorted(clears)[:-1]]


def fire_needs(made: Frame) -> dict[tuple[str, int], int]:
    """The least of each line to glaze fire for all that is due by a day [pieces]."""
    needs = {}
    dues = sorted({want.due for want in made.wants})
    for key in made.lines:
        least = 0
        for due in (*dues, made.span - 1):
            asked = sum(w.asked for w in made.wants if w.line_key == key and w.due <= due)
            there = made.arrives["finished", key][due] // 100 * 100
            there += made.arrives["fired", key][due - 1] if due else 0
            percent = made.problem.yields.glaze_percent
            least = max(least, share_up(hundredths=100 * asked - there, percent=percent))
            needs[key, due] = least
    return needs


def _missing(model: Model, line: str, due: int) -> Any:
    return sum(
        want.asked - var
        for want, var in model.kept.items()
        if want.line_key == line and want.due <= due
    )


def _parts(made: Frame, schedule: str, due: int) -> Iterator[tuple[Ware, int, list[str], int]]:
    """(ware, least pieces to load by ``due``, its lines, most loads' pieces a kept one needs)."""
    needs, yields = fire_needs(made), made.problem.yields
    a_fire = share_up(hundredths=100, percent=yields.glaze_percent)
    if schedule != BISQUE:
        for key, line in made.lines.items():
            if line.schedule_key == schedule:
                yield made.ware_of(key), needs[key, due], [key], a_fire
        return
    for key, ware in made.wares.items():
        lines = made.lines_of(key)
        glaze = sum(
            max(0, needs[line, due] - made.arrives["glazed", line][due] // 100) for line in lines
        )
        there = made.arrives["bisqued", key][due]
        least = share_up(hundredths=100 * glaze - there, percent=yields.bisque_percent)
        yield ware, least, lines, share_up(hundredths=100 * a_fire, percent=yields.bisque_percent)


def _add_covers(model: Model, schedule: str, height_mm: int) -> None:
    made = model.made
    slots = [
        slot
        for slot in made.slots
        if slot.schedule_key == schedule and made.kiln(slot.kiln_key).clear_height_mm > height_mm
    ]
    kinds = sorted({(slot.room_tenths, slot.cost_pence) for slot in slots})
    if not kinds:
        return
    for due in sorted({want.due for want in made.wants}):
        parts = [part for part in _parts(made, schedule, due) if part[0].height_mm > height_mm]
        room = sum(ware.room_tenths * least for ware, least, _, _ in parts)
        if not room:
            continue
        by = due - 1 if schedule != BISQUE else _last_glazing(made, due)
        in_time = [slot for slot in slots if slot.open <= by]
        most_room = max((ware.room_tenths * each for ware, _, _, each in parts), default=0)
        cost = cheapest_cover(room_tenths=max(room, most_room), loads=kinds)
        number = cheapest_cover(
            room_tenths=max(room, most_room), loads=[(there, 1) for there, _ in kinds]
        )
        for floor, weight in ((cost, "cost_pence"), (number, None)):
            lost = sum(
                floor[ware.room_tenths * each] * _missing(model, line, due)
                for ware, _, lines, each in parts
                for line in lines
            )
            loads = sum(
                (int(getattr(slot, weight)) if weight else 1) * model.slot_on[slot]
                for slot in in_time
            )
            model.cp.add(loads + lost >= floor[room])


def _last_glazing(made: Frame, due: int) -> int:
    """The last day on which glazing can still serve what is due by a day."""
    starts = [s.start for s in made.slots if s.schedule_key != BISQUE and s.open <= due - 1]
    return max(starts, default=0) - 1
