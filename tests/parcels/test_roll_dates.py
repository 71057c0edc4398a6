"""Is a day or month of a file read when it can be only one, and refused when it may be two?"""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.parcels.roll_dates import BadDay, as_written, read_day, read_month_of
from studio.parcels.roll_row import Known, RowReader
from studio.parcels.roll_words import field_words
from studio.parcels.rules import BadMonth, month_of, month_text, read_month, read_spans

NOVEMBER = read_month("2026-11")


@pytest.mark.parametrize(
    "text",
    [
        # ISO 8601-1 (2019), complete calendar date, extended format; and with a time behind it
        "2026-11-25", "2026-11-25T10:30:00Z", "2026-11-25 10:30", "2026/11/25", "2026.11.25",
        "25/11/2026", "11/25/2026", "25.11.2026", "25-11-2026", "25 Nov 2026", "25 november 2026",
        "Nov 25, 2026", "November 25 2026", "25-Nov-2026", "25th November 2026", "25. Nov 2026",
    ],
)  # fmt: skip
def test_one_day(text: str) -> None:
    assert read_day(text) == date(2026, 11, 25)
    assert read_month_of(text) == NOVEMBER


@pytest.mark.parametrize(
    "text", ["2026-11", "2026/11", "11/2026", "11.2026", "11-2026", "Nov 2026", "NOVEMBER 2026",
             "2026 Nov", "Nov-2026", "Nov, 2026"],
)  # fmt: skip
def test_one_month(text: str) -> None:
    assert read_month_of(text) == NOVEMBER


def test_what_may_be_two_days_is_refused_with_both() -> None:
    for text in ("03/04/2026", "3.4.2026", "3-4-2026"):
        with pytest.raises(BadDay) as refused:
            read_day(text)
        assert str(refused.value) == (
            f"'{text}' may be 3 April or 4 March. Write it as 2026-04-03 or 2026-03-04."
        )
        with pytest.raises(BadMonth, match="may be 3 April or 4 March"):
            read_month_of(text)
    assert read_day("05/05/2026") == date(2026, 5, 5)  # either way round it is one day
    assert read_day("4 March 2026") == date(2026, 3, 4)


@pytest.mark.parametrize(
    "text",
    ["25/11/26", "Nov-26", "31/02/2026", "2026-13-01", "13/13/2026", "46351", "soon", "Nov 25",
     "25 Brumaire 2026", "1 2 2026", "25 Nov 2026 2027", "Nov ²²²²"],
)  # fmt: skip
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(BadDay, match=r"is no date\. Write it as 2026-11-30"):
        read_day(text)
    with pytest.raises(BadMonth, match=r"is no month\. Write year and month, such as 2026-12"):
        read_month_of(text)


def test_a_month_far_away_is_out_of_range() -> None:
    with pytest.raises(BadMonth, match="months run from 1970 to 2099"):
        read_month_of("Nov 1926")


def test_lists_of_months_are_read_in_these_forms_too() -> None:
    assert as_written("2026-01..2026-06, 2026-08") == "2026-01..2026-06, 2026-08"
    assert as_written("2026-01 2026-03") == "2026-01 2026-03"
    assert as_written("Nov 2026; 12/2026..Feb 2027") == "2026-11, 2026-12..2027-02"
    assert read_spans(as_written("Sep 2026..")) == ((NOVEMBER - 2, None),)
    with pytest.raises(BadMonth, match="'perhaps' is no month"):
        as_written("2026-01, perhaps")


@given(st.dates(date(1970, 1, 1), date(2099, 12, 31)))
def test_every_day_is_read_as_itself_or_not_at_all(day: date) -> None:
    for text in (f"{day:%Y-%m-%d}", f"{day:%d %b %Y}", f"{day:%B %d, %Y}"):
        assert read_day(text) == day
    for text in (f"{day:%d/%m/%Y}", f"{day:%m/%d/%Y}", f"{day:%d.%m.%Y}"):
        try:
            assert read_day(text) == day
        except BadDay:
            assert day.day <= 12
            assert day.day != day.month
    assert read_month_of(f"{day:%b %Y}") == month_of(day)
    assert as_written(month_text(month_of(day))) == month_text(month_of(day))


def test_a_row_names_its_field_in_words() -> None:
    known = Known.of(tiers=["Cup"], forms=[], this_month=NOVEMBER)
    texts = {
        "number": "7", "name": "Ada", "tier": "Cup", "country": "GB",
        "joined_month": "03/04/2026", "address_confirmed_date": "25/11/26",
    }  # fmt: skip
    assert RowReader(2, texts, known).causes == [
        "Row 2, month of joining: '03/04/2026' may be 3 April or 4 March."
        " Write it as 2026-04-03 or 2026-03-04.",
        "Row 2, address confirmed on: '25/11/26' is no date. Write it as 2026-11-30.",
    ]
    right = {**texts, "joined_month": "Apr 2026", "address_confirmed_date": "25.11.2026"}
    values = RowReader(2, right, known).values
    assert values["joined_month"] == read_month("2026-04")
    assert values["address_confirmed_date"] == date(2026, 11, 25)
    assert field_words("street_address") == "street address"
