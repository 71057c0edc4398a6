"""Take a whole file of supporters in: all of it, or nothing.

What a row asks for is worked out first, outside any transaction, because the address rules of a
large file take seconds and nobody else could save meanwhile. The transaction then asks whether all
still stands as it was read, and writes; when somebody changed a supporter between, it works it out
anew.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils import timezone

from studio.parcels import rules
from studio.parcels.models import Payment, Supporter, Tier
from studio.parcels.roll import BadRoll, RollRow
from studio.parcels.services.people import check_supporter, kept_fields
from studio.parcels.services.record import AGAIN, FIELDS, write_down
from studio.wares.models import Form
from studio.web.models import Change
from studio.web.refusal import Refusal

NOT_FIELDS = ("tier", "please_no", "paid_months", "number")
MANY = 500  # rows a statement
Wishes = Supporter.please_no.through


@dataclass(frozen=True, kw_only=True, slots=True)
class Imported:
    """What an import did. ``change`` is None when the file held nothing new."""

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
class Standing:
    """All that an import looks at, as it was read; equal when nothing changed since."""

    fields: Mapping[int, Mapping[str, Any]]
    wishes: Mapping[int, frozenset[int]]
    months: Mapping[int, frozenset[int]]
    tiers: Mapping[str, int]
    forms: Mapping[str, int]


@dataclass(frozen=True, kw_only=True, slots=True)
class Prepared:
    """What a file asks for, worked out against ``standing``."""

    standing: Standing
    added: list[Supporter] = field(default_factory=list)
    changed: list[Supporter] = field(default_factory=list)
    changes: list[dict[str, Any]] = field(default_factory=list)
    wishes: list[tuple[Supporter, frozenset[int]]] = field(default_factory=list)
    months: list[tuple[Supporter, int]] = field(default_factory=list)


def prepare_import(*, rows: Sequence[RollRow], at: datetime) -> Prepared:
    """Work out what the rows ask for, against what stands now. Saves nothing.

    A person is known again by number, else by e-mail. Raises: BadRoll naming every row that
    cannot be taken.
    """
    people = list(Supporter.objects.order_by("id"))
    ready = Prepared(standing=_standing(people))
    by_number = {person.number: person for person in people}
    by_email = {person.email.casefold(): person for person in people if person.email}
    next_number = max([*by_number, *(row.values.get("number") or 0 for row in rows)], default=0)
    causes = []
    for row in rows:
        try:
            person = _known(row, by_number, by_email)
            if person is None:
                number = row.values.get("number")
                next_number += 0 if number else 1
                joined = rules.month_of(timezone.localdate(at))
                person = Supporter(number=number or next_number, joined_month=joined)
            by_email.pop(person.email.casefold(), None)
            _ask(row, person, ready, at)
            by_email[person.email.casefold()] = person
        except Refusal as refusal:
            causes.append(f"Row {row.row}: {refusal}")
    if causes:
        raise BadRoll(*causes)
    return ready


@transaction.atomic
def import_supporters(
    *, rows: Sequence[RollRow], ready: Prepared | None = None, by: User, at: datetime
) -> Imported:
    """Take the rows in, as ``prepare_import`` worked them out before if that still stands.

    Paid months are added to those there, never taken away. The same file a second time changes
    nothing and records nothing. Raises: BadRoll or Refusal; then nothing is saved.
    """
    held = list(Supporter.objects.select_for_update().order_by("id"))
    if ready is None or ready.standing != _standing(held):
        ready = prepare_import(rows=rows, at=at)
    try:
        with transaction.atomic():
            months = _write(ready)
    except IntegrityError:
        raise Refusal(f"Somebody saved supporters at this moment. {AGAIN}") from None
    added = {person.id for person in ready.added}
    touched = {person.id for person in ready.changed} | {row[0] for row in months}
    touched |= {entry["id"] for entry in ready.changes}
    touched -= added
    same = len(rows) - len(added) - len(touched)
    change = None
    if added or touched:
        change = write_down(
            action="import_supporters",
            said=f"Imported supporters: {len(added)} new, {len(touched)} changed,"
            f" {same} as they were",
            by=by,
            at=at,
            undo={"added": sorted(added), "changes": ready.changes, "paid": months},
        )
    return Imported(change=change, added=len(added), changed=len(touched), same=same)


def _standing(people: Sequence[Supporter]) -> Standing:
    wishes, months = defaultdict(set), defaultdict(set)
    for supporter_id, form_id in Wishes.objects.values_list("supporter_id", "form_id"):
        wishes[supporter_id].add(form_id)
    for supporter_id, month in Payment.objects.values_list("supporter_id", "month"):
        months[supporter_id].add(month)
    return Standing(
        fields={person.id: {"number": person.number, **kept_fields(person)} for person in people},
        wishes={id_: frozenset(ids) for id_, ids in wishes.items()},
        months={id_: frozenset(paid) for id_, paid in months.items()},
        tiers=dict(Tier.objects.values_list("name", "id")),
        forms=dict(Form.objects.values_list("name", "id")),
    )


def _known(
    row: RollRow, by_number: Mapping[int, Supporter], by_email: Mapping[str, Supporter]
) -> Supporter | None:
    """The supporter a row means. Raises Refusal when number and e-mail mean two people."""
    number, email = row.values.get("number"), row.values.get("email", "")
    one = by_number.get(number) if number else None
    other = by_email.get(email.casefold()) if email else None
    if one is not None and other is not None and one is not other:
        raise Refusal(
            f"number {number} is {one.name}, but the e-mail {email} is"
            f" supporter {other.number}'s. Correct one of the two."
        )
    if number and one is None and other is not None:
        raise Refusal(
            f"the e-mail {email} is supporter {other.number}'s, not number {number}'s."
            " Correct the number, or leave it empty."
        )
    return one or other


def _ask(row: RollRow, person: Supporter, ready: Prepared, at: datetime) -> None:
    """Set on the person what the row says, and note what is to be written. Raises Refusal."""
    standing = ready.standing
    is_new = person.id is None
    values = {name: value for name, value in row.values.items() if name not in NOT_FIELDS}
    values["tier_id"] = standing.tiers[row.values["tier"]]
    was = kept_fields(person)
    if is_new or any(getattr(person, name) != value for name, value in values.items()):
        check_supporter(supporter=person, values=values, at=at)
    now = kept_fields(person)
    differs = [name for name in FIELDS if was[name] != now[name]]
    entry: dict[str, Any] = {
        "was": {name: was[name] for name in differs},
        "now": {name: now[name] for name in differs},
    }
    had = standing.wishes.get(person.id, frozenset()) if not is_new else frozenset()
    names = row.values.get("please_no")
    wishes = had if names is None else frozenset(standing.forms[name] for name in names)
    if wishes != had:
        ready.wishes.append((person, wishes))
        entry["was"]["please_no"], entry["now"]["please_no"] = sorted(had), sorted(wishes)
    if is_new:
        ready.added.append(person)
    elif entry["now"]:
        ready.changes.append({"id": person.id, **entry})
        if differs:
            ready.changed.append(person)
    paid = set(row.values.get("paid_months", ()))
    if any(month < person.joined_month for month in paid):
        raise Refusal("paid_months: a paid month lies before joined_month. Correct one of the two.")
    have = standing.months.get(person.id, frozenset()) if not is_new else frozenset()
    ready.months.extend((person, month) for month in sorted(paid - have))


def _write(ready: Prepared) -> list[list[int]]:
    """Write what was asked for; the months paid, as a change keeps them."""
    # Who is changed goes first, so that an e-mail they gave up is free for somebody new.
    Supporter.objects.bulk_create(
        ready.changed,
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=list(FIELDS),
        batch_size=MANY,
    )
    Supporter.objects.bulk_create(ready.added, batch_size=MANY)
    wishing = [person.id for person, _ in ready.wishes]
    for start in range(0, len(wishing), MANY):
        Wishes.objects.filter(supporter__in=wishing[start : start + MANY]).delete()
    Wishes.objects.bulk_create(
        [
            Wishes(supporter_id=person.id, form_id=form_id)
            for person, wishes in ready.wishes
            for form_id in sorted(wishes)
        ],
        batch_size=MANY,
    )
    Payment.objects.bulk_create(
        [Payment(supporter_id=person.id, month=month) for person, month in ready.months],
        batch_size=MANY,
    )
    return [[person.id, month] for person, month in ready.months]
