"""Undo a change of this room, while nothing later stands on it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.parcels import selectors
from studio.parcels.models import (
    Parcel,
    Payment,
    Shipment,
    ShipmentWant,
    Skip,
    Supporter,
    Tier,
    TurnRule,
)
from studio.parcels.services import addresses, breakage, picking, post
from studio.parcels.services.months import payments_of, put_pauses, put_payments
from studio.parcels.services.people import kept, put_former_tiers
from studio.parcels.services.record import plain, too_late, write_down
from studio.parcels.services.shipments import FIELDS as SHIPMENT_FIELDS
from studio.wares import services as wares
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse

DATES = ("address_confirmed_date", "post_date")


@transaction.atomic
def undo(*, change: Change, by: User, at: datetime) -> Change:
    """Put back what a change of this room did, as a change of its own. Raises Refusal."""
    if change.room != "parcels" or change.undo is None or change.action not in _UNDOING:
        raise Refusal(f"“{change.said}” has no way back here.")
    refuse("This was undone already." if Change.objects.filter(undoes=change).exists() else None)
    undoing = write_down(
        action="undo",
        said=f"Undid: {change.said}",
        by=by,
        at=at,
        subject=change.subject,
        subject_id=change.subject_id,
        undo=None,
    )
    undoing.undoes = change
    try:
        with transaction.atomic():
            undoing.save(update_fields=["undoes"])
    except IntegrityError:
        raise Refusal("This was undone already, at this moment.") from None
    _UNDOING[change.action](change, undoing, change.undo)
    return undoing


def _supporter(change: Change) -> Supporter:
    found = Supporter.objects.select_for_update().filter(id=change.subject_id or 0).first()
    if found is None:
        raise Refusal(too_late("the supporter is gone."))
    return found


def _shipment(change: Change) -> Shipment:
    found = Shipment.objects.select_for_update().filter(id=change.subject_id or 0).first()
    if found is None:
        raise Refusal(too_late("that month's parcels are gone."))
    return found


def _undo_adding(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    _remove(_supporter(change))


def _remove(supporter: Supporter) -> None:
    if supporter.parcels.exists() or supporter.skips.exists():
        raise Refusal(too_late(f"{supporter.name} has parcels or skips on record."))
    supporter.delete()


def _undo_changing(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    _set_back(_supporter(change), was)


def _set_back(supporter: Supporter, entry: dict[str, Any]) -> None:
    now = {**kept(supporter), "pauses": [list(span) for span in selectors.pauses(supporter)]}
    if any(now[field] != value for field, value in entry["now"].items()):
        raise Refusal(too_late(f"{supporter.name} was changed since."))
    values = dict(entry["was"])
    forms, glazes = values.pop("please_no", None), values.pop("no_glazes", None)
    former, spans = values.pop("former_tiers", None), values.pop("pauses", None)
    for field, value in values.items():
        setattr(supporter, field, date.fromisoformat(value) if field in DATES and value else value)
    supporter.save()
    if forms is not None:
        supporter.please_no.set(forms)
    if glazes is not None:
        supporter.no_glazes.set(glazes)
    if former is not None:
        put_former_tiers(supporter, former)
    if spans is not None:
        put_pauses(supporter, spans)


def _undo_paying(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    _unpay(was["paid"])


def _unpay(rows: list[list[Any]]) -> None:
    """Put months back as they were: [supporter, month, state now, state before or '']."""
    for supporter_id, month, now, before in rows:
        found = Payment.objects.filter(supporter_id=supporter_id, month=month, state=now)
        changed = found.update(state=before) if before else found.delete()[0]
        refuse(None if changed else too_late("a month was changed since."))


def _undo_payments(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    supporter = _supporter(change)
    same = payments_of(supporter) == was["now"]
    refuse(None if same else too_late("the months were changed since."))
    put_payments(supporter, was["was"])


def _undo_pauses(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    supporter = _supporter(change)
    same = [list(span) for span in selectors.pauses(supporter)] == was["now"]
    refuse(None if same else too_late("the pauses were changed since."))
    put_pauses(supporter, was["was"])


def _undo_tier(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    tier = Tier.objects.select_for_update().filter(id=change.subject_id or 0).first()
    if tier is None or any(getattr(tier, f) != value for f, value in was["now"].items()):
        raise Refusal(too_late("the tier was changed since."))
    if was["was"] is None:
        refuse(too_late("supporters are in that tier.") if tier.supporters.exists() else None)
        tier.delete()
        return
    for field, value in was["was"].items():
        setattr(tier, field, value)
    tier.save()


def _undo_turn_rule(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    rule = TurnRule.objects.select_for_update().get(id=1)
    if any(getattr(rule, field) != value for field, value in was["now"].items()):
        raise Refusal(too_late("the rule was changed since."))
    for field, value in was["was"].items():
        setattr(rule, field, value)
    rule.save()


def _undo_import(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    added = set(was["added"])
    _unpay([row for row in was["paid"] if row[0] not in added])
    for entry in was["changes"]:
        supporter = Supporter.objects.select_for_update().filter(id=entry["id"]).first()
        if supporter is None:
            raise Refusal(too_late("a supporter is gone."))
        _set_back(supporter, entry)
    for supporter in Supporter.objects.select_for_update().filter(id__in=added):
        _remove(supporter)


def _undo_shipment(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    shipment = _shipment(change)
    if any(plain(getattr(shipment, f)) != was["now"][f] for f in SHIPMENT_FIELDS):
        raise Refusal(too_late("it was changed since."))
    if was["was"] is None:
        held = shipment.parcels.exists() or shipment.wants.exists() or shipment.skips.exists()
        refuse(too_late("that month has wants, parcels or skips.") if held else None)
        shipment.delete()
        return
    has = shipment.parcels.turns().count()
    if was["was"]["parcel_count"] < has:
        raise Refusal(too_late(f"{has} parcels are picked."))
    for field, value in was["was"].items():
        setattr(shipment, field, date.fromisoformat(value) if field in DATES else value)
    shipment.save()


def _undo_want(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    shipment = _shipment(change)
    wants = ShipmentWant.objects.filter(shipment=shipment, line_id=was["line_id"])
    if wants.values_list("count", flat=True).first() != was["now"]:
        raise Refusal(too_late("it was changed since."))
    if was["was"] is None:
        wants.delete()
    else:
        ShipmentWant.objects.update_or_create(
            shipment=shipment, line_id=was["line_id"], defaults={"count": was["was"]}
        )


def _undo_setting_aside(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    for line_id, before, now in was["wants"]:
        _undo_want(change, undoing, {"line_id": line_id, "was": before, "now": now})


def _undo_pick(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    _shipment(change)
    parcels = list(
        Parcel.objects.select_for_update(of=("self",))
        .select_related("supporter")
        .filter(id__in=was["parcels"])
    )
    picking.take_away(parcels)
    Skip.objects.filter(id__in=was["skips"]).delete()


def _undo_choosing(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    parcel = Parcel.objects.select_for_update().filter(id=change.subject_id or 0).first()
    row = parcel.lines.filter(piece_id=was["now"]).first() if parcel else None
    if parcel is None or row is None:
        raise Refusal(too_late("the piece is no longer in that parcel."))
    if parcel.state != Parcel.State.PICKED:
        raise Refusal(too_late(f"the parcel is {parcel.state}."))
    picking.take_out(row)
    if was["was"] is not None:
        picking.swap_in(parcel=parcel, piece_id=was["was"], by=undoing.by, at=undoing.at)


def _undo_skip(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    shipment = _shipment(change)
    gone, _ = Skip.objects.filter(id=was["skip"]).delete()
    refuse(None if gone else too_late("the skip was taken away since."))
    if was["parcel"] is None:
        return
    if shipment.parcels.turns().count() >= shipment.parcel_count:
        raise Refusal(too_late("the next turn has moved up and has the parcel."))
    picking.put_again(shipment=shipment, kept=was["parcel"], by=undoing.by, at=undoing.at)


def _undo_note(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    changed = Parcel.objects.filter(id=change.subject_id or 0, note=was["now"]).update(
        note=was["was"]
    )
    refuse(None if changed else too_late("the note was changed since."))


def _undo_packing(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    for id_, box in was["boxes"]:
        back = Parcel.objects.filter(id=id_, state=Parcel.State.PACKED).update(
            state=Parcel.State.PICKED, box=box
        )
        refuse(None if back else too_late("a parcel was posted since."))


def _undo_posting(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    back = Parcel.objects.filter(id__in=was["parcels"], state=Parcel.State.POSTED).update(
        state=Parcel.State.PACKED, posted_date=None
    )
    refuse(None if back == len(was["parcels"]) else too_late("a parcel was changed since."))
    wares.put_back(change=change, undoing=undoing, at=undoing.at)


def _undo_arriving(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    back = Parcel.objects.filter(id__in=was["parcels"], state=Parcel.State.ARRIVED).update(
        state=Parcel.State.POSTED, arrived_date=None
    )
    refuse(None if back == len(was["parcels"]) else too_late("a parcel was changed since."))


_UNDOING = {
    "arrive": _undo_arriving,
    "break": breakage.mend,
    "customs_words": post.words_back,
    "lock": addresses.unlock,
    "post_settings": post.settings_back,
    "replace": breakage.take_replacement_back,
    "set_box": post.box_back,
    "set_declared": post.declared_back,
    "set_parcel": post.parcel_back,
    "take_address": addresses.give_address_back,
    "add_supporter": _undo_adding,
    "change_supporter": _undo_changing,
    "mark_paid": _undo_paying,
    "set_payments": _undo_payments,
    "set_pauses": _undo_pauses,
    "set_tier": _undo_tier,
    "set_turn_rule": _undo_turn_rule,
    "import_supporters": _undo_import,
    "set_shipment": _undo_shipment,
    "set_want": _undo_want,
    "set_aside": _undo_setting_aside,
    "pick": _undo_pick,
    "choose_piece": _undo_choosing,
    "skip": _undo_skip,
    "set_note": _undo_note,
    "pack": _undo_packing,
    "post": _undo_posting,
}
