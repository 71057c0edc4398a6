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

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.db.models import Max, Q
from django.db.models.functions import Lower
from django.utils import timezone

from studio.parcels import rules
from studio.parcels.models import FormerTier, Pause, Payment, Supporter, Tier
from studio.parcels.roll import BadRoll, RollRow
from studio.parcels.services.people import check_supporter, kept_fields
from studio.parcels.services.record import AGAIN, FIELDS, write_down
from studio.wares.models import Form, Glaze
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse

STEP = 2_000
"""So many rows are one step."""
MANY = 500  # rows a statement
OWN = frozenset({"tier", "please_no", "no_glazes", "pauses", "number"})
"""What a row holds that is no plain field, beside the months."""
Forms = Supporter.please_no.through
Glazes = Supporter.no_glazes.through


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
class Standing:
    """All that a step looks at, as it was read; equal when nothing changed since."""

    fields: Mapping[int, Mapping[str, Any]]
    please_no: Mapping[int, frozenset[int]]
    no_glazes: Mapping[int, frozenset[int]]
    payments: Mapping[int, Mapping[int, str]]
    pauses: Mapping[int, tuple[rules.Span, ...]]
    former: Mapping[int, tuple[tuple[int, int], ...]]
    names: Mapping[str, Mapping[str, int]]
    top_number: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """What one row asks for: ``was`` and ``now`` of all that differs; nothing when it is the same.

    ``payments`` are (month, state now, state before or '').
    """

    row: int
    person: Supporter
    is_new: bool
    was: dict[str, Any]
    now: dict[str, Any]
    payments: tuple[tuple[int, str, str], ...]

    @property
    def is_same(self) -> bool:
        return not (self.is_new or self.now or self.payments)


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
    people = list(_people_of(rows))
    ready = Prepared(standing=_standing(people))
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
            person = _known(row, by_number, by_email)
            if person is None:
                number = row.values.get("number") or next_number + 1
                joined = rules.month_of(timezone.localdate(at))
                person = Supporter(number=number, joined_month=joined)
            by_email.pop(person.email.casefold(), None)
            ready.asked.append(_ask(row, person, ready.standing, at))
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
    held = list(_people_of(rows).select_for_update(of=("self",)))
    if ready is None or ready.standing != _standing(held):
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


def _people_of(rows: Sequence[RollRow]) -> Any:
    """The supporters that rows may mean, by id."""
    numbers = [row.values["number"] for row in rows if row.values.get("number")]
    emails = [row.values["email"].lower() for row in rows if row.values.get("email")]
    people = Supporter.objects.annotate(low_email=Lower("email"))
    return people.filter(Q(number__in=numbers) | Q(low_email__in=emails)).order_by("id")


