"""Why may something with a supporter not be done?"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise

from studio.parcels.rules.months import FIRST_MONTH, LAST_MONTH, Span, month_name


def can_pay(*, name: str, month: int, joined_month: int, this_month: int) -> str | None:
    """May a month be marked as paid for this supporter?"""
    if month > this_month:
        return f"{month_name(month)} is still to come: mark a month when it is paid."
    if month < joined_month:
        return (
            f"{name} joined in {month_name(joined_month)}, so {month_name(month)} cannot be paid."
        )
    return None


def can_join(*, joined_month: int, this_month: int) -> str | None:
    """May somebody have joined in that month?"""
    if not FIRST_MONTH <= joined_month < LAST_MONTH:
        return "The month of joining is out of range: months run from 1970 to 2099."
    if joined_month > this_month:
        return f"{month_name(joined_month)} is still to come. Write the month they joined."
    return None


def can_be_gift(*, is_gift: bool, gift_from: str) -> str | None:
    """May a membership be a gift? Only with the giver's name, for the slip."""
    if is_gift and not gift_from.strip():
        return "A gift names its giver: write who it is from."
    return None


def can_erase(*, name: str, erased: bool, state: str, month: int) -> str | None:
    """May it be forgotten who somebody is? ``state`` is of a parcel that is not posted, or ''."""
    if erased:
        return f"{name} is erased already."
    if state:
        way = "Post it first." if state == "packed" else "Skip that turn, or post it first."
        return f"A parcel of {name} for {month_name(month)} is {state}. {way}"
    return None


def can_leave(*, joined_month: int, left_month: int | None) -> str | None:
    """May that be the last month of somebody's support?"""
    if left_month is None:
        return None
    if not FIRST_MONTH <= left_month < LAST_MONTH:
        return "The last month is out of range: months run from 1970 to 2099."
    if left_month < joined_month:
        return (
            f"They joined in {month_name(joined_month)} and cannot have left before:"
            f" {month_name(left_month)} is no last month."
        )
    return None


def can_go_on(*, name: str, paused: bool) -> str | None:
    """May a pause be ended now? Only one that covers this month."""
    return None if paused else f"{name} is not paused this month."


def can_pause(*, name: str, spans: Sequence[Span], joined_month: int) -> str | None:
    """May somebody's pauses be these?"""
    before = next((first for first, _ in spans if first < joined_month), None)
    if before is not None:
        return (
            f"{name} joined in {month_name(joined_month)}, so {month_name(before)}"
            " cannot be paused."
        )
    for (first, last), (after, _) in pairwise(sorted(spans, key=lambda span: span[0])):
        if last is None or last >= after:
            return (
                f"The pause from {month_name(first)} runs into the one from {month_name(after)}."
                " End it before, or make one of the two."
            )
    return None


def can_list_payments(states: Mapping[str, Collection[int]]) -> str | None:
    """May a supporter's months be these? A month is paid, refunded or failed, one of them."""
    seen: dict[int, str] = {}
    for state, months in states.items():
        for month in months:
            if month in seen:
                return f"{month_name(month)} is {seen[month]} and {state}. Leave one of the two."
            seen[month] = state
    return None
