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
from studio.parcels.selectors.pots import pots_for
from studio.parcels.selectors.reading import Reading, wishers
from studio.parcels.selectors.turns import due_turns
from studio.wares.models import Line


@dataclass(frozen=True, kw_only=True, slots=True)
class ToSetAside:
    """So many of a line that the turns of a month need: ``to_make`` of them are not there."""

    line: Line
    count: int
    to_make: int
    wanted: int


def lines_to_make(read: Reading) -> list[Line]:
    """The lines of which more may be made for a month: those proven, and those it wants already."""
    wanted = {want.line_id for want in read.wants}
    proven = Line.Standing.PROVEN
    return [line for line in read.lines.values() if line.standing == proven or line.id in wanted]


def cannot_set_aside(shipment: Shipment, *, reading: Reading | None = None) -> str | None:
    """Why nothing can be set aside for the coming turns of a month; None when it can."""
    read = reading or Reading(shipment)
    left = shipment.parcel_count - read.turns_picked
    return rules.can_set_aside(
        month=shipment.month,
        left=left,
        eligible=read.eligible if left > 0 else 0,
        lines=len(lines_to_make(read)) if left > 0 else 0,
    )


def to_set_aside(shipment: Shipment, *, reading: Reading | None = None) -> list[ToSetAside]:
    """What the turns of a month that are not picked yet need, beyond what is set aside for it."""
    read = reading or Reading(shipment)
    there = dict.fromkeys(read.served, "has a parcel")
    by_hand = {skip.supporter_id: skip.reason for skip in read.skips}
    due = due_turns(
        shipment=shipment,
        count=max(0, shipment.parcel_count - read.turns_picked),
        skips={**there, **by_hand},
        standing=read.standings,
        served=[id_ for id_, in_turn in read.served.items() if in_turn],
    )
    made = [
        Pot(
            key=f"make-{line.id}-{nth}",
            line_key=str(line.id),
            form_key=str(line.form_id),
            glaze_keys=read.glazes.get(line.coats_id, frozenset()),
            to_make=True,
            pounds=line.form.price_pence // 100,
        )
        for line in lines_to_make(read)
        for nth in range(len(due.turns))
    ]
    free = [pot for pot in pots_for(shipment, reading=read) if not pot.is_second]
    picks = pick(wishers=wishers(person for person, _ in due.turns), pots=[*free, *made])
    line_of = {pot.key: int(pot.line_key) for pot in [*free, *made]}
    count = Counter(line_of[key] for _, key in picks.pairs)
    to_make = Counter(line_of[key] for _, key in picks.pairs if key.startswith("make-"))
    wanted = {want.line_id: want.count for want in read.wants}
    known = {line.id: line for line in read.lines.values()}
    return [
        ToSetAside(
            line=known[line_id],
            count=read.picked[line_id] + number,
            to_make=to_make[line_id],
            wanted=wanted.get(line_id, 0),
        )
        for line_id, number in sorted(count.items())
        if read.picked[line_id] + number > wanted.get(line_id, 0)
    ]
