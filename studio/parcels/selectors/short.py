"""What do the coming turns of a month need that is not there yet?

The month's pick is tried with the free pots and with as many as may be wanted of every line that
can be made again; what it gives out is what the month needs set aside.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from studio.craft.picks import Pot, pick
from studio.parcels import rules
from studio.parcels.models import Shipment
from studio.parcels.selectors.pots import glazes_of_coats, picked_of, pots_for, wants_of, wisher
from studio.parcels.selectors.turns import due_turns, eligible_count
from studio.wares.models import Line


@dataclass(frozen=True, kw_only=True, slots=True)
class ToSetAside:
    """So many of a line that the turns of a month need: ``to_make`` of them are not there."""

    line: Line
    count: int
    to_make: int
    wanted: int


def lines_to_make(shipment: Shipment) -> list[Line]:
    """The lines of which more may be made for a month: those proven, and those it wants already."""
    wanted = [want.line_id for want in wants_of(shipment)]
    lines = Line.objects.select_related("form", "clay_lot", "coats", "schedule").order_by("id")
    return [line for line in lines if line.standing == Line.Standing.PROVEN or line.id in wanted]


def cannot_set_aside(shipment: Shipment) -> str | None:
    """Why nothing can be set aside for the coming turns of a month; None when it can."""
    return rules.can_set_aside(
        month=shipment.month,
        left=shipment.parcel_count - shipment.parcels.turns().count(),
        eligible=eligible_count(shipment.month),
        lines=len(lines_to_make(shipment)),
    )


def to_set_aside(shipment: Shipment) -> list[ToSetAside]:
    """What the turns of a month that are not picked yet need, beyond what is set aside for it."""
    left = shipment.parcel_count - shipment.parcels.turns().count()
    there = dict.fromkeys(shipment.parcels.values_list("supporter_id", flat=True), "has a parcel")
    by_hand = dict(shipment.skips.values_list("supporter_id", "reason"))
    due = due_turns(shipment=shipment, count=max(0, left), skips={**there, **by_hand})
    lines, glazes = lines_to_make(shipment), glazes_of_coats()
    made = [
        Pot(
            key=f"make-{line.id}-{nth}",
            line_key=str(line.id),
            form_key=str(line.form_id),
            glaze_keys=glazes.get(line.coats_id, frozenset()),
            to_make=True,
            pounds=line.form.price_pence // 100,
        )
        for line in lines
        for nth in range(len(due.turns))
    ]
    free = [pot for pot in pots_for(shipment) if not pot.is_second]
    picks = pick(wishers=[wisher(person) for person, _ in due.turns], pots=[*free, *made])
    line_of = {pot.key: int(pot.line_key) for pot in [*free, *made]}
    count = Counter(line_of[key] for _, key in picks.pairs)
    to_make = Counter(line_of[key] for _, key in picks.pairs if key.startswith("make-"))
    picked = picked_of(shipment)
    wanted = {want.line_id: want.count for want in wants_of(shipment)}
    known = Line.objects.select_related("form", "clay_lot", "coats", "schedule").in_bulk(count)
    return [
        ToSetAside(
            line=known[line_id],
            count=picked[line_id] + number,
            to_make=to_make[line_id],
            wanted=wanted.get(line_id, 0),
        )
        for line_id, number in sorted(count.items())
        if picked[line_id] + number > wanted.get(line_id, 0)
    ]
