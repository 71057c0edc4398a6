"""Write the note of a parcel, weigh it, mark it packed or arrived, and keep its number.

Marking many marks those that are not there yet and says how many were; what cannot be marked stops
it all, so that nothing is half done (one of ten not packed: none is posted).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.craft.post import BadTracking, read_tracking
from studio.parcels import rules, selectors
from studio.parcels.models import Parcel
from studio.parcels.services.hold import hold, hold_all, not_there, parcels_of, were
from studio.parcels.services.record import write_down
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse


@transaction.atomic
def set_note(*, parcel: Parcel, note: str, by: User, at: datetime) -> Change:
    """Write the note that is printed on a parcel's slip. Raises Refusal when it is too long."""
    held = hold(parcel)
    refuse(
        f"Say it in {rules.NOTE_LENGTH} characters at most."
        if len(note) > rules.NOTE_LENGTH
        else None
    )
    was = held.note
    held.note = note.strip()
    held.save(update_fields=["note"])
    return write_down(
        action="set_note",
        said=f"Wrote the note for the parcel of {held.supporter.name}",
        by=by,
        at=at,
        subject="parcel",
        subject_id=held.id,
        undo={"was": was, "now": held.note},
    )


@transaction.atomic
def mark_packed(*, parcels: Sequence[Parcel], box: str = "", by: User, at: datetime) -> Change:
    """Mark picked parcels as packed, in this box or each in its own. Raises Refusal.

    An empty ``box`` takes what was chosen for a parcel, else its best fit.
    """
    held, done = hold_all(parcels, to="packed")
    plain_box = " ".join(box.split())
    types, settings = selectors.box_types(), selectors.post_settings()
    for one in held:
        refuse(
            rules.can_pack(
                name=one.supporter.name, state=one.state, pieces=one.lines.count(), box=plain_box
            )
            or not_there(one)
        )
    was = [[one.id, one.box] for one in held]
    for one in held:
        pieces = list(one.lines.select_related("piece__form"))
        known = selectors.facts(one, pieces=pieces, types=types, settings=settings)
        one.state, one.box = Parcel.State.PACKED, plain_box or known.box
        one.save(update_fields=["state", "box"])
    return write_down(
        action="pack",
        said=f"Packed {parcels_of(held)}{were(done, 'packed')}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=held[0].shipment_id,
        undo={"boxes": was},
    )


@transaction.atomic
def mark_arrived(*, parcels: Sequence[Parcel], by: User, at: datetime) -> Change:
    """Mark posted parcels as arrived whole, as of today. Raises Refusal."""
    held, done = hold_all(parcels, to="arrived")
    for one in held:
        refuse(rules.can_arrive(name=one.supporter.name, state=one.state))
    today = timezone.localdate(at)
    ids = [one.id for one in held]
    Parcel.objects.filter(id__in=ids).update(state=Parcel.State.ARRIVED, arrived_date=today)
    return write_down(
        action="arrive",
        said=f"Arrived: {parcels_of(held)}{were(done, 'there')}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=held[0].shipment_id,
        undo={"parcels": ids},
    )


@transaction.atomic
def weigh(
    *, parcel: Parcel, weighed_g: int | None, box: str = "", by: User, at: datetime
) -> Change:
    """Keep what a parcel weighs on the scale [g], None for what is reckoned, and its box.

    Raises Refusal.
    """
    held = hold(parcel)
    contents_g = sum(held.lines.values_list("piece__form__weight_g", flat=True))
    plain_box = " ".join(box.split())
    refuse(
        f"Name the box in {rules.BOX_LENGTH} characters at most."
        if len(plain_box) > rules.BOX_LENGTH
        else None
    )
    name = held.supporter.name
    refuse(
        rules.can_weigh(
            name=name,
            state=held.state,
            # Without a weight only the state of the parcel can stand against it.
            weighed_g=contents_g + 1 if weighed_g is None else weighed_g,
            contents_g=contents_g,
        )
    )
    was = {"weighed_g": held.weighed_g, "box": held.box}
    held.weighed_g, held.box = weighed_g, plain_box
    held.save(update_fields=["weighed_g", "box"])
    told = f"weighs {weighed_g} g" if weighed_g is not None else "goes by what is reckoned"
    return write_down(
        action="set_parcel",
        said=f"The parcel of {name} {told}{f', box {plain_box}' if plain_box else ''}",
        by=by,
        at=at,
        subject="parcel",
        subject_id=held.id,
        undo={"was": was, "now": {"weighed_g": weighed_g, "box": plain_box}},
    )


@transaction.atomic
def set_tracking(*, parcel: Parcel, number: str, by: User, at: datetime) -> Change:
    """Keep the tracking number of a packed or posted parcel; an empty one takes it away.

    Raises Refusal for a number whose check digit is wrong, or that another parcel carries.
    """
    held = hold(parcel)
    name = held.supporter.name
    try:
        plain = read_tracking(number).number if number.strip() else ""
    except BadTracking as wrong:
        raise Refusal(wrong.sentence) from None
    other = Parcel.objects.filter(tracking=plain).exclude(id=held.id).exclude(tracking="").first()
    refuse(rules.can_track(name=name, state=held.state, taken_by=str(other) if other else ""))
    was = held.tracking
    held.tracking = plain
    held.save(update_fields=["tracking"])
    return write_down(
        action="set_parcel",
        said=f"{'Wrote' if plain else 'Took away'} the tracking number of the parcel of {name}",
        by=by,
        at=at,
        subject="parcel",
        subject_id=held.id,
        undo={"was": {"tracking": was}, "now": {"tracking": plain}},
    )