def _standing(people: Sequence[Supporter]) -> Standing:
    ids = [person.id for person in people]
    forms, glazes = defaultdict(set), defaultdict(set)
    for supporter_id, id_ in Forms.objects.filter(supporter__in=ids).values_list(
        "supporter_id", "form_id"
    ):
        forms[supporter_id].add(id_)
    for supporter_id, id_ in Glazes.objects.filter(supporter__in=ids).values_list(
        "supporter_id", "glaze_id"
    ):
        glazes[supporter_id].add(id_)
    payments: dict[int, dict[int, str]] = defaultdict(dict)
    for row in Payment.objects.filter(supporter__in=ids):
        payments[row.supporter_id][row.month] = row.state
    pauses: dict[int, list[rules.Span]] = defaultdict(list)
    for pause in Pause.objects.filter(supporter__in=ids).order_by("from_month"):
        pauses[pause.supporter_id].append((pause.from_month, pause.to_month))
    former: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for old in FormerTier.objects.filter(supporter__in=ids).order_by("to_month"):
        former[old.supporter_id].append((old.to_month, old.tier_id))
    return Standing(
        fields={person.id: {"number": person.number, **kept_fields(person)} for person in people},
        please_no={id_: frozenset(found) for id_, found in forms.items()},
        no_glazes={id_: frozenset(found) for id_, found in glazes.items()},
        payments=dict(payments),
        pauses={id_: tuple(spans) for id_, spans in pauses.items()},
        former={id_: tuple(rows) for id_, rows in former.items()},
        names={
            "tier": dict(Tier.objects.values_list("name", "id")),
            "please_no": dict(Form.objects.values_list("name", "id")),
            "no_glazes": dict(Glaze.objects.values_list("name", "id")),
        },
        top_number=Supporter.objects.aggregate(top=Max("number"))["top"] or 0,
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


def _ask(row: RollRow, person: Supporter, standing: Standing, at: datetime) -> Asked:
    """Set on the person what the row says; what differs from before. Raises Refusal."""
    is_new = person.id is None
    was_tier = person.tier_id
    values = {
        name: value
        for name, value in row.values.items()
        if name not in OWN and not name.endswith("_months")
    }
    values["tier_id"] = standing.names["tier"][row.values["tier"]]
    before = kept_fields(person)
    plain = {name: getattr(person, name) for name in FIELDS}
    if is_new or any(getattr(person, name) != value for name, value in values.items()):
        try:
            check_supporter(supporter=person, values=values, at=at)
        except Refusal:
            for name, value in plain.items():
                setattr(person, name, value)
            raise
    after = kept_fields(person)
    was = {name: before[name] for name in FIELDS if before[name] != after[name]}
    now = {name: after[name] for name in was}
    for name in ("please_no", "no_glazes"):
        had = getattr(standing, name).get(person.id, frozenset())
        names = row.values.get(name)
        wishes = had if names is None else {standing.names[name][one] for one in names}
        if wishes != had:
            was[name], now[name] = sorted(had), sorted(wishes)
    this_month = rules.month_of(timezone.localdate(at))
    spans = standing.pauses.get(person.id, ())
    asked = _pauses(row.values.get("pauses"), spans, max(this_month, person.joined_month))
    refuse(rules.can_pause(name=person.name, spans=asked, joined_month=person.joined_month))
    if asked != spans:
        was["pauses"] = [list(span) for span in spans]
        now["pauses"] = [list(span) for span in asked]
    former = standing.former.get(person.id, ())
    ended = {month for month, _ in former}
    moved = not is_new and was_tier != person.tier_id and person.joined_month < this_month
    if moved and this_month - 1 not in ended:
        was["former_tiers"] = [list(old) for old in former]
        now["former_tiers"] = [*was["former_tiers"], [this_month - 1, was_tier]]
    return Asked(
        row=row.row,
        person=person,
        is_new=is_new,
        was=was,
        now=now,
        payments=_payments(row, person, standing.payments.get(person.id, {})),
    )


def _pauses(
    said: bool | tuple[rules.Span, ...] | None, spans: tuple[rules.Span, ...], month: int
) -> tuple[rules.Span, ...]:
    """The pauses after a row: all of them, or one from this month on, or none in this month."""
    if isinstance(said, tuple):
        return said
    if said is None or said == rules.covered(spans, month):
        return spans
    if said:
        return (*(span for span in spans if span[0] < month), (month, None))
    return tuple(
        (first, month - 1) if rules.covered([(first, last)], month) else (first, last)
        for first, last in spans
        if first != month
    )


def _payments(
    row: RollRow, person: Supporter, have: Mapping[int, str]
) -> tuple[tuple[int, str, str], ...]:
    """The months that a row adds or tells anew. Raises Refusal for one before joining.

    A month that was marked refunded or failed here is paid again only when the file says of
    refunded and failed months too; an older list of paid months takes nothing back.
    """
    asked: dict[int, str] = {}
    for state in ("paid", "refunded", "failed"):
        for month in row.values.get(f"{state}_months", ()):
            asked[month] = state
    if any(month < person.joined_month for month in asked):
        raise Refusal("paid_months: a paid month lies before joined_month. Correct one of the two.")
    return tuple(
        (month, state, have.get(month, ""))
        for month, state in sorted(asked.items())
        if have.get(month, "") != state
        and (state != "paid" or month not in have or f"{have[month]}_months" in row.values)
    )


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
