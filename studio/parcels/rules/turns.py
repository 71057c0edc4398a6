"""Why is it somebody's turn, and why may a pot not go to them?"""

from __future__ import annotations

from studio.craft.picks import Bar, Without
from studio.craft.turns import Ground
from studio.parcels.rules.months import month_name

NOTE_LENGTH = 200
HOUSEHOLD = "a parcel goes to their household this month"
"""Why somebody is passed over whose household is sent one already; the place is kept."""
NOBODY = (
    "Nobody is eligible for a turn. Mark the paid months, or lower the months needed in the turn"
    " rule."
)


def can_pick(*, month: int, has: int, parcel_count: int, eligible: int, pots: int) -> str | None:
    """May parcels be picked for this month? ``has`` are there, ``pots`` are free to be sent."""
    if has >= parcel_count:
        return f"All {parcel_count} parcels of {month_name(month)} are picked already."
    if eligible == 0:
        return NOBODY
    if pots == 0:
        return (
            "No graded piece is free to be sent. Grade fired boards first, or take pieces off"
            " a sale's list."
        )
    return None


def can_set_aside(*, month: int, left: int, eligible: int, lines: int) -> str | None:
    """May the lines be set aside that the coming turns need? ``lines`` may be made for them."""
    if left <= 0:
        return f"Every parcel of {month_name(month)} is picked, so nothing more is needed."
    if eligible == 0:
        return NOBODY
    if lines == 0:
        return "No line is proven yet, so there is none to make more of. Want one by hand."
    return None


def can_skip(*, name: str, state: str, reason: str, skipped: bool) -> str | None:
    """May somebody's turn be passed over this month? ``state`` of their parcel, '' for none."""
    if skipped:
        return f"{name} is skipped this month already."
    if state in ("packed", "posted", "arrived", "broken"):
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


def bar_sentence(*, piece: str, name: str, bar: Bar | None) -> str | None:
    """Why this pot may not go to this person, in words."""
    match bar:
        case Bar.HAD_LINE:
            return f"{name} was sent a pot of this line before, so {piece} cannot go there."
        case Bar.PLEASE_NO:
            return f"{name} would rather not have this form, so {piece} cannot go there."
        case Bar.NO_GLAZE:
            return f"{name} would rather not have a glaze on {piece}, so it cannot go there."
        case Bar.FOR_SALE:
            return (
                f"{piece} is asked for by a sale, and no more of its line are free. Set the line"
                " aside for this month's parcels, or want fewer for the sale."
            )
        case Bar.SECOND:
            return f"{piece} is a second, and {name} has not said yes to seconds."
        case None:
            return None


def why_without(without: Without) -> str:
    """Why there is no pot for somebody, as the reason of their skip."""
    words = {
        Bar.HAD_LINE: "of lines they had before",
        Bar.PLEASE_NO: "of forms they would rather not have",
        Bar.NO_GLAZE: "in glazes they would rather not have",
        Bar.SECOND: "seconds, which they have not said yes to",
        Bar.FOR_SALE: "asked for by a sale",
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


def why_then(*, eligible: bool, why_not: str, next_words: str, before: int, among: int) -> str:
    """When somebody's next parcel comes, and what stands before it, naming nobody."""
    if not eligible:
        return f"No turn now: {why_not}."
    if before == 0:
        ahead = "Nobody's turn comes before it."
    else:
        people = "1 supporter has" if before == 1 else f"{before} supporters have"
        ahead = f"{people} theirs before, of {among} with a turn."
    return f"Next parcel: {next_words}. {ahead}"


def rule_words(*, is_equal: bool, months_needed: int) -> tuple[str, ...]:
    """The rule of turns in sentences that may be given to every supporter."""
    how = "in equal parts" if is_equal else "by the weight of their tier"
    months = "1 month" if months_needed == 1 else f"{months_needed} months"
    return (
        f"Who has paid {months} and is active has a turn. Each month the parcels of that month are"
        f" shared out {how} among all who have a turn then, never more than one a month each. What"
        " is due is that share less the parcels sent.",
        "A parcel goes to the one whose claim runs out first. While the people and their tiers stay"
        " as they are nobody is ever a whole parcel away from the share; equals go by the longest"
        " wait, then by the earlier joining, then by a draw of that month which comes out the same"
        " however often it is asked.",
        "A pause stops the clock and loses nothing. A skip keeps the place, and the reason is"
        " written down. A household is sent one parcel a month at most. A parcel in place of a"
        " broken one uses no turn.",
    )
