"""Why may something with a supporter not be done?"""

from __future__ import annotations

from studio.parcels.rules.months import FIRST_MONTH, LAST_MONTH, month_name


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
