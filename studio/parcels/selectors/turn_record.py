"""What were payments, pauses and tiers, and who had a share in each past month?

How months with parcels count: a supporter has a share in one when they paid that very month and
had enough paid months by then, or were sent a parcel, or were skipped. As long as nobody is marked
paid for a month, everybody who is active and has enough paid months counts in it. Only a paid month
counts: a refunded or failed one does not. A month without parcels gives nobody a share, because
shares always sum to the parcels sent. A pause stops the clock and what was due stays. A month
weighs by the tier of that month.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet

from studio.craft.turns import Month
from studio.parcels import rules
from studio.parcels.models import FormerTier, Parcel, Pause, Payment, Skip, Supporter, TurnRule


class Told:
    """All that the record was told of payments, pauses and tiers, read once."""

    def __init__(self) -> None:
        self.paid: dict[int, set[int]] = defaultdict(set)
        rows = Payment.objects.filter(state=Payment.State.PAID)
        for supporter_id, month in rows.values_list("supporter_id", "month"):
            self.paid[supporter_id].add(month)
        self.marked: set[int] = set().union(*self.paid.values()) if self.paid else set()
        self.spans: dict[int, list[rules.Span]] = defaultdict(list)
        for pause in Pause.objects.order_by("from_month"):
            self.spans[pause.supporter_id].append((pause.from_month, pause.to_month))
        self.former: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for row in FormerTier.objects.select_related("tier").order_by("to_month"):
            self.former[row.supporter_id].append((row.to_month, row.tier.weight))

    def paid_by(self, person: Supporter, month: int) -> int:
        """How many months somebody had paid by then."""
        return sum(paid <= month for paid in self.paid[person.id])

    def weight(self, person: Supporter, month: int, rule: TurnRule) -> int:
        """What somebody's tier of that month weighs; 1 when tiers do not weigh."""
        if rule.equal_turns:
            return 1
        former = (weight for to_month, weight in self.former[person.id] if month <= to_month)
        return next(former, person.tier.weight)

    def shares(self, person: Supporter, month: int, rule: TurnRule) -> bool:
        """Had somebody a share in a past month, as far as payments and pauses say?"""
        gone = person.left_month is not None and person.left_month < month
        if gone or rules.covered(self.spans[person.id], month):
            return False
        if self.paid_by(person, month) < rule.months_needed:
            return False
        if month in self.marked:
            return month in self.paid[person.id]
        return person.joined_month <= month


def record(
    *, before: int, people: list[Supporter], told: Told, rule: TurnRule
) -> list[tuple[int, Month]]:
    """The months with parcels before this one, with their numbers, as the ledger reads them."""
    sent = _by_month(Parcel.objects.turns().filter(shipment__month__lt=before))
    skipped = _by_month(Skip.objects.filter(shipment__month__lt=before))
    months = []
    for month in sorted(sent):
        there = [
            person
            for person in people
            if person.id in sent[month]
            or person.id in skipped[month]
            or told.shares(person, month, rule)
        ]
        weights = tuple((turn_key(one), told.weight(one, month, rule)) for one in there)
        to_whom = tuple(turn_key(one) for one in there if one.id in sent[month])
        months.append((month, Month(weights=weights, sent=to_whom)))
    return months


def _by_month(rows: QuerySet[Any]) -> dict[int, set[int]]:
    found: dict[int, set[int]] = defaultdict(set)
    for month, supporter_id in rows.values_list("shipment__month", "supporter_id"):
        found[month].add(supporter_id)
    return found


def turn_key(supporter: Supporter) -> str:
    """The key of the turns: the supporter's number, by which the draw knows them."""
    return f"{supporter.number:010d}"


def last_months(past: Iterable[tuple[int, Month]]) -> dict[str, int]:
    """The month of everybody's last parcel in turn, by the key of the turns."""
    return {key: number for number, month in past for key in month.sent}
