"""Whose turn is it, and what does the ledger say of everybody?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from studio.craft.turns import Choice, Turner, ledger, month_turns, months_until_turn
from studio.parcels import rules
from studio.parcels.models import Parcel, Shipment, Skip, Supporter, TurnRule
from studio.parcels.selectors.turn_record import Told, last_months, record, turn_key

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
    next_month: int | None
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
        if self.next_month is None:
            return f"not within {LOOK_AHEAD_MONTHS} months at this pace"
        return f"about {rules.month_name(self.next_month)}"


def turn_rule() -> TurnRule:
    """The one row that says who is eligible; its defaults before anyone has saved it."""
    return TurnRule.objects.filter(id=1).first() or TurnRule(id=1)


def why_not_eligible(
    *,
    supporter: Supporter,
    month: int,
    spans: Sequence[rules.Span],
    months_paid: int,
    needed: int,
) -> str:
    """Why somebody has no turn in a month, in words; '' when they have."""
    if supporter.left_month is not None and supporter.left_month < month:
        return f"left after {rules.month_name(supporter.left_month)}: what is due stays"
    if month < supporter.joined_month:
        return f"joins in {rules.month_name(supporter.joined_month)}"
    if rules.covered(spans, month):
        return "paused: what is due stays"
    if months_paid < needed:
        return f"{months_paid} of {needed} paid months"
    return ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """One supporter before a month's parcels. ``why_not`` says why they have no turn, or ''."""

    supporter: Supporter
    turner: Turner
    why_not: str


def standings(
    *, month: int, skips: dict[int, str] | None = None, rule: TurnRule | None = None
) -> list[Standing]:
    """Everybody as the turns of a month see them, before that month's parcels, by number.

    ``skips`` holds reasons by supporter id. Keys are supporter numbers, of ten digits. ``rule`` is
    the turn rule, read when it is left out.
    """
    rule = rule or turn_rule()
    people = list(Supporter.objects.select_related("tier").order_by("number"))
    told = Told()
    past = record(before=month, people=people, told=told, rule=rule)
    rows = {row.key: row for row in ledger(months=[one for _, one in past])}
    last = last_months(past)
    found = []
    for person in people:
        key = turn_key(person)
        months = told.paid_by(person, month)
        why_not = why_not_eligible(
            supporter=person,
            month=month,
            spans=told.spans[person.id],
            months_paid=months,
            needed=rule.months_needed,
        )
        turner = Turner(
            key=key,
            weight=told.weight(person, month, rule),
            household=person.household.casefold(),
            months_paid=months,
            joined_index=person.joined_month,
            eligible=not why_not,
            sent=rows[key].sent if key in rows else 0,
            share=rows[key].share if key in rows else Fraction(0),
            last_sent_index=last.get(key),
            skip=(skips or {}).get(person.id, ""),
        )
        found.append(Standing(supporter=person, turner=turner, why_not=why_not))
    return found


def turners(*, month: int, skips: dict[int, str] | None = None) -> list[Turner]:
    """Everybody as ``craft.turns`` takes them, before the parcels of a month."""
    return [standing.turner for standing in standings(month=month, skips=skips)]


@dataclass(frozen=True, kw_only=True, slots=True)
class DueTurns:
    """The next turns of a month in order, with why; and who was passed over for a household."""

    turns: tuple[tuple[Supporter, str], ...]
    passed: tuple[Supporter, ...]


def due_turns(
    *,
    shipment: Shipment,
    count: int,
    skips: dict[int, str],
    standing: Sequence[Standing] | None = None,
    served: Collection[int] | None = None,
) -> DueTurns:
    """The next ``count`` turns of a month. ``skips`` are reasons by supporter id.

    ``standing`` is ``standings`` of that month, ``served`` are the ids of those whose turn is
    picked in it; both are read when they are left out.
    """
    known = standings(month=shipment.month) if standing is None else standing
    now = {
        one.turner.key: replace(one.turner, skip=skips.get(one.supporter.id, "")) for one in known
    }
    if served is None:
        served = set(shipment.parcels.turns().values_list("supporter_id", flat=True))
    sent = [one.supporter for one in known if one.supporter.id in served]
    found = month_turns(
        turners=list(now.values()),
        count=count,
        month=shipment.month,
        served=[person.household.casefold() for person in sent if person.household],
    )
    people = {one.turner.key: one.supporter for one in known}
    return DueTurns(
        turns=tuple((people[one.key], _why(one, now[one.key])) for one in found.choices),
        passed=tuple(people[key] for key in found.passed),
    )


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


def ledger_lines(*, today_date: date, rule: TurnRule | None = None) -> list[LedgerLine]:
    """The ledger as it stands with every parcel picked so far, the next turn first."""
    rule = rule or turn_rule()
    this_month = rules.month_of(today_date)
    latest = (
        Parcel.objects.turns()
        .order_by("-shipment__month")
        .values_list("shipment__month", flat=True)
    )
    month = max(this_month, (latest.first() or 0) + 1)
    now = standings(month=month, rule=rule)
    shipment = Shipment.objects.filter(month__gte=this_month).order_by("month").first()
    waits = months_until_turn(
        turners=[standing.turner for standing in now],
        count=shipment.parcel_count if shipment else 5,
        month=month,
        at_most=LOOK_AHEAD_MONTHS,
    )
    skips = _skip_words()
    lines = [
        LedgerLine(
            supporter=one.supporter,
            months_paid=one.turner.months_paid,
            share=one.turner.share or Fraction(0),
            sent=one.turner.sent,
            last_month=one.turner.last_sent_index,
            eligible=one.turner.eligible,
            why_not=one.why_not,
            next_month=month + waits[one.turner.key] - 1 if one.turner.key in waits else None,
            skips=tuple(skips[one.supporter.id]),
        )
        for one in now
    ]
    return sorted(lines, key=_soonest)


def ledger_line(supporter: Supporter, *, today_date: date) -> LedgerLine:
    """What the ledger says of one supporter."""
    rows = ledger_lines(today_date=today_date)
    return next(line for line in rows if line.supporter == supporter)


def _soonest(line: LedgerLine) -> tuple[bool, int, Fraction, int]:
    """By the next turn, then by what is due; who has no turn comes last."""
    never = line.next_month if line.next_month is not None else rules.LAST_MONTH
    return not line.eligible, never, -line.due, line.supporter.number


def _skip_words() -> dict[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    for skip in Skip.objects.select_related("shipment").order_by("shipment__month"):
        found[skip.supporter_id].append(f"{rules.month_name(skip.shipment.month)}: {skip.reason}")
    return found
