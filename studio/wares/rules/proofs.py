"""May this bucket or laboratory result be written down, and what may be said of food?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

NO_LAB_RESULT = "No lab result on file for use with food."
"""What is said of a glaze on food ware until a laboratory's result is entered."""

MOST_CRAZE_DAYS = 365


@dataclass(frozen=True, kw_only=True, slots=True)
class Lab:
    """One measured value as a page tells it."""

    lab: str
    tested_date: date
    method: str
    measured: str
    result: str
    limit: str = ""
    is_over: bool = False


def can_mix(*, glaze: str, mixed_date: date, last_date: date, today_date: date) -> str | None:
    """May a new bucket of a glaze be mixed on that day?"""
    if mixed_date > today_date:
        return f"{mixed_date:%d %b %Y} is in the future: write a bucket down once it is in use."
    if mixed_date <= last_date:
        return (
            f"The bucket of {glaze} in use was mixed on {last_date:%d %b %Y}; a new one is younger."
            f" {mixed_date:%d %b %Y} is not."
        )
    return None


def craze_days(days: int) -> str | None:
    """May ware be looked at for late crazing so many days?"""
    if 0 <= days <= MOST_CRAZE_DAYS:
        return None
    return f"{days} days of looking for crazing cannot be. Give 0 to {MOST_CRAZE_DAYS}."


def can_file(
    *,
    tested_date: date,
    today_date: date,
    result: Decimal,
    limit: Decimal | None,
    limit_source: str,
    limit_date: date | None,
) -> str | None:
    """May a laboratory's result be filed? A limit stands beside its source and a day."""
    if tested_date > today_date:
        return f"{tested_date:%d %b %Y} is in the future: file a result once it is there."
    if result < 0:
        return "A measured amount is 0 or more."
    if limit is None and (limit_source or limit_date):
        return "The limit itself is missing: write its number, or leave its source and date empty."
    if limit is not None and not limit_source.strip():
        return "Say where the limit is written: a rule or standard with its number and year."
    if limit is not None and limit_date is None:
        return "Say on which day you read the limit: limits change."
    if limit_date is not None and limit_date > today_date:
        return f"{limit_date:%d %b %Y} is in the future: say on which day you read the limit."
    return None


def lab_words(found: Sequence[Lab]) -> list[str]:
    """'lab test on file: ...' for each value, and nothing stronger."""
    return [
        f"lab test on file: {one.measured} {one.result}, {one.method}, {one.lab},"
        f" {one.tested_date:%d %b %Y}" + (f"; {one.limit}" if one.limit else "")
        for one in found
    ]


def lab_short(measured: str, lab: str, tested_date: date) -> str:
    """A test in a few words, for a slip; the page of the line has all of it."""
    return f"{measured}, {lab}, {tested_date:%d %b %Y}"


def food_caution(*, holds_food: bool, results: int, over: int, crazed: int) -> str:
    """What stands beside a line that people may eat or drink from; '' when there is nothing."""
    if not holds_food:
        return ""
    if crazed:
        seen = "1 piece" if crazed == 1 else f"{crazed} pieces"
        return (
            f"Crazing was seen on {seen} of this glaze on this clay. A crazed lining lets food into"
            " the pot: say nothing of food until the glaze fits."
        )
    if over:
        return (
            "A measured value lies above the limit you entered. Do not sell this lining for food;"
            " ask the laboratory."
        )
    if not results:
        return (
            f"{NO_LAB_RESULT} Have the fired ware tested by a laboratory, on this clay and at this"
            " cone, before you say that it may hold food."
        )
    return ""
