"""May ware be counted in whose firings stand in no record, and what is said of it?"""

from __future__ import annotations

from datetime import date, timedelta

from studio.wares.rules.steps import MOST_ON_A_BOARD, OLDEST_DAYS

COUNTABLE = ("bisqued", "glazed", "fired", "graded")
"""The stages at which pieces can be counted in: what stands there was fired, or is to be loaded."""

BEFORE_RECORDS = {
    "bisqued": "bisqued before the records began",
    "glazed": "bisqued before the records began",
    "fired": "bisqued and fired before the records began",
    "graded": "bisqued and fired before the records began",
}
"""What is said of a piece in place of the firings that stand in no record."""

FIRED_BEFORE = "fired before the records began"


def can_count(count: int) -> str | None:
    """May so many stand on one board that is counted in?"""
    if count < 1:
        return "Say how many stand here: 1 or more."
    if count > MOST_ON_A_BOARD:
        return f"{MOST_ON_A_BOARD} on one board at most; count the others in as another board."
    return None


def can_count_in(
    *,
    stage: str,
    count: int,
    has_coats: bool,
    has_schedule: bool,
    grade: str,
    made_date: date,
    today_date: date,
) -> str | None:
    """May pieces be counted in as standing at this stage, though no firing of them is known?"""
    if stage == "thrown":
        return "Thrown ware has no firing behind it: write it down with Throw a board."
    if stage == "listed":
        return "Count listed pieces in as graded, then list them for their sale day."
    if stage not in COUNTABLE:
        return f"Ware is counted in as {', '.join(COUNTABLE)}, not as “{stage}”."
    if stage == "bisqued" and (has_coats or has_schedule):
        return "Bisqued ware has no glaze on it yet. If it has one, count it in as glazed."
    if stage != "bisqued" and not has_coats:
        return f"Say which glaze is on it: {stage} ware has one."
    if stage != "bisqued" and not has_schedule:
        past = "is meant for" if stage == "glazed" else "was fired to"
        return f"Say which glaze schedule it {past}."
    if stage == "graded" and grade not in ("first", "second"):
        return f"A graded piece is a first or a second, not “{grade}”."
    if sentence := can_count(count):
        return sentence
    if made_date > today_date:
        return f"{made_date:%d %b %Y} is in the future: what stands here is thrown already."
    if made_date < today_date - timedelta(days=OLDEST_DAYS):
        return f"{made_date:%d %b %Y} is more than ten years ago. Check the year."
    return None
