"""Forget who a supporter is, and keep what was sent.

Laws:

1. Name, e-mail, address, notes and giver go, from the supporter, from every parcel (with its
   tracking number), every kept look and every change that kept them; such a change can no longer
   be undone. Parcels, turns, paid months and the country stay, so that every sum and every fair
   share stays what it was.
2. A name that stands in a sentence about something else (a claim at a sale) is replaced there, as a
   whole word, unless another supporter bears the same name.
3. What has no way back here: backups and files that were exported before still hold it all.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Model
from django.utils import timezone

from studio.parcels import rules, selectors
from studio.parcels.models import Parcel, Skip, Supporter
from studio.parcels.services.months import put_pauses
from studio.parcels.services.record import ADDRESS, write_down
from studio.wares.models import Move, Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import refuse

ERASED = "a reason that was erased"
NAMING: tuple[tuple[type[Model], str], ...] = (
    (Reservation, "note"),
    (Parcel, "note"),
    (Skip, "reason"),
    (Piece, "parting_cause"),
    (Move, "cause"),
)
"""Where somebody may be named in words about something else."""


@transaction.atomic
def erase(*, supporter: Supporter, by: User, at: datetime) -> Change:
    """Blank all that tells who a supporter is. Cannot be undone.

    Raises Refusal while a parcel of theirs is picked or packed, or when they are erased already.
    """
    held = Supporter.objects.select_for_update().get(id=supporter.id)
    refuse(selectors.cannot_erase(held))
    alias = selectors.erased_name(held)
    names = _names(held)
    parcels = set(held.parcels.values_list("id", flat=True))
    _blank(held, alias, rules.month_of(timezone.localdate(at)))
    held.parcels.update(note="", broken_note="", tracking="", locked_name="", locked_address={})
    held.skips.update(reason=ERASED)
    held.looks.update(name=alias)
    for change in Change.objects.order_by("id").iterator():
        _clean(change, held, names, parcels)
    others = {name.casefold() for name in Supporter.objects.values_list("name", flat=True)}
    unique = _pattern(name for name in names if name.casefold() not in others)
    if unique is not None:
        for change in Change.objects.order_by("id").iterator():
            _replace(change, unique, alias)
        for model, field in NAMING:
            for id_, text in model._default_manager.values_list("id", field):
                if unique.search(text):
                    clean = unique.sub(alias, text)
                    model._default_manager.filter(id=id_).update(**{field: clean})
    return write_down(
        action="erase",
        said=f"Erased who {alias} was",
        by=by,
        at=at,
        subject="supporter",
        subject_id=held.id,
        undo=None,
    )


def _names(held: Supporter) -> list[str]:
    """Every name and e-mail they had here, the longest first."""
    found = {held.name, held.email}
    for change in Change.objects.exclude(undo=None).filter(room="parcels").iterator():
        for entry in _entries(change, held.id):
            for side in ("was", "now"):
                values = entry.get(side)
                if isinstance(values, dict):
                    found |= {values.get("name", ""), values.get("email", "")}
    return sorted((name for name in found if name), key=len, reverse=True)


def _entries(change: Change, supporter_id: int) -> list[dict[str, Any]]:
    """What a change kept of this supporter's fields."""
    kept = change.undo or {}
    if change.subject == "supporter" and change.subject_id == supporter_id:
        return [kept]
    return [entry for entry in kept.get("changes", []) if entry["id"] == supporter_id]


def _blank(held: Supporter, alias: str, this_month: int) -> None:
    held.name = alias
    held.email = held.packing_note = held.gift_from = held.household = ""
    held.is_gift, held.address_confirmed_date = False, None
    for field in ADDRESS:
        if field != "country_code":
            setattr(held, field, "")
    held.save()
    held.please_no.clear()
    held.no_glazes.clear()
    _stop(held, this_month)


def _stop(held: Supporter, this_month: int) -> None:
    """Pause from this month on, so that nobody's turn comes to somebody who is forgotten."""
    start = max(this_month, held.joined_month)
    before = [
        (first, start - 1 if last is None else min(last, start - 1))
        for first, last in selectors.pauses(held)
        if first < start
    ]
    put_pauses(held, [*before, (start, None)])


def _clean(change: Change, held: Supporter, names: list[str], parcels: set[int]) -> None:
    """Blank a change that is about this supporter; leave every other as it is."""
    alias = selectors.erased_name(held)
    named = _pattern(names)
    says = named is not None and named.search(change.said) is not None
    kept = change.undo or {}
    own = change.subject == "supporter" and change.subject_id == held.id
    boxed = change.subject == "parcel" and (change.subject_id in parcels or says)
    skipped = change.room == "parcels" and "Skipped " in change.said and says
    filed = "added" in kept and (
        held.id in kept["added"]
        or any(entry["id"] == held.id for entry in kept["changes"])
        or any(row[0] == held.id for row in kept["paid"])
    )
    if not (own or boxed or skipped or filed):
        return
    said = change.said.replace(f"{held.number}, ", "", 1) if own else change.said
    said = said.partition(": ")[0] if skipped and not said.startswith("Undid: ") else said
    said = ": ".join(said.split(": ")[:2]) if skipped else said
    said = named.sub(alias, said).replace(f"supporter {alias}", alias) if named else said
    Change.objects.filter(id=change.id).update(said=said, undo=None)


def _replace(change: Change, unique: re.Pattern[str], alias: str) -> None:
    """Put the alias for the name in a sentence, and in what is kept, of something else."""
    said, kept = unique.sub(alias, change.said), _replaced(change.undo, unique, alias)
    if said != change.said or kept != change.undo:
        Change.objects.filter(id=change.id).update(said=said[:300], undo=kept)


def _replaced(value: Any, unique: re.Pattern[str], alias: str) -> Any:
    if isinstance(value, str):
        return unique.sub(alias, value)
    if isinstance(value, list):
        return [_replaced(one, unique, alias) for one in value]
    if isinstance(value, dict):
        return {key: _replaced(one, unique, alias) for key, one in value.items()}
    return value


def _pattern(names: Iterable[str]) -> re.Pattern[str] | None:
    words = [re.escape(name) for name in names]
    return re.compile(rf"(?<!\w)(?:{'|'.join(words)})(?!\w)", re.IGNORECASE) if words else None
