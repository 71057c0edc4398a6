"""Are last days counted back right, as a person would count them on a wall calendar?"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.craft.calendar import (
    NoSuchDay,
    last_day,
    latest_throw_date,
    lead_time,
    slack_days,
)
from studio.craft.problem import Load

SALE = date(2026, 4, 4)
"""A Saturday."""


def is_weekday(day: date) -> bool:
    return day.weekday() < 5


def test_a_mug_for_a_sale_counted_back_by_hand() -> None:
    lead = lead_time(
        due_date=SALE, buffer_days=4, drying_days=7, bisque_busy_days=2, glaze_busy_days=2
    )
    assert lead.there_date == date(2026, 3, 31)  # 4 April - 4 buffer
    assert lead.finishing_date == date(2026, 3, 30)  # the day before
    assert lead.glaze_start_date == date(2026, 3, 28)  # 30 - 2 busy
    assert lead.glazing_date == date(2026, 3, 27)  # the day before it is loaded
    assert lead.bisque_start_date == date(2026, 3, 25)  # 27 - 2 busy
    assert lead.throw_date == date(2026, 3, 18)  # 25 - 7 drying
    assert lead.days == 7 + 2 + 1 + 2 + 1


def test_days_off_push_every_step_back() -> None:
    lead = lead_time(
        due_date=SALE,
        buffer_days=4,
        drying_days=7,
        bisque_busy_days=2,
        glaze_busy_days=2,
        may_throw=is_weekday,
        may_start=is_weekday,
        may_glaze=is_weekday,
        may_finish=is_weekday,
    )
    assert lead.finishing_date == date(2026, 3, 30)  # Monday
    assert lead.glaze_start_date == date(2026, 3, 27)  # the 28th is a Saturday: Friday
    assert lead.glazing_date == date(2026, 3, 26)  # Thursday
    assert lead.bisque_start_date == date(2026, 3, 24)  # Tuesday
    assert lead.throw_date == date(2026, 3, 17)  # Tuesday a week before


@given(
    buffer=st.integers(0, 10),
    drying=st.integers(1, 21),
    bisque=st.integers(1, 4),
    glaze=st.integers(1, 4),
)
def test_without_days_off_it_is_one_sum(buffer: int, drying: int, bisque: int, glaze: int) -> None:
    found = latest_throw_date(
        due_date=SALE,
        buffer_days=buffer,
        drying_days=drying,
        bisque_busy_days=bisque,
        glaze_busy_days=glaze,
    )
    assert found == SALE - timedelta(days=buffer + 1 + glaze + 1 + bisque + drying)


def test_no_day_at_all_is_said() -> None:
    with pytest.raises(NoSuchDay, match="no day allows throwing on or before 2026-04-04") as caught:
        last_day(on_or_before=SALE, may_do=lambda _: False, step="throwing")
    assert (caught.value.step, caught.value.before_date) == ("throwing", SALE)


def test_slack_of_a_load() -> None:
    load = Load(
        kiln_key="big",
        schedule_key="cone 6",
        start_date=date(2026, 3, 24),
        busy_days=2,
        contents=(("blue", 1),),
    )  # open on 26 March; finished that day, there on the 27th; wanted on the 31st
    assert slack_days(load=load, due_date=SALE, buffer_days=4) == 4
    # a bisque load that is open then: glazed 26, fired 27 to 29, finished 29, there on the 30th
    assert slack_days(load=load, due_date=SALE, buffer_days=4, days_after=2 + 2) == 1
