"""Confirm addresses, lock them for printing, and keep who looked at them.

Laws:

1. The papers print what was locked. A change after that is told and never printed by itself.
2. Nobody is locked unconfirmed unless a person ticked them off by name.
3. A link shows and changes its own person's address and nothing else, and ends by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.core import signing
from django.db import transaction
from django.utils import timezone

from studio.parcels import rules, selectors, uploads
from studio.parcels.models import AddressLook, Parcel, Shipment, Supporter
from studio.parcels.selectors.addresses import SALT
from studio.parcels.services.hold import hold
from studio.parcels.services.people import set_supporter
from studio.parcels.services.record import too_late, write_down
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse

LINK_NAME = "by-their-link"
"""Who a change is by when a supporter made it by their link: a name nobody signs in with."""
COMMAND_NAME = "by-a-command"
"""Who a look is by when a command wrote a paper."""

MONTH_OF_NONE = 0


def address_link(*, supporter: Supporter, shipment: Shipment | None) -> str:
    """The token of a link that opens this person's own address for some days. Saves nothing."""
    ids = [supporter.id, shipment.id if shipment else MONTH_OF_NONE]
    return signing.dumps(ids, salt=SALT)


@transaction.atomic
def confirm_address(*, supporter: Supporter, day: date, by: User, at: datetime) -> Change:
    """Write down that a person said their address is right. Raises Refusal."""
    held = Supporter.objects.select_for_update().get(id=supporter.id)
    refuse(
        f"{day.day} {day:%B %Y} is still to come. Write the day they said it."
        if day > timezone.localdate(at)
        else None
    )
    refuse(
        f"The address of {held.name} is confirmed on that day already."
        if held.address_confirmed_date == day
        else None
    )
    was, now = set_supporter(
        supporter=held,
        values={"address_confirmed_date": day},
        please_no=None,
        no_glazes=None,
        at=at,
    )
    return write_down(
        action="change_supporter",
        said=f"{held.name} confirmed the address",
        by=by,
        at=at,
        subject="supporter",
        subject_id=held.id,
        undo={"was": was, "now": now},
    )


@transaction.atomic
def set_own_address(*, supporter: Supporter, fields: Mapping[str, str], at: datetime) -> Change:
    """Keep the address a supporter gave by their link, confirmed today. Raises Refusal.

    The same address again changes nothing but the day, so that sending it twice does no harm.
    """
    held = Supporter.objects.select_for_update().get(id=supporter.id)
    refuse("This link opens nothing any more." if selectors.is_erased(held) else None)
    values = {**fields, "address_confirmed_date": timezone.localdate(at)}
    was, now = set_supporter(supporter=held, values=values, please_no=None, no_glazes=None, at=at)
    moved = set(now) - {"address_confirmed_date"}
    said = "gave another address" if moved else "confirmed the address"
    return write_down(
        action="change_supporter",
        said=f"{held.name} {said} by their link",
        by=_nobody(LINK_NAME),
        at=at,
        subject="supporter",
        subject_id=held.id,
        undo={"was": was, "now": now},
    )


@transaction.atomic
def lock_addresses(
    *, shipment: Shipment, ticked: Iterable[int] = (), by: User, at: datetime
) -> Change:
    """Lock the addresses of a month's parcels for printing: each is copied to its parcel.

    ``ticked`` are the ids of parcels to lock although nobody confirmed them lately. Addresses
    printed so long ago that no parcel is traced by them any more are forgotten. Raises Refusal.
    """
    held = Shipment.objects.select_for_update().get(id=shipment.id)
    chosen = frozenset(ticked)
    refuse(selectors.cannot_lock(held, ticked=chosen))
    waiting = list(
        held.parcels.here()
        .filter(locked_at=None)
        .select_for_update(of=("self",))
        .select_related("supporter")
    )
    unconfirmed = {parcel.id for parcel in selectors.unconfirmed(held)}
    for parcel in waiting:
        _lock(parcel, ticked_off=parcel.id in chosen & unconfirmed, at=at)
    forget_addresses(today_date=timezone.localdate(at))
    many = "1 address" if len(waiting) == 1 else f"{len(waiting)} addresses"
    return write_down(
        action="lock",
        said=f"Locked {many} of {rules.month_name(held.month)}",
        by=by,
        at=at,
        subject="shipment",
        subject_id=held.id,
        undo={"parcels": [parcel.id for parcel in waiting]},
    )


