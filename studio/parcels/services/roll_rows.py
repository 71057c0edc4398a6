"""What does one row of a file of supporters ask for, against what stands now?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Max, Q
from django.db.models.functions import Lower
from django.utils import timezone

from studio.parcels import rules
from studio.parcels.models import FormerTier, Pause, Payment, Supporter, Tier
from studio.parcels.roll import RollRow
from studio.parcels.services.people import check_supporter, kept_fields
from studio.parcels.services.record import FIELDS
from studio.wares.models import Form, Glaze
from studio.web.refusal import Refusal, refuse

OWN = frozenset({"tier", "please_no", "no_glazes", "pauses", "number"})
"""What a row holds that is no plain field, beside the months."""
Forms = Supporter.please_no.through
Glazes = Supporter.no_glazes.through


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


def people_of(rows: Sequence[RollRow]) -> Any:
    """The supporters that rows may mean, by id."""
    numbers = [row.values["number"] for row in rows if row.values.get("number")]
    emails = [row.values["email"].lower() for row in rows if row.values.get("email")]
    people = Supporter.objects.annotate(low_email=Lower("email"))
    return people.filter(Q(number__in=numbers) | Q(low_email__in=emails)).order_by("id")


def standing_of(people: Sequence[Supporter]) -> Standing:
    """What stands of these people, and the names a row may use."""
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


def first_month(row: RollRow, at: datetime) -> int:
    """When somebody new joined, if the row does not say: the first month it tells of, or now."""
    told = [
        month
        for state in ("paid", "refunded", "failed")
        for month in row.values.get(f"{state}_months", ())
    ]
    return min(told, default=rules.month_of(timezone.localdate(at)))


def known_person(
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


def ask(row: RollRow, person: Supporter, standing: Standing, at: datetime) -> Asked:
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
        raise Refusal(
            "paid months: a paid month lies before the month of joining. Correct one of the two."
        )
    return tuple(
        (month, state, have.get(month, ""))
        for month, state in sorted(asked.items())
        if have.get(month, "") != state
        and (state != "paid" or month not in have or f"{have[month]}_months" in row.values)
    )
