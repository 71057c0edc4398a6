"""Is a sale day set and changed as asked, and is every wrong one refused in words?"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, connection, transaction

from studio.sales import selectors, services
from studio.sales.models import SaleDay, Want
from studio.sales.services.record import TIMES
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.sales import cast

NOW = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)
SALE = {
    "name": "December restock",
    "members_at": datetime(2026, 12, 4, 18, 0, tzinfo=UTC),
    "public_at": datetime(2026, 12, 5, 18, 0, tzinfo=UTC),
    "closes_at": datetime(2026, 12, 8, 18, 0, tzinfo=UTC),
    "buffer_days": 3,
    "importance": 2,
}


def make(by: User, **other: Any) -> SaleDay:
    change = services.make_sale_day(**{**SALE, **other}, by=by, at=NOW)
    return SaleDay.objects.get(id=change.subject_id)


@pytest.mark.django_db
def test_a_sale_day_is_set_and_undone(potter: User) -> None:
    day = make(potter)
    assert {field: getattr(day, field) for field in SALE} == SALE
    change = Change.objects.get(action="make_sale_day")
    assert change.said == "Set the sale day December restock for 4 Dec 2026, 18:00"
    services.undo(change=change, by=potter, at=NOW)
    assert not SaleDay.objects.exists()
    with pytest.raises(Refusal, match="This was undone already"):
        services.undo(change=change, by=potter, at=NOW)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("other", "sentence"),
    [
        ({"name": " "}, "A sale day needs a name."),
        (
            {"members_at": NOW - timedelta(hours=1)},
            "The members' hour, 2 Nov 2026, 08:00, is in the past. "
            "A sale day is set before it begins.",
        ),
        (
            {"public_at": datetime(2026, 12, 4, 17, 59, tzinfo=UTC)},
            "The public hour, 4 Dec 2026, 17:59, is before the members' hour, "
            "4 Dec 2026, 18:00. Members come first, or both at once.",
        ),
        (
            {"closes_at": datetime(2026, 12, 5, 18, 0, tzinfo=UTC)},
            "The sale would close at 5 Dec 2026, 18:00, not after the public hour, "
            "5 Dec 2026, 18:00. Leave the close empty to keep it open.",
        ),
        ({"buffer_days": 61}, "Days in hand before a sale: 0 to 60, not 61."),
        ({"importance": 0}, "How much it matters is a number from 1 to 9, not 0."),
    ],
)
def test_a_wrong_sale_day_is_refused(potter: User, other: dict[str, Any], sentence: str) -> None:
    with pytest.raises(Refusal) as refusal:
        make(potter, **other)
    assert str(refusal.value) == sentence
    assert not SaleDay.objects.exists()
    assert not Change.objects.exists()


@pytest.mark.django_db
def test_two_sale_days_have_two_names(potter: User) -> None:
    make(potter)
    with pytest.raises(Refusal, match="There is a sale day called December restock already"):
        make(potter)


@pytest.mark.django_db
def test_hours_that_stand_are_told_by_the_studio_s_clock(potter: User) -> None:
    hours = {field: SALE[field] + timedelta(days=200) for field in TIMES}
    june = make(potter, **hours)  # 22 June 2027, 18:00 UTC is 19:00 by the clock in summer
    later = {**SALE, **hours, "members_at": hours["members_at"] + timedelta(hours=1)}
    with pytest.raises(Refusal, match="began at 22 Jun 2027, 19:00; its hours stand"):
        services.change_sale_day(sale_day=june, **later, by=potter, at=hours["public_at"])


def test_hours_stand_once_it_began_but_it_may_close_later(potter: User) -> None:
    day = make(potter)
    during = datetime(2026, 12, 6, 9, 0, tzinfo=UTC)
    moved = {**SALE, "public_at": datetime(2026, 12, 7, 18, 0, tzinfo=UTC)}
    with pytest.raises(Refusal, match="began at 4 Dec 2026, 18:00; its hours stand"):
        services.change_sale_day(sale_day=day, **moved, by=potter, at=during)
    closes = {**SALE, "closes_at": datetime(2026, 12, 12, 18, 0, tzinfo=UTC)}
    change = services.change_sale_day(sale_day=day, **closes, by=potter, at=during)
    day.refresh_from_db()
    assert day.closes_at == closes["closes_at"]
    services.undo(change=change, by=potter, at=during)
    day.refresh_from_db()
    assert day.closes_at == SALE["closes_at"]


@pytest.mark.django_db
def test_a_want_is_set_changed_and_dropped(potter: User) -> None:
    day, mug = make(potter), cast.line()
    services.set_want(sale_day=day, line=mug, count=24, by=potter, at=NOW)
    change = services.set_want(sale_day=day, line=mug, count=30, by=potter, at=NOW)
    assert change.said == f"30 {mug} wanted for December restock instead of 24"
    want = Want.objects.get()
    assert want.count == 30
    services.undo(change=change, by=potter, at=NOW)
    assert Want.objects.get().count == 24
    dropped = services.drop_want(want=want, by=potter, at=NOW)
    assert not Want.objects.exists()
    with pytest.raises(Refusal, match="taken away already"):
        services.drop_want(want=want, by=potter, at=NOW)
    services.undo(change=dropped, by=potter, at=NOW)
    assert Want.objects.get().count == 24


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("count", "sentence"),
    [
        (0, "Say how many are wanted: 1 or more, not 0."),
        (-3, "Say how many are wanted: 1 or more, not -3."),
        (5001, "5001 of one line? 5000 at most."),
    ],
)
def test_a_want_counts_something(potter: User, count: int, sentence: str) -> None:
    day = make(potter)
    with pytest.raises(Refusal) as refusal:
        services.set_want(sale_day=day, line=cast.line(), count=count, by=potter, at=NOW)
    assert str(refusal.value) == sentence


@pytest.mark.django_db
def test_nothing_is_wanted_once_the_members_hour_has_come(potter: User) -> None:
    """The hour counts, not the day: a minute before is in time, the hour itself is too late."""
    day = make(potter)
    before = day.members_at - timedelta(minutes=1)
    services.set_want(sale_day=day, line=cast.line(), count=1, by=potter, at=before)
    for at in (day.members_at, day.members_at + timedelta(hours=1)):
        with pytest.raises(Refusal) as refusal:
            services.set_want(sale_day=day, line=cast.line(), count=2, by=potter, at=at)
        assert str(refusal.value) == (
            "December restock began at 4 Dec 2026, 18:00."
            " Nothing can be wanted for a sale that has begun."
        )
    today = day.members_at.date()
    assert [need.name for need in selectors.needs(today, now=before)] == [day.name]
    assert selectors.needs(today, now=day.members_at) == []
    # Without a moment the whole day counts.
    assert [need.name for need in selectors.needs(today)] == [day.name]


@pytest.mark.django_db
def test_what_was_changed_again_since_is_not_put_back(potter: User) -> None:
    who: dict[str, Any] = {"by": potter, "at": NOW}
    day, mug = make(potter), cast.line()
    first = services.change_sale_day(sale_day=day, **{**SALE, "importance": 5}, **who)
    services.change_sale_day(sale_day=day, **{**SALE, "importance": 7}, **who)
    with pytest.raises(Refusal, match="undone: December restock was changed since"):
        services.undo(change=first, **who)
    day.refresh_from_db()
    assert day.importance == 7
    wanted = services.set_want(sale_day=day, line=mug, count=24, **who)
    services.set_want(sale_day=day, line=mug, count=30, **who)
    with pytest.raises(Refusal, match="undone: it was changed since"):
        services.undo(change=wanted, **who)
    assert Want.objects.get().count == 30


@pytest.mark.django_db
def test_an_undone_sale_day_must_be_bare(potter: User) -> None:
    day = make(potter)
    services.set_want(sale_day=day, line=cast.line(), count=1, by=potter, at=NOW)
    with pytest.raises(Refusal, match="December restock has wants"):
        services.undo(change=Change.objects.get(action="make_sale_day"), by=potter, at=NOW)


@pytest.mark.django_db
def test_the_date_is_that_of_the_studio_not_of_greenwich(potter: User) -> None:
    """23:30 UTC on 4 June is 00:30 on 5 June in London's summer time (IANA tz database)."""
    late = datetime(2027, 6, 4, 23, 30, tzinfo=UTC)
    day = make(potter, members_at=late, public_at=late, closes_at=None)
    assert selectors.sale_date(day) == date(2027, 6, 5)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("public_at", "2026-12-04 17:59:00"),
        ("closes_at", "2026-12-05 18:00:00"),
        ("importance", 0),
        ("name", "Taken"),
    ],
)
def test_the_database_itself_refuses(potter: User, field: str, value: object) -> None:
    day = make(potter)
    make(potter, name="Taken")
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"UPDATE sales_saleday SET {field} = %s WHERE id = %s",
            [value, day.id],
        )


@pytest.mark.django_db
def test_the_database_refuses_a_want_of_nothing_and_a_line_twice(potter: User) -> None:
    day, mug = make(potter), cast.line()
    services.set_want(sale_day=day, line=mug, count=1, by=potter, at=NOW)
    for sql in (
        "UPDATE sales_want SET count = 0",
        "INSERT INTO sales_want (sale_day_id, line_id, count) "
        "SELECT sale_day_id, line_id, 2 FROM sales_want",
    ):
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql)
