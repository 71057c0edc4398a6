"""How are months counted, and why may something with supporters and parcels not be done?

A month is a whole number, ``year * 12 + month - 1``, and is read and shown as 2026-12. Every
``can_...`` answers None when it may be done, else the one sentence that the service raises, the
page shows and the test expects. Nothing here knows the database.
"""

from __future__ import annotations

import re
from datetime import date

from studio.craft.picks import Bar, Without
from studio.craft.turns import Ground

FIRST_MONTH = 1970 * 12
LAST_MONTH = 2100 * 12
MOST_PARCELS = 500
MOST_WANTED = 5000
MOST_BUFFER_DAYS = 60
NOTE_LENGTH = 200
BOX_LENGTH = 40

_MONTH = re.compile(r"(\d{4})-(\d{1,2})")


class BadMonth(ValueError):
    """A text that is no month. The text of the error says what to write."""


def month_of(day: date) -> int:
    """The month a day lies in."""
    return day.year * 12 + day.month - 1


def month_text(month: int) -> str:
    """A month as it is typed: 2026-12."""
    return f"{month // 12}-{month % 12 + 1:02d}"


def month_name(month: int) -> str:
    """A month as people say it: December 2026."""
    return f"{date(month // 12, month % 12 + 1, 1):%B %Y}"


def read_month(text: str) -> int:
    """The month a person typed as 2026-12.

    Raises: BadMonth with a sentence.
    """
    found = _MONTH.fullmatch(text.strip())
    if found is None or not 1 <= int(found[2]) <= 12:
        raise BadMonth(f"'{text.strip()}' is no month. Write year and month, such as 2026-12.")
    month = int(found[1]) * 12 + int(found[2]) - 1
    if not FIRST_MONTH <= month < LAST_MONTH:
        raise BadMonth(f"'{text.strip()}' is out of range: months run from 1970 to 2099.")
    return month


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


def can_pick(*, month: int, has: int, parcel_count: int, eligible: int, pots: int) -> str | None:
    """May parcels be picked for this month? ``has`` are there, ``pots`` are free to be sent."""
    if has >= parcel_count:
        return f"All {parcel_count} parcels of {month_name(month)} are picked already."
    if eligible == 0:
        return (
            "Nobody is eligible for a turn. Mark the paid months, or lower the months needed"
            " in the turn rule."
        )
    if pots == 0:
        return (
            "No graded piece is free to be sent. Grade fired boards first, or take pieces off"
            " a sale's list."
        )
    return None


def can_skip(*, name: str, state: str, reason: str, skipped: bool) -> str | None:
    """May somebody's turn be passed over this month? ``state`` of their parcel, '' for none."""
    if skipped:
        return f"{name} is skipped this month already."
    if state in ("packed", "posted"):
        return f"The parcel of {name} is {state} already, so the turn is taken."
    if not reason.strip():
        return "Say why: a turn that is skipped keeps its place, and the reason is written down."
    if len(reason) > NOTE_LENGTH:
        return f"Say why in {NOTE_LENGTH} characters at most."
    return None


def can_put_in(
    *,
    piece: str,
    name: str,
    state: str,
    stage: str,
    gone: str,
    parcel: str,
    promise: str | None,
    bar: Bar | None,
) -> str | None:
    """May this piece be put into this person's parcel, by hand or by the pick?"""
    if state != "picked":
        return f"The parcel of {name} is {state} already. Undo that first."
    if gone:
        return f"{piece} is {gone} already."
    if stage == "listed":
        return f"{piece} is listed for a sale. Take it off the list first."
    if stage != "graded":
        return f"{piece} is {stage}. Only a graded piece can be sent."
    if promise is not None:
        return f"{piece} is promised already ({promise})."
    if parcel:
        return f"{piece} stands in parcel {parcel} already. Swap it there first."
    return bar_sentence(piece=piece, name=name, bar=bar)


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


def bar_sentence(*, piece: str, name: str, bar: Bar | None) -> str | None:
    """Why this pot may not go to this person, in words."""
    match bar:
        case Bar.HAD_LINE:
            return f"{name} was sent a pot of this line before, so {piece} cannot go there."
        case Bar.PLEASE_NO:
            return f"{name} would rather not have this form, so {piece} cannot go there."
        case Bar.SECOND:
            return f"{piece} is a second, and {name} has not said yes to seconds."
        case None:
            return None


def why_without(without: Without) -> str:
    """Why there is no pot for somebody, as the reason of their skip."""
    words = {
        Bar.HAD_LINE: "of lines they had before",
        Bar.PLEASE_NO: "of forms they would rather not have",
        Bar.SECOND: "seconds, which they have not said yes to",
    }
    parts = [f"{count} {words[bar]}" for bar, count in without.bars]
    if without.elsewhere:
        parts.append(f"{without.elsewhere} went to turns before theirs")
    found = "; ".join(parts) if parts else "none was free"
    return f"no pot for them this month: {found}"[:NOTE_LENGTH]


def why_now(
    *,
    ground: Ground,
    among: int,
    due: float,
    months_paid: int,
    sent: int,
    last_month: int | None,
    joined_month: int,
) -> str:
    """Why somebody's turn has come, in a sentence that may be shown to them. It names nobody else.

    ``due`` [parcels] is share less sent.
    """
    months = "1 paid month" if months_paid == 1 else f"{months_paid} paid months"
    had = "none sent yet"
    if sent:
        parcels = "1 parcel" if sent == 1 else f"{sent} parcels"
        last = f", last in {month_name(last_month)}" if last_month is not None else ""
        had = f"{parcels} sent{last}"
    joined = month_name(joined_month)
    match ground:
        case Ground.ALONE:
            return f"The only one with a turn this month ({months}, {had}); joined {joined}."
        case Ground.SHARE:
            owed = f", {due:.2f} of a parcel due" if due > 0 else ""
            return f"Next by fair share ({months}, {had}{owed}); joined {joined}."
        case Ground.WAIT:
            return f"Waited longest ({months}, {had}); joined {joined}."
        case Ground.JOINED:
            return f"Waited longest and joined first ({months}, {had}); joined {joined}."
        case Ground.DRAWN:
            return (
                f"Waited longest ({months}, {had}); joined {joined}."
                f" Drawn by lot among the {among} who are equal in this."
            )


def can_erase(*, name: str, erased: bool, state: str, month: int) -> str | None:
    """May it be forgotten who somebody is? ``state`` is of a parcel that is not posted, or ''."""
    if erased:
        return f"{name} is erased already."
    if state:
        way = "Post it first." if state == "packed" else "Skip that turn, or post it first."
        return f"A parcel of {name} for {month_name(month)} is {state}. {way}"
    return None


def can_pack(*, name: str, state: str, pieces: int, box: str) -> str | None:
    """May this parcel be marked packed?"""
    if state != "picked":
        return f"The parcel of {name} is {state} already."
    if pieces == 0:
        return f"The parcel of {name} has no piece in it. Choose one first."
    if len(box) > BOX_LENGTH:
        return f"Name the box in {BOX_LENGTH} characters at most."
    return None


def can_post(*, name: str, state: str) -> str | None:
    """May this parcel be marked posted? Only a packed one."""
    if state == "posted":
        return f"The parcel of {name} is posted already."
    if state != "packed":
        return f"The parcel of {name} is not packed yet."
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
