"""Whose turn is it, and what does the ledger say of everybody?

How months with parcels count: a supporter has a share in one when they paid that very month and
had enough paid months by then, or were sent a parcel, or were skipped. As long as nobody is marked
paid for a month, everybody who is active and has enough paid months counts in it. A month without
parcels gives nobody a share, because shares always sum to the parcels sent. A pause stops the
clock (a paused month is not paid) and what was due stays.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from django.db.models import QuerySet

from studio.craft.turns import Choice, Month, Turner, ledger, months_until_turn, next_turns
from studio.parcels import rules
from studio.parcels.models import Parcel, Payment, Shipment, Skip, Supporter, TurnRule

LOOK_AHEAD_MONTHS = 36
"""How far the ledger looks for everybody's next turn."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LedgerLine:
    """One supporter in the ledger. ``due`` above 0 is owed [parcels], below 0 is ahead."""

    supporter: Supporter
    months_paid: int
    share: Fraction
    sent: int
    last_month: int | None
    eligible: bool
    why_not: str
    next_in: int | None
    skips: tuple[str, ...]

    @property
    def due(self) -> Fraction:
        return self.share - self.sent

    @property
    def share_shown(self) -> str:
        """The share to two decimals."""
        return f"{float(self.share):.2f}"

    @property
    def due_shown(self) -> str:
        """What is due to two decimals, with its sign."""
        return f"{float(self.due):+.2f}"

    @property
    def last_name(self) -> str:
        """The month of the last parcel, in words."""
        return rules.month_name(self.last_month) if self.last_month is not None else ""

    @property
    def next_words(self) -> str:
        """When the next parcel comes, if nothing changes."""
        if not self.eligible:
            return ""
        if self.next_in is None:
            return f"not within {LOOK_AHEAD_MONTHS} months at this pace"
        if self.next_in == 1:
            return "expected this month"
        return f"expected in about {self.next_in} months"


def turn_rule() -> TurnRule:
    """The one row that says who is eligible; its defaults before anyone has saved it."""
    return TurnRule.objects.filter(id=1).first() or TurnRule(id=1)


def why_not_eligible(*, supporter: Supporter, months_paid: int, needed: int) -> str:
    """Why somebody has no turn yet, in words; '' when they have."""
    if supporter.paused:
        return "paused: what is due stays"
    if months_paid < needed:
        return f"{months_paid} of {needed} paid months"
    return ""


def turners(
    *, month: int, skips: dict[int, str] | None = None, rule: TurnRule | None = None
) -> list[Turner]:
    """Everybody as the turns of a month see them, before that month's parcels.

    ``skips`` holds reasons by supporter id. Keys are supporter numbers, of ten digits. ``rule`` is
    the turn rule, read when it is left out.
    """
    rule = rule or turn_rule()
    people = list(Supporter.objects.select_related("tier").order_by("number"))
    paid = _paid_months()
    record = _record(before=month, people=people, paid=paid, rule=rule)
    rows = {row.key: row for row in ledger(months=record)}
    last = _last_months(before=month)
    found = []
    for person in people:
        key = _key(person)
        months = sum(1 for paid_month in paid[person.id] if paid_month <= month)
        why = why_not_eligible(supporter=person, months_paid=months, needed=rule.months_needed)
        found.append(
            Turner(
                key=key,
                weight=_weight(person, rule),
                months_paid=months,
                joined_index=person.joined_month,
                eligible=not why,
                sent=rows[key].sent if key in rows else 0,
                share=rows[key].share if key in rows else Fraction(0),
                last_sent_index=last.get(person.id),
                skip=(skips or {}).get(person.id, ""),
            )
        )
    return found


def due_turns(
    *, shipment: Shipment, count: int, skips: dict[int, str]
) -> list[tuple[Supporter, str]]:
    """The next turns of a month, in order: who, and a sentence why."""
    now = {turner.key: turner for turner in turners(month=shipment.month, skips=skips)}
    choices = next_turns(turners=list(now.values()), count=count, month=shipment.month)
    people = Supporter.objects.in_bulk([int(choice.key) for choice in choices], field_name="number")
    return [(people[int(choice.key)], _why(choice, now[choice.key])) for choice in choices]


