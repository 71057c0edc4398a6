"""Take a file of supporters in, in steps of some thousand rows.

Laws:

1. What a step asks for is worked out first, outside any transaction, because the address rules of
   many rows take seconds and nobody else could save meanwhile. The transaction then asks whether
   all still stands as it was read, and writes; when somebody changed a supporter between, it works
   it out anew.
2. A step is taken in whole or not at all. A file of up to ``STEP`` rows is one step; a longer one
   is several changes, and when one fails those before it stand: send the file again.
3. The same file a second time changes nothing and records nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.parcels.models import FormerTier, Pause, Payment, Supporter
from studio.parcels.roll import BadRoll, RollRow
from studio.parcels.services.record import AGAIN, FIELDS, write_down
from studio.parcels.services.roll_rows import (
    Asked,
    Forms,
    Glazes,
    Standing,
    ask,
    first_month,
    known_person,
    people_of,
    standing_of,
)
from studio.web.models import Change
from studio.web.refusal import Refusal

STEP = 2_000
"""So many rows are one step."""
MANY = 500  # rows a statement


@dataclass(frozen=True, kw_only=True, slots=True)
class Imported:
    """What a step did. ``change`` is None when it held nothing new."""

    change: Change | None
    added: int
    changed: int
    same: int

    @property
    def said(self) -> str:
        """The outcome in a sentence."""
        if self.change is not None:
            return self.change.said
        return f"Nothing to change: all {self.same} supporters are as the file has them."


@dataclass(frozen=True, kw_only=True, slots=True)
class Prepared:
    """What a step asks for, worked out against ``standing``, and which rows cannot be taken."""

    standing: Standing
    asked: list[Asked] = field(default_factory=list)
    refused: list[tuple[int, str]] = field(default_factory=list)


def steps(rows: Iterable[RollRow]) -> Iterator[list[RollRow]]:
    """The rows of a file in steps."""
    rest = iter(rows)
    while step := list(islice(rest, STEP)):
        yield step


def prepare_import(*, rows: Sequence[RollRow], at: datetime) -> Prepared:
    """Work out what the rows of a step ask for, against what stands now. Saves nothing.

    A person is known again by number, else by e-mail.
    """
    people = list(people_of(rows))
    ready = Prepared(standing=standing_of(people))
    by_number = {person.number: person for person in people}
    by_email = {person.email.casefold(): person for person in people if person.email}
    next_number = max(
        [ready.standing.top_number, *(row.values.get("number") or 0 for row in rows)], default=0
    )
    for row in rows:
        if row.causes:
            ready.refused.extend((row.row, cause) for cause in row.causes)
            continue
        person = None
        try:
            person = known_person(row, by_number, by_email)
            if person is None:
                number = row.values.get("number") or next_number + 1
                person = Supporter(number=number, joined_month=first_month(row, at))
            by_email.pop(person.email.casefold(), None)
            ready.asked.append(ask(row, person, ready.standing, at))
            next_number = max(next_number, person.number)
        except Refusal as refusal:
            ready.refused.append((row.row, f"Row {row.row}: {refusal}"))
        if person is not None and person.email:
            by_email[person.email.casefold()] = person
    return ready


@transaction.atomic
def import_supporters(
    *, rows: Sequence[RollRow], ready: Prepared | None = None, by: User, at: datetime
) -> Imported:
    """Take the rows of a step in, as ``prepare_import`` worked them out if that still stands.

    Months are added to those there, never taken away. Raises: BadRoll naming every row that cannot
    be taken, or Refusal; then nothing is saved.
    """
    held = list(people_of(rows).select_for_update(of=("self",)))
    if ready is None or ready.standing != standing_of(held):
        ready = prepare_import(rows=rows, at=at)
    if ready.refused:
        raise BadRoll(*(cause for _, cause in ready.refused))
    try:
        with transaction.atomic():
            _write(ready)
    except IntegrityError:
        raise Refusal(f"Somebody saved supporters at this moment. {AGAIN}") from None
    added = [one.person.id for one in ready.asked if one.is_new]
    changed = sum(not one.is_new and not one.is_same for one in ready.asked)
    same = len(rows) - len(added) - changed
    change = None
    if added or changed:
        change = write_down(
            action="import_supporters",
            said=f"Imported supporters: {len(added)} new, {changed} changed, {same} as they were",
            by=by,
            at=at,
            undo={
                "added": sorted(added),
                "changes": [
                    {"id": one.person.id, "was": one.was, "now": one.now}
                    for one in ready.asked
                    if one.now and not one.is_new
                ],
                "paid": [[one.person.id, *month] for one in ready.asked for month in one.payments],
            },
        )
    return Imported(change=change, added=len(added), changed=changed, same=same)


def import_step(
    *, rows: Sequence[RollRow], chosen: Collection[int] | None, by: User, at: datetime
) -> Imported:
    """Take in what can be taken of a step: ``chosen`` row numbers, or all (None). Raises Refusal.

    Rows that cannot be taken are left out; ``prepare_import`` has said why.
    """
    asked = [row for row in rows if chosen is None or row.row in chosen]
    ready = prepare_import(rows=asked, at=at)
    if ready.refused:
        refused = {number for number, _ in ready.refused}
        asked = [row for row in asked if row.row not in refused]
        ready = prepare_import(rows=asked, at=at)
    try:
        return import_supporters(rows=asked, ready=ready, by=by, at=at)
    except BadRoll:
        raise Refusal(f"Somebody changed supporters at this moment. {AGAIN}") from None


def _write(ready: Prepared) -> None:
    """Write what was asked for."""
    # Who is changed goes first, so that an e-mail they gave up is free for somebody new.
    Supporter.objects.bulk_create(
        [one.person for one in ready.asked if one.now and not one.is_new],
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=list(FIELDS),
        batch_size=MANY,
    )
    Supporter.objects.bulk_create(
        [one.person for one in ready.asked if one.is_new], batch_size=MANY
    )
    wishes: tuple[tuple[str, Any, str], ...] = (
        ("please_no", Forms, "form_id"),
        ("no_glazes", Glazes, "glaze_id"),
    )
    for name, rows, key in wishes:
        wishing = [one for one in ready.asked if name in one.now]
        _clear(rows, [one.person.id for one in wishing if not one.is_new])
        rows.objects.bulk_create(
            [
                rows(supporter_id=one.person.id, **{key: id_})
                for one in wishing
                for id_ in one.now[name]
            ],
            batch_size=MANY,
        )
    pausing = [one for one in ready.asked if "pauses" in one.now]
    _clear(Pause, [one.person.id for one in pausing if not one.is_new])
    Pause.objects.bulk_create(
        [
            Pause(supporter_id=one.person.id, from_month=first, to_month=last)
            for one in pausing
            for first, last in one.now["pauses"]
        ],
        batch_size=MANY,
    )
    FormerTier.objects.bulk_create(
        [
            FormerTier(supporter_id=one.person.id, to_month=month, tier_id=tier_id)
            for one in ready.asked
            for month, tier_id in one.now.get("former_tiers", [])[-1:]
        ],
        batch_size=MANY,
    )
    Payment.objects.bulk_create(
        [
            Payment(supporter_id=one.person.id, month=month, state=state)
            for one in ready.asked
            for month, state, _ in one.payments
        ],
        update_conflicts=True,
        unique_fields=["supporter", "month"],
        update_fields=["state"],
        batch_size=MANY,
    )


def _clear(model: Any, ids: Sequence[int]) -> None:
    for start in range(0, len(ids), MANY):
        model.objects.filter(supporter__in=ids[start : start + MANY]).delete()