@transaction.atomic
def take_address(*, parcel: Parcel, by: User, at: datetime) -> Change:
    """Take the address of today in place of the locked one, which changed since. Raises Refusal."""
    held = hold(parcel)
    settings = selectors.post_settings()
    state = selectors.address_state(held, settings=settings, printed_at=None)
    name = held.supporter.name
    refuse(
        rules.can_take_address(
            name=name, state=held.state, locked=state.locked, changed=state.changed
        )
    )
    was = _locked(held)
    _lock(held, ticked_off=held.ticked_off, at=at)
    return write_down(
        action="take_address",
        said=f"Took the new address of {name}. Print its slip and label again",
        by=by,
        at=at,
        subject="parcel",
        subject_id=held.id,
        undo={"was": was, "now": _locked(held)},
    )


def keep_looks(
    *,
    page: str,
    by: User,
    at: datetime,
    parcels: Iterable[Parcel] = (),
    people: Iterable[Supporter] = (),
) -> None:
    """Keep that somebody saw the addresses of these parcels, or of these people."""
    seen: list[tuple[Supporter, Parcel | None]] = [(one.supporter, one) for one in parcels]
    seen += [(person, None) for person in people]
    AddressLook.objects.bulk_create(
        (
            AddressLook(
                by=by,
                supporter=person,
                number=person.number,
                name=person.name,
                parcel=parcel,
                page=page,
                at=at,
            )
            for person, parcel in seen
        ),
        batch_size=1000,
    )


def command_user() -> User:
    """Who looks when a command of this computer writes a paper, where nobody signs in."""
    return _nobody(COMMAND_NAME)


def forget_addresses(*, today_date: date) -> int:
    """Forget printed addresses that are no longer needed, in the caller's transaction; how many.

    A change that took a new address holds both, so it loses its way back with them.
    """
    settings = selectors.post_settings()
    old = selectors.forget_before(today_date=today_date, settings=settings)
    ids = list(old.values_list("id", flat=True))
    taken = Change.objects.filter(room="parcels", action="take_address", subject_id__in=ids)
    taken.update(undo=None)
    return Parcel.objects.filter(id__in=ids).update(locked_name="", locked_address={})


@transaction.atomic
def forget_old(*, today_date: date) -> None:
    """Forget what was kept long enough: printed addresses, and files that were sent."""
    forget_addresses(today_date=today_date)
    uploads.prune()


def unlock(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    """Undo a lock, while all its parcels are here still."""
    parcels = Parcel.objects.here().filter(id__in=was["parcels"]).exclude(locked_at=None)
    if parcels.count() != len(was["parcels"]):
        raise Refusal(too_late("a parcel was posted or taken away since."))
    parcels.update(locked_at=None, locked_name="", locked_address={}, ticked_off=False)


def give_address_back(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    """Undo that a new address was taken."""
    held = Parcel.objects.select_for_update().filter(id=change.subject_id or 0).first()
    if held is None or _locked(held) != was["now"]:
        raise Refusal(too_late("the address was taken anew or the parcel is gone."))
    _put_back(held, was["was"])


def _put_back(held: Parcel, kept: dict[str, Any]) -> None:
    held.locked_at = datetime.fromisoformat(kept["at"])
    held.locked_name, held.locked_address = kept["name"], kept["address"]
    held.save(update_fields=["locked_at", "locked_name", "locked_address"])


def _locked(parcel: Parcel) -> dict[str, Any]:
    return {
        "at": parcel.locked_at.isoformat() if parcel.locked_at else None,
        "name": parcel.locked_name,
        "address": parcel.locked_address,
    }


def _lock(parcel: Parcel, *, ticked_off: bool, at: datetime) -> None:
    parcel.locked_at, parcel.locked_name = at, parcel.supporter.name
    parcel.locked_address = selectors.addresses_of(parcel.supporter)
    parcel.ticked_off = ticked_off
    parcel.save(update_fields=["locked_at", "locked_name", "locked_address", "ticked_off"])


def _nobody(name: str) -> User:
    """A name that stands in the records and that nobody can sign in with."""
    user, is_new = User.objects.get_or_create(username=name, defaults={"is_active": False})
    if is_new:
        user.set_unusable_password()
        user.save(update_fields=["password"])
    return user
