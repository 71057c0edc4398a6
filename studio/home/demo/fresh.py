"""Which database may the demo empty? Only one that says itself that it is a demo's.

A file beside the database would not do: a studio of one's own that is put in the demo's place,
from a copy or by another setting, would be taken for the demo and thrown away.
"""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import DatabaseError, connection

DEMO_ID = 0x504F5473
"""SQLite's application id of a demo database."""


class NotADemo(ValueError):
    """There is something in the database that the demo must not touch."""

    def __init__(self, where: str) -> None:
        super().__init__(
            f"There is a studio in {where} already, and it is not a demo. Nothing was changed. "
            "Give the demo a folder of its own: WAREBOARD_DATA=some/new/folder."
        )


def start_fresh(*, data: Path) -> None:
    """Leave an empty, migrated database: the demo's own emptied, any other only if it is empty.

    Raises NotADemo, and then nothing was changed but for missing tables.
    """
    is_sqlite = connection.vendor == "sqlite"
    database = Path(connection.settings_dict["NAME"])
    # A database that lies elsewhere (DATABASE_URL) is never the demo's to remove.
    if is_sqlite and database.parent == data and _is_a_demo(database):
        connection.close()
        for end in ("", "-wal", "-shm"):
            database.with_name(database.name + end).unlink(missing_ok=True)
        shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)
        shutil.rmtree(data / "papers", ignore_errors=True)
    try:
        call_command("migrate", verbosity=0)
    except DatabaseError as problem:
        raise NotADemo(connection.settings_dict["NAME"]) from problem
    if User.objects.exists():
        raise NotADemo(connection.settings_dict["NAME"])
    if is_sqlite:
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA application_id = {DEMO_ID}")


def _is_a_demo(database: Path) -> bool:
    if not database.exists():
        return False
    reading = sqlite3.connect(f"file:{database}?mode=ro", uri=True)
    try:
        return bool(reading.execute("PRAGMA application_id").fetchone()[0] == DEMO_ID)
    except sqlite3.DatabaseError:
        return False
    finally:
        reading.close()