def _why(choice: Choice, turner: Turner) -> str:
    return rules.why_now(
        ground=choice.ground,
        among=choice.among,
        due=float(choice.due),
        months_paid=turner.months_paid,
        sent=turner.sent,
        last_month=turner.last_sent_index,
        joined_month=turner.joined_index,
    )


def eligible_count(month: int) -> int:
    """How many may have a turn in a month."""
    return sum(turner.eligible for turner in turners(month=month))


def ledger_lines(*, today_date: date, rule: TurnRule | None = None) -> list[LedgerLine]:
    """The ledger as it stands with every parcel picked so far, the most due first."""
    rule = rule or turn_rule()
    this_month = rules.month_of(today_date)
    latest = Parcel.objects.order_by("-shipment__month").values_list("shipment__month", flat=True)
    month = max(this_month, (latest.first() or 0) + 1)
    now = turners(month=month, rule=rule)
    shipment = Shipment.objects.filter(month__gte=this_month).order_by("month").first()
    count = shipment.parcel_count if shipment else 5
    waits = months_until_turn(turners=now, count=count, month=month, at_most=LOOK_AHEAD_MONTHS)
    people = {_key(p): p for p in Supporter.objects.select_related("tier")}
    skips = _skip_words()
    lines = [
        LedgerLine(
            supporter=people[turner.key],
            months_paid=turner.months_paid,
            share=turner.share or Fraction(0),
            sent=turner.sent,
            last_month=turner.last_sent_index,
            eligible=turner.eligible,
            why_not=why_not_eligible(
                supporter=people[turner.key],
                months_paid=turner.months_paid,
                needed=rule.months_needed,
            ),
            next_in=waits.get(turner.key),
            skips=tuple(skips[people[turner.key].id]),
        )
        for turner in now
    ]
    return sorted(lines, key=lambda line: (not line.eligible, -line.due, line.supporter.number))


def _record(
    *, before: int, people: list[Supporter], paid: dict[int, set[int]], rule: TurnRule
) -> list[Month]:
    """The months with parcels before this one, as the ledger reads them."""
    sent = _by_month(Parcel.objects.filter(shipment__month__lt=before))
    skipped = _by_month(Skip.objects.filter(shipment__month__lt=before))
    marked = set().union(*paid.values()) if paid else set()
    months = []
    for month in sorted(sent):

        def counts(person: Supporter, month: int = month) -> bool:
            if person.id in sent[month] or person.id in skipped[month]:
                return True
            enough = sum(one <= month for one in paid[person.id]) >= rule.months_needed
            there = month in paid[person.id] if month in marked else not person.paused
            return enough and there

        months.append(
            Month(
                weights=tuple((_key(one), _weight(one, rule)) for one in people if counts(one)),
                sent=tuple(_key(one) for one in people if one.id in sent[month]),
            )
        )
    return months


def _by_month(rows: QuerySet[Any]) -> dict[int, set[int]]:
    found: dict[int, set[int]] = defaultdict(set)
    for month, supporter_id in rows.values_list("shipment__month", "supporter_id"):
        found[month].add(supporter_id)
    return found


def _key(supporter: Supporter) -> str:
    """The key of the turns: the supporter's number, by which the draw knows them."""
    return f"{supporter.number:010d}"


def _weight(supporter: Supporter, rule: TurnRule) -> int:
    return 1 if rule.equal_turns else supporter.tier.weight


def _paid_months() -> dict[int, set[int]]:
    found: dict[int, set[int]] = defaultdict(set)
    for supporter_id, month in Payment.objects.values_list("supporter_id", "month"):
        found[supporter_id].add(month)
    return found


def _last_months(*, before: int) -> dict[int, int]:
    found: dict[int, int] = {}
    rows = Parcel.objects.filter(shipment__month__lt=before).order_by("shipment__month")
    for supporter_id, month in rows.values_list("supporter_id", "shipment__month"):
        found[supporter_id] = month
    return found


def _skip_words() -> dict[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    for skip in Skip.objects.select_related("shipment").order_by("shipment__month"):
        found[skip.supporter_id].append(f"{rules.month_name(skip.shipment.month)}: {skip.reason}")
    return found
