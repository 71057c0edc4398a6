"""How are months counted, read and shown?

A month is a whole number, ``year * 12 + month - 1``, and is read and shown as 2026-12.
"""

from __future__ import annotations

import re
from datetime import date

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
