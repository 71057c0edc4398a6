"""Do the planned loads of a plan stand in their kilns, piece by piece?

A plan counts room in mug places. The packer of kilns sets the pieces down on shelves, with their
handles, heights and gaps. Read from the records once, then asked without them: a search runs where
no record can be read.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from studio.craft.kiln_load import BadKiln, KilnRoom, Lot, Ware
from studio.craft.kiln_packing import FITS_STEPS, STEPS, is_near_miss, pack
from studio.craft.problem import BISQUE, Load, Problem
from studio.firings.models import Kiln
from studio.firings.selectors.packing import room_in, rules_of, ware_of
from studio.wares.models import ClayLot, Coats, Form, Line

NO_ROOM = "found no room"
"""Said of pieces that a packed load left over."""

LONGEST_PACK_S = 60.0
"""The outer limit of one packing, far beyond what its steps take [s]: the steps end it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Packer:
    """The kilns from inside and the pieces as they go in, by the planner's keys.

    What cannot be packed from the records (a kiln without sizes) is left to the count of places.
    """

    rooms: dict[str, KilnRoom]
    wares: dict[str, Ware]
    lines: dict[str, Ware]

    def can_pack(self, load: Load) -> bool:
        """Are the kiln and all that the load holds known from inside and in their sizes?"""
        known = self.wares if load.schedule_key == BISQUE else self.lines
        return load.kiln_key in self.rooms and all(key in known for key, _ in load.contents)

    def without_room(self, load: Load, *, is_short: bool = False) -> Counter[str]:
        """How many of what found no room in a load, by the planner's key.

        A short look finds most loads that stand. Where pieces are left over after it, only a
        longer one is taken as an answer.
        """
        room = self.rooms.get(load.kiln_key)
        bisque = load.schedule_key == BISQUE
        known = self.wares if bisque else self.lines
        lots = [Lot(ware=known[key], count=n) for key, n in load.contents if key in known]
        if room is None or not lots:
            return Counter()
        counts = tuple(sorted(((lot.ware, lot.count) for lot in lots), key=repr))
        found = dict(_standing(room, counts, "bisque" if bisque else "glaze", is_short))
        names = {ware.key: key for key, ware in known.items()}
        return Counter(
            {
                names[ware.key]: count - found.get(ware.key, 0)
                for ware, count in counts
                if count > found.get(ware.key, 0)
            }
        )


@lru_cache(maxsize=1024)
def _standing(
    room: KilnRoom, counts: tuple[tuple[Ware, int], ...], kind: str, is_short: bool
) -> tuple[tuple[str, int], ...]:
    """How many of each sort found a place. The same load is packed once."""
    if not is_short:
        found = _standing(room, counts, kind, True)
        there, all_of_it = (sum(n for _, n in rows) for rows in (found, counts))
        if not is_near_miss(missing=all_of_it - there, of=all_of_it):
            return found
    lots = [Lot(ware=ware, count=count) for ware, count in counts]
    steps = FITS_STEPS if is_short else STEPS
    plan = pack(room=room, lots=lots, rules=rules_of(kind), steps=steps, seconds=LONGEST_PACK_S)
    return tuple(sorted(plan.standing().items()))


def packer(problem: Problem) -> Packer:
    """The packer of a question's kilns, wares and lines."""
    kilns = Kiln.objects.filter(pk__in=[int(kiln.key) for kiln in problem.kilns])
    rooms = {}
    for kiln in kilns.prefetch_related("shelves", "posts"):
        try:
            rooms[str(kiln.pk)] = room_in(kiln)
        except BadKiln:
            continue
    return Packer(rooms=rooms, wares=_wares(problem), lines=_lines(problem))


def _wares(problem: Problem) -> dict[str, Ware]:
    pairs = [tuple(map(int, ware.key.split("-"))) for ware in problem.wares]
    forms = Form.objects.in_bulk([form for form, _ in pairs])
    clay_lots = ClayLot.objects.in_bulk([clay_lot for _, clay_lot in pairs])
    return _that_can_be(
        (f"{form}-{clay_lot}", forms[form], clay_lots[clay_lot], None) for form, clay_lot in pairs
    )


def _lines(problem: Problem) -> dict[str, Ware]:
    lines = Line.objects.filter(pk__in=[int(line.key) for line in problem.lines])
    return _that_can_be(
        (str(line.pk), line.form, line.clay_lot, line.coats)
        for line in lines.select_related("form", "clay_lot", "coats")
    )


def _that_can_be(rows: Iterable[tuple[str, Form, ClayLot, Coats | None]]) -> dict[str, Ware]:
    found = {}
    for key, form, clay_lot, coats in rows:
        try:
            found[key] = ware_of(form, clay_lot, coats)
        except BadKiln:
            continue
    return found
