"""When does an address count as confirmed, and why can it not be locked or printed?"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from studio.parcels.rules.months import month_name

NAMED = 3
"""How many people a refusal names before it counts the others."""


def is_confirmed(*, confirmed_date: date | None, post_date: date, within_days: int) -> bool:
    """Whether somebody said lately enough before this shipment that an address is right."""
    return confirmed_date is not None and confirmed_date >= post_date - timedelta(days=within_days)


def ask_from(*, post_date: date, within_days: int) -> date:
    """The first day on which a confirmation counts for a shipment."""
    return post_date - timedelta(days=within_days)


def can_lock(*, month: int, parcels: int, unlocked: int, unconfirmed: Sequence[str]) -> str | None:
    """May the addresses of a month be locked? ``unconfirmed`` names those not ticked off."""
    if parcels == 0:
        return f"No parcel of {month_name(month)} waits for an address."
    if unlocked == 0:
        return f"All addresses of {month_name(month)} are locked already."
    if unconfirmed:
        are = "is" if len(unconfirmed) == 1 else "are"
        whose = "address" if len(unconfirmed) == 1 else "addresses"
        return (
            f"{len(unconfirmed)} {whose} {are} not confirmed: {names(unconfirmed)}."
            " Ask them, or tick each one off to print it as it stands."
        )
    return None


def can_print_address(*, month: int, unlocked: Sequence[str], forgotten: str = "") -> str | None:
    """May papers with addresses be printed? Only locked addresses are.

    ``forgotten`` names whose printed address is no longer kept, or ''.
    """
    if forgotten:
        return f"The printed address of {forgotten} is no longer kept, so it cannot be printed."
    if not unlocked:
        return None
    if len(unlocked) == 1:
        return f"The address of {unlocked[0]} is not locked yet. Lock it first, then print."
    return (
        f"{len(unlocked)} addresses of {month_name(month)} are not locked yet"
        f" ({names(unlocked)}). Lock them first, then print."
    )


def can_take_address(*, name: str, state: str, locked: bool, changed: bool) -> str | None:
    """May a locked address be taken anew?"""
    if not locked:
        return f"The address of {name} is not locked yet."
    if state in ("posted", "arrived", "broken"):
        return f"The parcel of {name} is {state} already. The change counts for the next one."
    if not changed:
        return f"The address of {name} has not changed since it was locked."
    return None


def names(people: Sequence[str]) -> str:
    """The first few by name, the others counted."""
    shown = list(people[:NAMED])
    more = len(people) - len(shown)
    if more:
        return f"{', '.join(shown)} and {more} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]]) if len(shown) > 1 else shown[0]
