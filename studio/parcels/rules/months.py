"""How are months counted, read and shown?

A month is a whole number, ``year * 12 + month - 1``, and is read and shown as 2026-12.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from itertools import pairwise

FIRST_MONTH = 1970 * 12
LAST_MONTH = 2100 * 12

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


Span = tuple[int, int | None]
"""The first and the last month of a pause; None while it lasts."""


def read_months(text: str) -> tuple[int, ...]:
    """Months and ranges: '2026-01..2026-06, 2026-08'.

    Raises: BadMonth with a sentence.
    """
    found: set[int] = set()
    for part in _parts(text):
        first, dots, last = part.partition("..")
        start = read_month(first)
        end = read_month(last) if dots else start
        if end < start:
            raise BadMonth(f"'{part}' runs backwards. Write the earlier month first.")
        found.update(range(start, end + 1))
    return tuple(sorted(found))


def write_months(months: Iterable[int]) -> str:
    """Months as ``read_months`` reads them, runs drawn together."""
    runs: list[list[int]] = []
    for month in sorted(set(months)):
        if runs and month == runs[-1][-1] + 1:
            runs[-1].append(month)
        else:
            runs.append([month])
    return write_spans((run[0], run[-1]) for run in runs)


def read_spans(text: str) -> tuple[Span, ...]:
    """Pauses: '2026-01..2026-03, 2026-05, 2026-09..', the last of them open.

    Raises: BadMonth with a sentence, also when two overlap.
    """
    found: list[Span] = []
    for part in _parts(text):
        first, dots, last = part.partition("..")
        start = read_month(first)
        end = (read_month(last) if last else None) if dots else start
        if end is not None and end < start:
            raise BadMonth(f"'{part}' runs backwards. Write the earlier month first.")
        found.append((start, end))
    found.sort(key=lambda span: span[0])
    for (start, end), (after, _) in pairwise(found):
        if end is None or end >= after:
            raise BadMonth(
                f"The pause from {month_name(start)} runs into the one from {month_name(after)}."
                " End it before, or make one of the two."
            )
    return tuple(found)


def write_spans(spans: Iterable[Span]) -> str:
    """Pauses as ``read_spans`` reads them."""
    return ", ".join(
        month_text(first)
        if first == last
        else f"{month_text(first)}..{'' if last is None else month_text(last)}"
        for first, last in spans
    )


def span_words(span: Span) -> str:
    """A pause as people say it."""
    first, last = span
    if last is None:
        return f"from {month_name(first)} on"
    return month_name(first) if first == last else f"{month_name(first)} to {month_name(last)}"


def covered(spans: Iterable[Span], month: int) -> bool:
    """Does a pause cover this month?"""
    return any(first <= month and (last is None or month <= last) for first, last in spans)


def _parts(text: str) -> list[str]:
    return text.replace(";", ",").replace(",", " ").split()
