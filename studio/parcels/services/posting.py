"""Mark parcels posted, each to an address that somebody has seen.

Laws:

1. When a parcel is posted its pieces are parted as sent, and their reservations, fulfilled, go.
2. Whose address changed after it was locked is not posted before a person said which of the two it
   goes to, of the very address that stands now (it changed once more meanwhile: ask again).
3. Who is given the new address is not posted with the papers of the old one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.parcels import rules, selectors
from studio.parcels.models import Parcel, Supporter
from studio.parcels.services.addresses import take_address
from studio.parcels.services.hold import hold_all, not_there, parcels_of, were
from studio.parcels.services.record import write_down
from studio.wares import services as wares
from studio.wares.models import Piece
from studio.web.models import Change
from studio.web.refusal import refuse

NOBODY: Mapping[int, str] = {}


@transaction.atomic
def mark_posted(
    *,
    parcels: Sequence[Parcel],
    as_printed: Mapping[int, str] = NOBODY,
    by: User,
    at: datetime,
) -> Change:
    """Mark packed parcels as posted today: their pieces are parted as sent. Raises Refusal.

    ``as_printed`` names by id the parcels that go to the printed address although another stands
    now, with the ``selectors.address_mark`` of the other as a person saw it.
    """
    held, done = hold_all(parcels, to="posted")
    people = Supporter.objects.select_for_update().order_by("id")
    standing = {one.id: one for one in people.filter(id__in=[one.supporter_id for one in held])}
    states = selectors.address_states(held)
    for one in held:
        state = states[one.id]
        seen = as_printed.get(one.id) == selectors.address_mark(standing[one.supporter_id])
        refuse(
            rules.can_post(
                name=one.supporter.name,
                state=one.state,
                moved=state.changed and not seen,
                print_again=state.print_again,
            )
            or not_there(one)
        )
    change = write_down(
        action="post",
        said=f"Posted {parcels_of(held)}{were(done, 'posted')}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=held[0].shipment_id,
        undo={},
    )
    ids = [line.piece_id for one in held for line in one.lines.all()]
    pieces = list(Piece.objects.select_related("form", "board").filter(id__in=ids).order_by("id"))
    wares.part_pieces(pieces=pieces, parting="sent", keeps_promise="parcel", change=change, at=at)
    today = timezone.localdate(at)
    Parcel.objects.filter(id__in=[one.id for one in held]).update(
        state=Parcel.State.POSTED, posted_date=today
    )
    change.undo = {**(change.undo or {}), "parcels": [one.id for one in held]}
    change.save(update_fields=["undo"])
    return change


@transaction.atomic
def post_or_take(
    *,
    parcels: Sequence[Parcel],
    as_printed: Mapping[int, str],
    taken: Sequence[Parcel],
    by: User,
    at: datetime,
) -> list[Change]:
    """Post these, but for those of them that take the new address and are printed again first.

    ``as_printed`` is as for ``mark_posted``. All is done or nothing. Raises Refusal.
    """
    stay = {parcel.id for parcel in taken}
    leaving = [parcel for parcel in parcels if parcel.id not in stay]
    changes = [take_address(parcel=parcel, by=by, at=at) for parcel in taken]
    if leaving or not changes:
        changes.append(mark_posted(parcels=leaving, as_printed=as_printed, by=by, at=at))
    return changes
