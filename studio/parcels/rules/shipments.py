"""Why may something with a month's parcels not be done?"""

from __future__ import annotations

from datetime import date

from studio.parcels.rules.months import month_name, month_of
from studio.parcels.rules.turns import NOTE_LENGTH

MOST_PARCELS = 500
MOST_WANTED = 5000
MOST_BUFFER_DAYS = 60
BOX_LENGTH = 40
MOST_WEIGHT_G = 70_000
"""More than any post carries by hand; our own bound against a slip of the keyboard."""


def can_ship(
    *,
    month: int,
    post_date: date,
    parcel_count: int,
    buffer_days: int,
    importance: int,
    today_date: date,
) -> str | None:
    """May a month's parcels be set so?"""
    if month < month_of(today_date):
        return f"{month_name(month)} is past. Parcels are planned for this month or later."
    if post_date < today_date:
        return f"The post date, {_day(post_date)}, is in the past."
    if month_of(post_date) < month:
        return (
            f"The post date, {_day(post_date)}, is before {month_name(month)} begins."
            " Choose a day in that month or after."
        )
    if not 1 <= parcel_count <= MOST_PARCELS:
        return f"Parcels a month: 1 to {MOST_PARCELS}, not {parcel_count}."
    if not 0 <= buffer_days <= MOST_BUFFER_DAYS:
        return f"Days in hand before posting: 0 to {MOST_BUFFER_DAYS}, not {buffer_days}."
    if not 1 <= importance <= 9:
        return f"How much it matters is a number from 1 to 9, not {importance}."
    return None


def can_want(*, month: int, post_date: date, count: int, today_date: date) -> str | None:
    """May so many of a line be wanted for a month's parcels?"""
    if post_date < today_date:
        return (
            f"The parcels of {month_name(month)} were for {_day(post_date)}."
            " Nothing can be wanted for a day that is past."
        )
    if count < 1:
        return f"Say how many are wanted: 1 or more, not {count}."
    if count > MOST_WANTED:
        return f"{count} of one line? {MOST_WANTED} at most."
    return None


def can_go(*, piece: str, name: str, gone: str, stage: str, promised: bool) -> str | None:
    """May a piece that stands in a parcel be packed and posted? It must be here and kept for it."""
    where = f"{piece} stands in the parcel of {name}"
    if gone:
        return f"{where}, but is {gone} already. Swap it for another piece."
    if stage != "graded":
        return f"{where}, but is {stage}. Take it off the list, or swap it for another piece."
    if not promised:
        return f"{where}, but its promise was released by hand. Swap it for another piece."
    return None


STATES = ("picked", "packed", "posted", "arrived")
"""The way of a parcel, in order; a broken one left it after posting."""

_LEFT = ("posted", "arrived", "broken")


def is_done(*, state: str, to: str) -> bool:
    """Whether a parcel stands at this state already, or beyond it."""
    return STATES.index("arrived" if state == "broken" else state) >= STATES.index(to)


def can_pack(*, name: str, state: str, pieces: int, box: str) -> str | None:
    """May this parcel be marked packed?"""
    if state != "picked":
        return f"The parcel of {name} is {state} already."
    if pieces == 0:
        return f"The parcel of {name} has no piece in it. Choose one first."
    if len(box) > BOX_LENGTH:
        return f"Name the box in {BOX_LENGTH} characters at most."
    return None


def can_post(
    *, name: str, state: str, moved: bool = False, print_again: bool = False
) -> str | None:
    """May this parcel be marked posted? Only a packed one, and none to an address left unseen.

    ``moved``: the address changed after it was locked, and nobody has said which of the two it
    goes to. ``print_again``: it was taken anew, and the papers at hand print the one before.
    """
    if state in _LEFT:
        return f"The parcel of {name} is {state} already."
    if state != "packed":
        return f"The parcel of {name} is not packed yet."
    if moved:
        return (
            f"The address of {name} changed after it was locked. Look at both, then post to the"
            " printed one, or take the new one and print again."
        )
    if print_again:
        return (
            f"The address of {name} was taken anew after papers were printed. Print its slip or"
            " label again, then post."
        )
    return None


def can_arrive(*, name: str, state: str) -> str | None:
    """May this parcel be marked arrived? Only a posted one."""
    if state in ("arrived", "broken"):
        return f"The parcel of {name} is {state} already."
    if state != "posted":
        return f"The parcel of {name} is not posted yet."
    return None


def can_break(*, name: str, state: str, note: str) -> str | None:
    """May it be said that a parcel arrived broken?"""
    if state == "broken":
        return f"The parcel of {name} is broken already."
    if state not in _LEFT:
        return f"The parcel of {name} is not posted yet. A pot broken here is parted on its page."
    if len(note) > NOTE_LENGTH:
        return f"Say what happened in {NOTE_LENGTH} characters at most."
    return None


def can_replace(*, name: str, state: str, again: str) -> str | None:
    """May another parcel go out in place of this one? ``again`` is the one that does, or ''."""
    if state != "broken":
        return f"The parcel of {name} is {state}. Only a broken one is replaced."
    if again:
        return f"Parcel {again} goes to {name} already in place of this one."
    return None


def can_weigh(*, name: str, state: str, weighed_g: int, contents_g: int) -> str | None:
    """May this be what a packed parcel weighs? ``contents_g`` is what its pieces weigh."""
    if state in _LEFT:
        return f"The parcel of {name} is {state} already, so its weight is no longer asked."
    if not 1 <= weighed_g <= MOST_WEIGHT_G:
        return f"A parcel weighs 1 to {MOST_WEIGHT_G} g, not {weighed_g}."
    if weighed_g <= contents_g:
        return (
            f"{weighed_g} g is less than the pots in it weigh ({contents_g} g). Is it in grams, and"
            " is this the right parcel?"
        )
    return None


def can_track(*, name: str, state: str, taken_by: str) -> str | None:
    """May this parcel carry the number? ``taken_by`` names the parcel that has it, or ''."""
    if state == "picked":
        return f"The parcel of {name} is not packed yet. Pack it, then write its number."
    if taken_by:
        return f"That number stands at parcel {taken_by} already. Compare both receipts."
    return None


def can_print(*, month: int, parcels: int, empty: str) -> str | None:
    """Are there slips to print? ``empty`` names a supporter whose parcel has no piece, or ''."""
    if parcels == 0:
        return f"No parcels are picked for {month_name(month)} yet, so there is no slip to print."
    if empty:
        return f"The parcel of {empty} has no piece in it yet. Choose one, or skip the turn."
    return None


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
