"""May this plan be accepted or undone, may this day be off, and why not?

Every function answers the sentence a person reads, or nothing when it may be done. The button that
is switched off, the service that refuses and the test say the same words.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime

from studio.craft.calendar import say_date

MOST_MINUTES = 1440
"""Minutes of a day."""

UNSOUND = (
    "The plan that was found did not pass its check, so it was not kept. That is a fault of the "
    "program: please report it. Looking for another length of time may find a sound one."
)

NO_SUCH_PART = "That is no part of this plan. Open its page again and tick there."
MOST_SENTENCES = 4
SEARCH_ENDED = "The search was"
"""How a sentence begins that tells of a search that did not end by itself."""


def lost_in_part(sentences: Sequence[str]) -> str:
    """What a part of a plan no longer keeps, in a few sentences."""
    if not sentences:
        return ""
    more = len(sentences) - MOST_SENTENCES
    rest = f" And {more} more." if more > 0 else ""
    return f"Without what was left out: {' '.join(sentences[:MOST_SENTENCES])}{rest}"


def why_not_begin(*, begun_at: datetime, by: str) -> str:
    """One search at a time: two would share the computer and each find less."""
    return (
        f"{by} began to look for a plan at {begun_at:%H:%M}, and it is still looking. "
        "Wait for it, or stop it and keep its best."
    )


def why_not_stop(*, state: str) -> str:
    """Only a search that is looking can be stopped."""
    return "" if state == "looking" else "This search has ended already."


def stopped(*, lasted_s: float) -> str:
    """Said on a plan whose search a person ended."""
    return f"{SEARCH_ENDED} stopped after {_lasted(lasted_s)}; this is the best it had found."


def cut_off(*, lasted_s: float) -> str:
    """Said on a plan whose search ended with the server's process."""
    return (
        f"{SEARCH_ENDED} cut off after {_lasted(lasted_s)}, when the server was stopped or started "
        "again. The best it had found is kept. Look again to go on."
    )


def not_found(*, seconds: float) -> str:
    """No plan at all was there when the time ran out: nothing is known about what can be done."""
    return (
        f"No plan was found in {_lasted(seconds)}. That does not mean that there is none: "
        "look longer."
    )


def nothing_yet() -> str:
    """The search was stopped before it had any plan."""
    return "The search was stopped before it had found any plan. Nothing was stored."


def _lasted(seconds: float) -> str:
    if seconds < 1.5:
        return "a second"
    return f"{seconds:.0f} seconds" if seconds < 100 else f"{seconds / 60:.0f} minutes"


def why_not_accept(*, state: str, first_start_date: date | None, today_date: date) -> str:
    """A proposal may be accepted once, while none of its firings should have begun already."""
    if state == "accepted":
        return "This plan is in force already."
    if state == "put_aside":
        return "This plan was put aside. Work out a new one."
    if first_start_date is not None and first_start_date < today_date:
        return (
            f"This plan begins with a firing on {say_date(first_start_date)}, which is past. "
            "Work it out again."
        )
    return ""


def why_not_in_part(
    *, loads: int, jobs: int, loads_out: Collection[int], jobs_out: Collection[int]
) -> str:
    """A part is some of what there is: not a firing that the plan does not have, not nothing."""
    if any(not 0 <= n < loads for n in loads_out) or any(not 0 <= n < jobs for n in jobs_out):
        return NO_SUCH_PART
    if loads + jobs and len(set(loads_out)) == loads and len(set(jobs_out)) == jobs:
        return "Nothing is ticked. Tick what to take, or put the whole plan aside."
    return ""


def why_not_choose(*, state: str, has_other: bool) -> str:
    """Between two plans of one question one chooses while they are proposed."""
    if state == "accepted":
        return "This plan is in force already. Work it out again to choose anew."
    if state == "put_aside":
        return "This plan was put aside. Work out a new one."
    return "" if has_other else "There is no other plan to choose: only one was found."


def why_not_choose_back(*, same: bool) -> str:
    """A choice is taken back while it stands."""
    return "" if same else "The other plan was chosen again since."


def why_not_put_aside(*, state: str) -> str:
    """Only a proposal can be put aside; a plan in force is undone or followed by another."""
    if state == "accepted":
        return "This plan is in force. Undo its acceptance, or accept another one instead."
    if state == "put_aside":
        return "This plan was put aside already."
    return ""


def kiln_day_taken(*, kiln: str, start_date: date, by: str) -> str:
    """A kiln does one firing at a time."""
    return (
        f"{kiln} is not free on {say_date(start_date)}: {by} was planned or begun since this plan "
        "was worked out. Work it out again."
    )


def kept_firing_gone(*, kiln: str, start_date: date) -> str:
    """A plan that builds on a planned firing needs it to stand still."""
    return (
        f"The firing of {kiln} on {say_date(start_date)}, on which this plan builds, is no longer "
        "waiting to be loaded. Work it out again."
    )


def moved_on(*, firing: str, state: str) -> str:
    """What became of a firing that no longer waits as it was planned."""
    words = {
        "planned": "held pots already",
        "loaded": "is loaded",
        "firing": "is firing",
        "cooling": "is cooling",
        "opened": "was fired",
        "called_off": "was called off",
    }
    return f"{firing} {words[state]}"


def changed_since(*, firing: str, parts: list[str]) -> str:
    """What a person changed at a firing after a plan put it in the book."""
    return f"{firing} was changed since ({', '.join(parts)})"


def why_not_undo(*, state: str, moved_on: list[str], taken: list[str]) -> str:
    """An acceptance can be undone while its firings wait and the days given up are still free."""
    if state != "accepted":
        return "This plan is no longer the one in force, so its acceptance cannot be undone."
    if moved_on:
        return f"{moved_on[0]}, so the plan that asked for it stays."
    if taken:
        return f"The plan before it cannot come back: {taken[0]}."
    return ""


def why_not_day_off(*, day: date, today_date: date, off_already: bool = False) -> str:
    """A day that is past cannot become a day off, and no day is off twice."""
    if off_already:
        return f"{say_date(day)} is a day off already."
    if day < today_date:
        return f"{say_date(day)} is past. A day off is today or later."
    return ""


def minutes_out_of_range(*, weekday: str, minutes: int) -> str:
    """Each kind of work has at most the minutes of a day, however many hands share it."""
    if not 0 <= minutes <= MOST_MINUTES:
        return f"{weekday}: {minutes} minutes cannot be. Give 0 to {MOST_MINUTES}, a whole day."
    return ""


def yield_out_of_range(*, step: str, percent: int) -> str:
    """A yield of nothing would ask for pieces without end."""
    if not 1 <= percent <= 100:
        return f"{step}: {percent} of 100 is no yield. Give 1 to 100."
    return ""


def sure_out_of_range(*, percent: int | None) -> str:
    """Nobody is wholly sure, and less than even is not sure at all; none: as the mean says."""
    if percent is not None and not 50 <= percent <= 99:
        return f"How sure: {percent} in 100 is not to be had. Give 50 to 99, or nothing."
    return ""


def why_not_withdraw(*, withdrawn: bool, name: str) -> str:
    """An address is withdrawn once."""
    return f"The calendar address of {name} was withdrawn already." if withdrawn else ""


def why_not_undo_address(*, withdrawn: bool, was: str, name: str) -> str:
    """An address is put back only while it stands as the change left it."""
    if withdrawn == (was == "new"):
        return f"The calendar address of {name} was changed since."
    return ""
