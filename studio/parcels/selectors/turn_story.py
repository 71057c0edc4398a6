"""Why does one supporter's next turn come when it comes, told without anybody else?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from studio.craft.turns import month_shares
from studio.parcels import rules
from studio.parcels.models import Skip, Supporter
from studio.parcels.selectors.turn_record import Told, record, turn_key
from studio.parcels.selectors.turns import LedgerLine, ledger_lines, turn_rule


@dataclass(frozen=True, kw_only=True, slots=True)
class TurnMonth:
    """A month with parcels in which one supporter had a share, or was sent one.

    ``among`` had a share in the ``parcels`` of the month; ``part`` of them was this one's, and
    ``due`` is what stood after it.
    """

    name: str
    parcels: int
    among: int
    part: Fraction
    sent: bool
    due: Fraction
    note: str


@dataclass(frozen=True, kw_only=True, slots=True)
class TurnStory:
    """All that a supporter may be told of their turn. ``before`` have theirs sooner."""

    line: LedgerLine
    months: tuple[TurnMonth, ...]
    eligible: int
    before: int
    is_equal: bool
    months_needed: int


def turn_story(supporter: Supporter, *, today_date: date) -> TurnStory:
    """What the record says of one supporter, month by month, and where they stand now."""
    rule = turn_rule()
    lines = ledger_lines(today_date=today_date, rule=rule)
    line = next(one for one in lines if one.supporter == supporter)
    waiting = [one for one in lines if one.eligible]
    before = sum(
        one.next_month is not None and (line.next_month is None or one.next_month < line.next_month)
        for one in waiting
    )
    return TurnStory(
        line=line,
        months=_months(supporter),
        eligible=len(waiting),
        before=before,
        is_equal=rule.equal_turns,
        months_needed=rule.months_needed,
    )


def _months(supporter: Supporter) -> tuple[TurnMonth, ...]:
    people = list(Supporter.objects.select_related("tier").order_by("number"))
    months = record(before=rules.LAST_MONTH, people=people, told=Told(), rule=turn_rule())
    reasons = dict(
        Skip.objects.filter(supporter=supporter).values_list("shipment__month", "reason")
    )
    key = turn_key(supporter)
    due = Fraction(0)
    found = []
    for number, month in months:
        parts = month_shares(weights=month.weights, count=len(month.sent))
        if key not in parts:
            continue
        sent = key in month.sent
        due += parts[key] - sent
        found.append(
            TurnMonth(
                name=rules.month_name(number),
                parcels=len(month.sent),
                among=len(parts),
                part=parts[key],
                sent=sent,
                due=due,
                note="" if sent else reasons.get(number, ""),
            )
        )
    return tuple(found)
