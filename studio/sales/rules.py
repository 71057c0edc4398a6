"""What may be wanted, offered, claimed and sold, and in which words is it refused?

Every ``can_...`` answers None when it may be done, else the one sentence that the service raises,
the page shows and the test expects. Nothing here knows the database.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from studio.wares.rules import MOST_PRICE_PENCE

MOST_WANTED = 5000
MOST_BUFFER_DAYS = 60
NAME_LENGTH = 60
CLAIM_LENGTH = 120


def can_hold_sale(
    *,
    name: str,
    members_at: datetime,
    public_at: datetime,
    closes_at: datetime | None,
    buffer_days: int,
    importance: int,
    now: datetime,
) -> str | None:
    """May a sale day be set so? Times are aware; ``now`` is when it is asked."""
    if not name.strip():
        return "A sale day needs a name."
    if len(name) > NAME_LENGTH:
        return f"The name is too long: {NAME_LENGTH} characters at most."
    if members_at <= now:
        return (
            f"The members' hour, {when(members_at)}, is in the past. "
            "A sale day is set before it begins."
        )
    if public_at < members_at:
        return (
            f"The public hour, {when(public_at)}, is before the members' hour, "
            f"{when(members_at)}. Members come first, or both at once."
        )
    if closes_at is not None and closes_at <= public_at:
        return (
            f"The sale would close at {when(closes_at)}, not after the public hour, "
            f"{when(public_at)}. Leave the close empty to keep it open."
        )
    if not 0 <= buffer_days <= MOST_BUFFER_DAYS:
        return f"Days in hand before a sale: 0 to {MOST_BUFFER_DAYS}, not {buffer_days}."
    if not 1 <= importance <= 9:
        return f"How much it matters is a number from 1 to 9, not {importance}."
    return None


def can_change_times(*, name: str, members_at: datetime, now: datetime) -> str | None:
    """May the hours of a sale day still be changed? Not once it has begun."""
    if members_at <= now:
        return f"{name} began at {when(members_at)}; its hours stand."
    return None


def can_want(*, sale: str, members_at: datetime, count: int, now: datetime) -> str | None:
    """May so many of a line be wanted for a sale day? Not once its members' hour has come."""
    if members_at <= now:
        return (
            f"{sale} began at {when(members_at)}. Nothing can be wanted for a sale that has begun."
        )
    if count < 1:
        return f"Say how many are wanted: 1 or more, not {count}."
    if count > MOST_WANTED:
        return f"{count} of one line? {MOST_WANTED} at most."
    return None


def can_offer_at(*, sale: str, closes_at: datetime | None, now: datetime) -> str | None:
    """May pieces still be listed for this sale day?"""
    if closes_at is not None and closes_at <= now:
        return f"{sale} closed at {when(closes_at)}. List them for another sale day."
    return None


def can_price(*, name: str, price_pence: int) -> str | None:
    """May a piece be offered at this price?"""
    if price_pence < 1:
        return f"{name} needs a price above 0. A gift leaves as kept or sent, not by a sale."
    if price_pence > MOST_PRICE_PENCE:
        return f"The price of {name} is above the most that is kept here. Check the amount."
    return None


def can_offer(*, name: str, parcel: str) -> str | None:
    """May a piece be offered, as far as parcels go? ``parcel`` is the one it stands in, or ''."""
    if parcel:
        return (
            f"{name} stands in parcel {parcel}. Swap it there for another piece first,"
            " or skip that turn."
        )
    return None


def can_sell(
    *, name: str, stage: str, gone: str, parcel: str, promise_kind: str, promise: str | None
) -> str | None:
    """May a piece be marked sold? A claim is what a sale fulfils; another promise stands in it."""
    if gone:
        return f"{name} is {gone} already."
    if parcel:
        return can_offer(name=name, parcel=parcel)
    if stage != "listed":
        return f"{name} is {stage}, not listed, so it cannot be sold here. List it first."
    if promise is not None and promise_kind != "claim":
        return f"{name} is promised ({promise}), so it cannot be sold. Release it first."
    return None


def can_sell_claimed(*, claims: Sequence[tuple[str, str]], to_claimants: bool) -> str | None:
    """May pieces that somebody claimed be marked sold? Only when it is said that they go to them.

    ``claims`` are (piece, who claimed it).
    """
    if not claims or to_claimants:
        return None
    named = "; ".join(f"{piece} is claimed by {name}" for piece, name in claims)
    return f"{named}. Say that they are sold to those names, or release the claims first."


def can_take_back(*, name: str, promise: str | None) -> str | None:
    """May a listed piece be taken off the list? Not while somebody has claimed it."""
    if promise is not None:
        return f"{name} is promised ({promise}). Release the claim before taking it off the list."
    return None


def can_claim(
    *, name: str, stage: str, gone: str, parcel: str, promise: str | None, for_whom: str
) -> str | None:
    """May a listed piece be held for somebody?"""
    if gone:
        return f"{name} is {gone} already."
    if parcel:
        return can_offer(name=name, parcel=parcel)
    if promise is not None:
        return f"{name} is promised already ({promise}). A piece carries one promise."
    if stage != "listed":
        return f"{name} is {stage}, not listed, so it cannot be claimed at a sale."
    if not for_whom.strip():
        return "Say who claims it: a name."
    if len(for_whom) > CLAIM_LENGTH:
        return f"The name is too long: {CLAIM_LENGTH} characters at most."
    return None


def can_release(*, name: str, promise_kind: str) -> str | None:
    """May a claim be given up? ``promise_kind`` is '' when there is no promise."""
    if promise_kind != "claim":
        return f"{name} is not claimed by anybody."
    return None


def can_release_any(*, sale: str, claims: int) -> str | None:
    """May claims be given up at a sale day? ``claims`` are those on its listed pieces."""
    if claims < 1:
        return f"Nobody has claimed a piece that is listed for {sale}."
    return None


def when(at: datetime) -> str:
    """A time as a sentence says it."""
    return f"{at.day} {at:%b %Y, %H:%M}"
