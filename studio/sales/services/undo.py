"""Undo a change of this room, while nothing later stands on it."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils.dateparse import parse_datetime

from studio.sales.models import Listing, SaleDay, Want
from studio.sales.services.record import FIELDS, TIMES, name_taken, plain, write_down
from studio.wares import services as wares
from studio.wares.models import Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse

PROMISE = ("piece_id", "kind", "note", "by_id", "at")


@transaction.atomic
def undo(*, change: Change, by: User, at: datetime) -> Change:
    """Put back what a change of this room did, as a change of its own. Raises Refusal."""
    refuse("This cannot be undone." if change.undo is None else None)
    if Change.objects.filter(undoes=change).exists():
        raise Refusal("This was undone already.")
    day = SaleDay.objects.select_for_update().filter(id=change.subject_id or 0).first()
    refuse("This can no longer be undone: its sale day is gone." if day is None else None)
    assert day is not None
    undoing = write_down(
        action="undo", said=f"Undid: {change.said}", by=by, at=at, sale_day=day, undo=None
    )
    undoing.undoes = change
    try:
        with transaction.atomic():
            undoing.save(update_fields=["undoes"])
    except IntegrityError:
        raise Refusal("This was undone already, at this moment.") from None
    wares.lock_pieces(_touched(change))
    _UNDOING[change.action](day, change, undoing, at)
    return undoing


def _undo_making(day: SaleDay, change: Change, undoing: Change, at: datetime) -> None:
    held = "listings" if day.listings.exists() else "wants" if day.wants.exists() else ""
    refuse(f"This can no longer be undone: {day.name} has {held}." if held else None)
    day.delete()


def _undo_changing(day: SaleDay, change: Change, undoing: Change, at: datetime) -> None:
    kept = change.undo or {}
    same = all(plain(getattr(day, field)) == kept["now"][field] for field in FIELDS)
    refuse(None if same else f"This can no longer be undone: {day.name} was changed since.")
    refuse(name_taken(kept["was"]["name"], but=day.id))
    for field, value in kept["was"].items():
        setattr(day, field, parse_datetime(value) if field in TIMES and value else value)
    day.save(update_fields=list(FIELDS))


def _undo_want(day: SaleDay, change: Change, undoing: Change, at: datetime) -> None:
    kept = change.undo or {}
    wants = Want.objects.filter(sale_day=day, line_id=kept["line_id"])
    here = wants.values_list("count", flat=True).first()
    refuse(None if here == kept["now"] else "This can no longer be undone: it was changed since.")
    if kept["was"] is None:
        wants.delete()
    else:
        Want.objects.update_or_create(
            sale_day=day, line_id=kept["line_id"], defaults={"count": kept["was"]}
        )


def _undo_listing(day: SaleDay, change: Change, undoing: Change, at: datetime) -> None:
    wares.put_back(change=change, undoing=undoing, at=at)
    Listing.objects.filter(sale_day=day, piece_id__in=_moved(change)).delete()


def _undo_taking_back(day: SaleDay, change: Change, undoing: Change, at: datetime) -> None:
    wares.put_back(change=change, undoing=undoing, at=at)
    Listing.objects.bulk_create(
        Listing(sale_day=day, **{**kept, "listed_at": parse_datetime(kept["listed_at"])})
        for kept in (change.undo or {})["listings"]
    )


def _undo_selling(day: SaleDay, change: Change, undoing: Change, at: datetime) -> None:
    wares.put_back(change=change, undoing=undoing, at=at)


def _undo_claim(day: SaleDay, change: Change, undoing: Change, at: datetime) -> None:
    ids = (change.undo or {})["reservations"]
    gone, _ = Reservation.objects.filter(id__in=ids).delete()
    refuse(
        None
        if gone == len(ids)
        else "This can no longer be undone: a claim was fulfilled or released since."
    )


def _undo_release(day: SaleDay, change: Change, undoing: Change, at: datetime) -> None:
    for kept in (change.undo or {})["claims"]:
        piece = Piece.objects.filter(id=kept["piece_id"], stage="listed", parting="").first()
        if piece is None or Reservation.objects.filter(piece=piece).exists():
            raise Refusal("This can no longer be undone: a piece is not listed and free now.")
        Reservation.objects.create(**{name: kept[name] for name in PROMISE})


_UNDOING = {
    "make_sale_day": _undo_making,
    "change_sale_day": _undo_changing,
    "set_want": _undo_want,
    "list": _undo_listing,
    "take_back": _undo_taking_back,
    "sell": _undo_selling,
    "claim": _undo_claim,
    "release": _undo_release,
}


def _moved(change: Change) -> list[int]:
    return [entry["id"] for entry in (change.undo or {}).get("pieces", [])]


def _touched(change: Change) -> list[int]:
    """Every piece a change moved, claimed or released."""
    kept = change.undo or {}
    claimed = Reservation.objects.filter(id__in=kept.get("reservations", []))
    released = [claim["piece_id"] for claim in kept.get("claims", [])]
    return [*_moved(change), *released, *claimed.values_list("piece_id", flat=True)]
