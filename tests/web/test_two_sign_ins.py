"""Do two potters who close each other's sign-in at one moment leave one of them in?"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.web.people import open_or_close
from tests.two_at_once import told, while_held

AT = datetime(2026, 11, 20, 10, 0, tzinfo=UTC)


@pytest.mark.django_db(transaction=True)
def test_two_potters_cannot_close_each_other(potter: User, other_potter: User) -> None:
    answers = while_held(
        lambda: open_or_close(user=other_potter, active=False, by=potter, at=AT),
        lambda: open_or_close(user=potter, active=False, by=other_potter, at=AT),
    )
    assert told(answers) == "ada is the last potter's sign-in. Make another first."
    assert list(User.objects.filter(is_active=True)) == [potter]


@pytest.mark.django_db
def test_the_potters_rows_are_held_in_one_order_before_they_are_counted(
    potter: User, other_potter: User
) -> None:
    """What only PostgreSQL shows at work, asked of the questions themselves."""
    with CaptureQueriesContext(connection) as asked:
        open_or_close(user=other_potter, active=False, by=potter, at=AT)
    users = [one["sql"] for one in asked if 'FROM "auth_user"' in one["sql"]]
    assert 'ORDER BY "auth_user"."id" ASC' in users[0]
    assert "is_active" not in users[0].partition("WHERE")[2]
