"""Keep which months a supporter paid, and in which they paused."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.parcels import rules, selectors
from studio.parcels.models import Pause, Payment, Supporter
from studio.parcels.services.record import AGAIN, or_refuse, write_down
from studio.web.models import Change
from studio.web.refusal import refuse


@transaction.atomic
def mark_paid(*, month: int, but: Collection[int] = (), by: User, at: datetime) -> Change:
    """Mark a month as paid for every active supporter who had joined by then.

    ``but`` are the ids of supporters who did not pay. Whose month failed before is paid now; what
    was refunded stays so. Raises Refusal when the month is to come, or nobody is left to mark.
    """
    refuse(_cannot_pay("a supporter", month, joined_month=month, at=at))
    due = [person for person in selectors.not_paid(month) if person.id not in set(but)]
    refuse(
        None
        if due
        else f"Nobody is left to mark for {rules.month_name(month)}: all active ones are marked."
    )
    failed = Payment.objects.select_for_update().filter(month=month, supporter__in=due)
    again = list(failed.values_list("supporter_id", flat=True))
    failed.update(state=Payment.State.PAID)
    with or_refuse(lambda: f"Somebody marked {rules.month_name(month)} at this moment. {AGAIN}"):
        Payment.objects.bulk_create(
            Payment(supporter=person, month=month) for person in due if person.id not in set(again)
        )
    return write_down(
        action="mark_paid",
        said=f"Marked {rules.month_name(month)} paid for {_supporters(len(due))}",
        by=by,
        at=at,
        undo={
            "paid": [
                [person.id, month, "paid", "failed" if person.id in set(again) else ""]
                for person in due
            ]
        },
    )


@transaction.atomic
def set_payments(
    *, supporter: Supporter, states: Mapping[str, Sequence[int]], by: User, at: datetime
) -> Change:
    """Set which months one supporter paid, and which were refunded or failed.

    ``states`` holds the months of every state, in place of what was there. Raises Refusal.
    """
    held = Supporter.objects.select_for_update().get(id=supporter.id)
    refuse(rules.can_list_payments(states))
    for months in states.values():
        for month in months:
            refuse(_cannot_pay(held.name, month, joined_month=held.joined_month, at=at))
    was = payments_of(held)
    now = sorted([month, state] for state, months in states.items() for month in set(months))
    refuse(f"The months of {held.name} are marked so already." if was == now else None)
    put_payments(held, now)
    paid = sum(1 for _, state in now if state == Payment.State.PAID)
    return write_down(
        action="set_payments",
        said=f"Set the months of supporter {held.number}, {held.name}: {paid} paid",
        by=by,
        at=at,
        subject="supporter",
        subject_id=held.id,
        undo={"was": was, "now": now},
    )


@transaction.atomic
def pause(
    *, supporter: Supporter, from_month: int, to_month: int | None, by: User, at: datetime
) -> Change:
    """Pause a supporter from one month to another, or until further notice. Raises Refusal.

    A pause stops the clock and loses nothing.
    """
    held = Supporter.objects.select_for_update().get(id=supporter.id)
    span = (from_month, to_month)
    backwards = to_month is not None and to_month < from_month
    refuse("A pause ends in the month it begins, or later." if backwards else None)
    return _change_pauses(
        held,
        [*selectors.pauses(held), span],
        f"Paused supporter {held.number}, {held.name}, {rules.span_words(span)}",
        by=by,
        at=at,
    )


@transaction.atomic
def go_on(*, supporter: Supporter, by: User, at: datetime) -> Change:
    """End the pause that covers this month: this month counts again. Raises Refusal."""
    held = Supporter.objects.select_for_update().get(id=supporter.id)
    this_month = rules.month_of(timezone.localdate(at))
    spans = selectors.pauses(held)
    refuse(rules.can_go_on(name=held.name, paused=rules.covered(spans, this_month)))
    ended = [
        (first, min(last, this_month - 1) if last is not None else this_month - 1)
        if rules.covered([(first, last)], this_month)
        else (first, last)
        for first, last in spans
        if not (first == this_month and rules.covered([(first, last)], this_month))
    ]
    said = f"Went on with supporter {held.number}, {held.name}"
    return _change_pauses(held, ended, said, by=by, at=at)


@transaction.atomic
def drop_pause(*, supporter: Supporter, from_month: int, by: User, at: datetime) -> Change:
    """Take a pause away as if it had never been. Raises Refusal when it is not there."""
    held = Supporter.objects.select_for_update().get(id=supporter.id)
    spans = selectors.pauses(held)
    left = [span for span in spans if span[0] != from_month]
    refuse("That pause was taken away already." if left == spans else None)
    said = f"Took a pause of supporter {held.number}, {held.name}, away"
    return _change_pauses(held, left, said, by=by, at=at)


def put_pauses(supporter: Supporter, spans: Iterable[Iterable[Any]]) -> None:
    """Set the pauses of a supporter, within the caller's transaction."""
    supporter.pauses.all().delete()
    Pause.objects.bulk_create(
        Pause(supporter=supporter, from_month=first, to_month=last) for first, last in spans
    )


def payments_of(supporter: Supporter) -> list[list[Any]]:
    """The months of a supporter with their states, as JSON keeps them."""
    return sorted(list(row) for row in supporter.payments.values_list("month", "state"))


def put_payments(supporter: Supporter, rows: Sequence[Sequence[Any]]) -> None:
    """Set the months of a supporter, within the caller's transaction."""
    supporter.payments.all().delete()
    Payment.objects.bulk_create(
        Payment(supporter=supporter, month=month, state=state) for month, state in rows
    )


def _change_pauses(
    held: Supporter, spans: Sequence[rules.Span], said: str, *, by: User, at: datetime
) -> Change:
    refuse(rules.can_pause(name=held.name, spans=spans, joined_month=held.joined_month))
    was = selectors.pauses(held)
    now = sorted(spans, key=lambda span: span[0])
    put_pauses(held, now)
    return write_down(
        action="set_pauses",
        said=said,
        by=by,
        at=at,
        subject="supporter",
        subject_id=held.id,
        undo={"was": [list(span) for span in was], "now": [list(span) for span in now]},
    )


def _cannot_pay(name: str, month: int, *, joined_month: int, at: datetime) -> str | None:
    this_month = rules.month_of(timezone.localdate(at))
    return rules.can_pay(name=name, month=month, joined_month=joined_month, this_month=this_month)


def _supporters(count: int) -> str:
    return "1 supporter" if count == 1 else f"{count} supporters"
