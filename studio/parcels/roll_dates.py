"""Which day or month does a cell of somebody's file mean, when it can mean only one?

1. A year has four figures: '25/11/26' may be 1926, and 'Nov-26' a day; both are refused.
2. Of two figures before or after it, the one above 12 is the day: '25/11/2026', '11/25/2026' and
   '25.11.2026' are one day, '03/04/2026' may be two and is refused with both.
3. A month by its English name is never in doubt: '3 April 2026', 'Apr 3, 2026', 'April 2026'.
"""

from __future__ import annotations

import re
from datetime import date

from studio.parcels.rules.months import BadMonth, month_of, month_text, read_month

_NAMES = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]
_MONTHS = {name: n for n, name in enumerate(_NAMES, start=1)}
_MONTHS |= {name[:3]: n for name, n in _MONTHS.items()} | {"sept": 9}
_TIME = re.compile(r"(?<=\d)[T ]\d{1,2}:\d{2}.*$")
_ORDINAL = re.compile(r"(?<=\d)(st|nd|rd|th)\b", re.IGNORECASE)
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_YEAR_LAST = re.compile(r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})")
_MONTH_YEAR = re.compile(r"(?:(\d{4})[-/.](\d{1,2})|(\d{1,2})[-/.](\d{4}))")
_SPAN = re.compile(r"\s*\.\.\s*")


class BadDay(ValueError):
    """A text that is no day, or may be two. The text of the error says what to write."""


def read_day(text: str) -> date:
    """The one day that a cell can mean.

    Raises: BadDay with a sentence.
    """
    plain = _plain(text)
    found = _YEAR_FIRST.fullmatch(plain)
    if found is not None:
        return _day(text, int(found[1]), int(found[2]), int(found[3]))
    found = _YEAR_LAST.fullmatch(plain)
    if found is None:
        return _named_day(text, plain)
    one, other, year = int(found[1]), int(found[2]), int(found[3])
    if one > 12:
        return _day(text, year, other, one)
    if other > 12 or one == other:
        return _day(text, year, one, other)
    first, second = _day(text, year, other, one), _day(text, year, one, other)
    raise BadDay(
        f"'{text}' may be {_said(first)} or {_said(second)}. Write it as {first} or {second}."
    )


def read_month_of(text: str) -> int:
    """The one month that a cell can mean, also when a whole day stands in it.

    Raises: BadMonth with a sentence.
    """
    plain = _plain(text)
    found = _MONTH_YEAR.fullmatch(plain)
    if found is not None:
        year, month = (found[1], found[2]) if found[1] else (found[4], found[3])
        return _month(text, int(year), int(month))
    words = plain.replace("-", " ").replace(",", " ").split()
    named = [_MONTHS[word.casefold()] for word in words if word.casefold() in _MONTHS]
    years = [int(word) for word in words if re.fullmatch("[0-9]{4}", word)]
    if len(words) == 2 and len(named) == len(years) == 1:
        return _month(text, years[0], named[0])
    try:
        return month_of(read_day(text))
    except BadDay as problem:
        if " may be " in str(problem):
            raise BadMonth(str(problem)) from None
    raise BadMonth(f"'{text}' is no month. Write year and month, such as 2026-12.")


def as_written(text: str) -> str:
    """A list of months or of spans as ``rules.read_months`` and ``rules.read_spans`` take it.

    'Nov 2026, Jan 2027..03/2027' becomes '2026-11, 2027-01..2027-03'; what is so already stays.

    Raises: BadMonth with a sentence.
    """
    parts = [part.strip() for part in re.split(r"[,;\n]", text) if part.strip()]
    return ", ".join(_part(part) for part in parts)


def _part(text: str) -> str:
    if all(re.fullmatch(r"[\d.-]+", word) and "-" in word for word in text.split()):
        try:
            for word in text.split():
                for month in filter(None, word.split("..")):
                    read_month(month)
        except BadMonth:
            pass
        else:
            return text
    ends = _SPAN.split(text, maxsplit=1)
    return "..".join(month_text(read_month_of(end)) if end else "" for end in ends)


def _plain(text: str) -> str:
    return _ORDINAL.sub("", _TIME.sub("", " ".join(text.split())))


def _named_day(text: str, plain: str) -> date:
    words = plain.replace("-", " ").replace(",", " ").replace(".", " ").split()
    named = [_MONTHS[word.casefold()] for word in words if word.casefold() in _MONTHS]
    figures = [word for word in words if word.isascii() and word.isdigit()]
    years = [int(word) for word in figures if len(word) == 4]
    days = [int(word) for word in figures if len(word) <= 2]
    if len(words) == 3 and len(named) == len(years) == len(days) == 1:
        return _day(text, years[0], named[0], days[0])
    raise BadDay(f"'{text}' is no date. Write it as 2026-11-30.")


def _day(text: str, year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise BadDay(f"'{text}' is no date. Write it as 2026-11-30.") from None


def _month(text: str, year: int, month: int) -> int:
    if not 1 <= month <= 12:
        raise BadMonth(f"'{text}' is no month. Write year and month, such as 2026-12.")
    return read_month(f"{year}-{month:02d}")


def _said(day: date) -> str:
    return f"{day.day} {_NAMES[day.month - 1].capitalize()}"
