"""Does the database hold what it acknowledges? Options can be ignored silently, so ask it."""

import pytest
from django.db import IntegrityError, connection, transaction


def pragma(name: str) -> object:
    with connection.cursor() as cursor:
        return cursor.execute(f"PRAGMA {name}").fetchone()[0]


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "sqlite", reason="PRAGMAs are SQLite's alone")
def test_sqlite_syncs_in_full_waits_its_turn_and_checks_references() -> None:
    assert pragma("journal_mode") == "wal"
    assert pragma("synchronous") == 2  # FULL: https://sqlite.org/pragma.html#pragma_synchronous
    assert pragma("foreign_keys") == 1
    assert pragma("busy_timeout") == 20000
    assert pragma("secure_delete") == 1
    assert connection.transaction_mode == "IMMEDIATE"


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="PostgreSQL's own switches")
def test_postgresql_syncs_each_commit() -> None:
    with connection.cursor() as cursor:
        for name in ("fsync", "synchronous_commit"):
            cursor.execute(f"SHOW {name}")
            assert cursor.fetchone() == ("on",)


@pytest.mark.django_db(transaction=True)
def test_a_raw_delete_cannot_leave_a_change_without_its_author(potter: object) -> None:
    from django.contrib.auth.models import User

    from studio.web.services import record

    user = User.objects.get()
    record(room="web", action="try", said="Tried", by=user)
    with (
        pytest.raises(IntegrityError),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("DELETE FROM auth_user WHERE id = %s", [user.pk])
