"""How many loads are needed at the very least, whatever the days?

What has to be there by a day needs room in kilns before it. The cheapest set of loads that has
the room (a cover: whole loads, so no half firings) is a proven floor under the cost, and a strong
help to the solver. Each missing piece lowers the floor by at most the cheapest cover of the room
it would have taken, because covers of two rooms together cover their sum.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studio.craft.backplan_frame import NEVER, Frame, Slot, share_up
from studio.craft.backplan_model import Model, Var
from studio.craft.problem import BISQUE, Ware

Floor = list[int]
"""The least cost (or number) of loads for every room from 0 up."""

Needs = dict[tuple[str, int], int]
"""The least of a line to glaze fire for all that has to be there by a day [pieces]."""


def cheapest_cover(*, room_tenths: int, loads: Sequence[tuple[int, int]]) -> Floor:
    """The least cost to have each room from 0 to ``room_tenths`` [tenths of a mug place].

    ``loads`` are (room, cost) of the loads to choose from, as many of each as one likes.
    """
    best = [0] * (room_tenths + 1)
    for room in range(1, room_tenths + 1):
        best[room] = min(best[max(0, room - there)] + cost for there, cost in loads)
    return best


@dataclass(frozen=True, kw_only=True, slots=True)
class _Part:
    """So many pieces of a ware to load by a day, for these lines."""

    ware: Ware
    least: int
    lines: tuple[str, ...]
    a_piece: int
    """The most pieces to load for one kept piece."""


def add_cuts(*, model: Model) -> None:
    """Add floors under cost and number of loads, for every date, schedule and height."""
    made = model.made
    needs = fire_needs(made)
    for schedule in sorted({slot.schedule_key for slot in made.slots}):
        for height_mm in heights_of(made, schedule):
            _add_covers(model, needs, schedule, height_mm)
    _add_trial_loads(model, needs)


def days_of(made: Frame) -> list[int]:
    """Mornings on which pieces have to be there."""
    return sorted({want.due for want in made.wants} | {want.early for want in made.wants})


def fire_needs(made: Frame) -> Needs:
    needs = {}
    for key in made.lines:
        least = 0
        for day in days_of(made):
            asked = sum(w.asked for w in made.wants if w.line_key == key and w.early <= day)
            there = made.arrives["finished", key][day] // 100 * 100
            there += made.arrives["fired", key][day - 1] if day else 0
            percent = made.problem.yields.glaze_percent
            least = max(least, share_up(hundredths=100 * asked - there, percent=percent))
            needs[key, day] = least
    return needs


def _missing(model: Model, line: str, day: int) -> Var:
    """Pieces of a line asked for that are not there by the morning of a day."""
    return sum(
        want.asked - var + (0 if want.due <= day else model.in_buffer[want])
        for want, var in model.kept.items()
        if want.line_key == line and want.early <= day
    )


def _add_trial_loads(model: Model, needs: Needs) -> None:
    """A line that nobody has fired has its trial, if anything of it is kept that needs firing."""
    made = model.made
    last = days_of(made)[-1]
    a_fire = share_up(hundredths=100, percent=made.problem.yields.glaze_percent)
    for line in sorted({line for line, _ in model.trial if made.proven_from[line] == NEVER}):
        trials = [var for (key, _), var in model.trial.items() if key == line]
        need = needs[line, last]
        if need:
            short = _missing(model, line, last)
            model.cp.add(need * sum(trials) + a_fire * short >= need)
    for (_, slot), var in model.trial.items():
        model.cp.add(var <= model.slot_on[slot])


def heights_of(made: Frame, schedule: str) -> list[int]:
    """0, and each height that some kiln of the schedule does not clear."""
    slots = [slot for slot in made.slots if slot.schedule_key == schedule]
    return [0, *sorted({made.kiln(slot.kiln_key).clear_height_mm for slot in slots})[:-1]]


def parts_of(made: Frame, needs: Needs, schedule: str, day: int) -> list[_Part]:
    yields = made.problem.yields
    a_fire = share_up(hundredths=100, percent=yields.glaze_percent)
    if schedule != BISQUE:
        return [
            _Part(ware=made.ware_of(key), least=needs[key, day], lines=(key,), a_piece=a_fire)
            for key, line in made.lines.items()
            if line.schedule_key == schedule
        ]
    parts = []
    for key, ware in made.wares.items():
        lines = tuple(made.lines_of(key))
        glaze = sum(
            max(0, needs[line, day] - made.arrives["glazed", line][day] // 100) for line in lines
        )
        there = made.arrives["bisqued", key][day]
        least = share_up(hundredths=100 * glaze - there, percent=yields.bisque_percent)
        a_piece = share_up(hundredths=100 * a_fire, percent=yields.bisque_percent)
        parts.append(_Part(ware=ware, least=least, lines=lines, a_piece=a_piece))
    return parts


def _add_covers(model: Model, needs: Needs, schedule: str, height_mm: int) -> None:
    made = model.made
    slots = [
        slot
        for slot in made.slots
        if slot.schedule_key == schedule and made.kiln(slot.kiln_key).clear_height_mm > height_mm
    ]
    kinds = sorted({(slot.room_tenths, slot.cost_pence) for slot in slots})
    all_parts = {
        day: [p for p in parts_of(made, needs, schedule, day) if p.ware.height_mm > height_mm]
        for day in days_of(made)
    }
    most = max(
        (
            max(_room(parts), max((p.ware.room_tenths * p.a_piece for p in parts), default=0))
            for parts in all_parts.values()
        ),
        default=0,
    )
    if not kinds or not most:
        return
    cost = cheapest_cover(room_tenths=most, loads=kinds)
    number = cheapest_cover(room_tenths=most, loads=[(room, 1) for room, _ in kinds])
    for day, parts in all_parts.items():
        room = _room(parts)
        if room:
            by = day - 1 if schedule != BISQUE else last_glazing(made, day)
            in_time = [slot for slot in slots if slot.open <= by]
            _add_floor(model, in_time, cost, parts, day, costly=True)
            _add_floor(model, in_time, number, parts, day, costly=False)
            if height_mm == 0 and schedule != BISQUE:
                _add_trial_floors(model, in_time, cost, parts, day)


def _room(parts: list[_Part]) -> int:
    return sum(part.ware.room_tenths * part.least for part in parts)


def _lost(model: Model, floor: Floor, parts: list[_Part], day: int) -> Var:
    """By how much missing pieces may lower a floor."""
    return sum(
        floor[part.ware.room_tenths * part.a_piece] * _missing(model, line, day)
        for part in parts
        for line in part.lines
    )


def _add_floor(
    model: Model, slots: list[Slot], floor: Floor, parts: list[_Part], day: int, *, costly: bool
) -> None:
    loads = sum((slot.cost_pence if costly else 1) * model.slot_on[slot] for slot in slots)
    model.cp.add(loads + _lost(model, floor, parts, day) >= floor[_room(parts)])


def _add_trial_floors(
    model: Model, slots: list[Slot], floor: Floor, parts: list[_Part], day: int
) -> None:
    """With a trial there is one load in a kiln that takes trials, and a cover of the rest."""
    made, room = model.made, _room(parts)
    takes = {kiln.key for kiln in made.problem.kilns if kiln.takes_trials}
    small = {(s.room_tenths, s.cost_pence) for s in slots if s.kiln_key in takes}
    if not small:
        return
    with_trial = min(cost + floor[max(0, room - there)] for there, cost in small)
    more = with_trial - floor[room]
    for part in parts:
        trials = [
            var
            for (line, slot), var in model.trial.items()
            if line in part.lines and slot.open < day
        ]
        if more > 0 and trials:
            loads = sum(slot.cost_pence * model.slot_on[slot] for slot in slots)
            lost = _lost(model, floor, parts, day)
            model.cp.add(loads + lost >= floor[room] + more * sum(trials))


def cost_floor(*, made: Frame, short: int) -> int:
    """A proven least cost of every plan that leaves at most ``short`` pieces short [pence]."""
    needs, day = fire_needs(made), days_of(made)[-1]
    total, fire, bisque = 0, 0, 0
    for schedule in sorted({slot.schedule_key for slot in made.slots}):
        kinds = sorted(
            {(s.room_tenths, s.cost_pence) for s in made.slots if s.schedule_key == schedule}
        )
        parts = parts_of(made, needs, schedule, day)
        pieces = [part.ware.room_tenths * part.a_piece for part in parts]
        floor = cheapest_cover(room_tenths=max(_room(parts), *pieces, 0), loads=kinds)
        total += floor[_room(parts)]
        most = max((floor[room] for room in pieces), default=0)
        fire, bisque = (fire, most) if schedule == BISQUE else (max(fire, most), bisque)
    return max(0, total - short * (fire + bisque))


def last_glazing(made: Frame, day: int) -> int:
    """The last day on which glazing can still serve what has to be there by a day."""
    starts = [s.start for s in made.slots if s.schedule_key != BISQUE and s.open <= day - 1]
    return max(starts, default=0) - 1
