"""Make the fictional studio anew, plan its sale, print its papers, and serve it."""

from __future__ import annotations

import shutil
import sqlite3
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from studio.home.demo.build import build
from studio.home.demo.catalogue import PASSWORD
from studio.home.demo.papers import write_papers

DEMO_ID = 0x504F5473
"""SQLite's application id of a demo database. It stands in the database itself, so a studio of
one's own that is put in the demo's place is not taken for one."""

NOT_EMPTY = (
    "There is a studio in {where} already, and it is not a demo. Nothing was changed. "
    "Give the demo a folder of its own: WAREBOARD_DATA=some/new/folder."
)


class Command(BaseCommand):
    """``manage.py demo``."""

    help = "A fictional studio, fresh each time: its plan as a table, its papers, its pages."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="stop before serving")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--seconds", type=float, default=8, help="how long to look for a plan")

    def handle(self, *args: Any, **options: Any) -> None:
        data = Path(settings.DATA)
        self._start_fresh(data)
        today_date = timezone.localdate()
        self.stdout.write("Making a studio with three months behind it ...")
        potter = build(today_date=today_date)
        self.stdout.write("Working the plan back from its sale ...\n")
        call_command(
            "backplan",
            accept=True,
            by=potter.get_username(),
            seconds=options["seconds"],
            stdout=self.stdout,
            stderr=self.stderr,
        )
        self.stdout.write("\nPapers:")
        for path in write_papers(folder=data / "papers", today_date=today_date):
            self.stdout.write(f"  {path}")
        self.stdout.write(f"\nSign in as {potter.get_username()} with {PASSWORD}")
        if options["no_serve"]:
            self.stdout.write(f"Serve it with: WAREBOARD_DATA={data} python manage.py serve")
            return
        call_command("serve", port=options["port"])

    def _start_fresh(self, data: Path) -> None:
        """Empty the demo's own database; refuse any other that holds something."""
        is_sqlite = connection.vendor == "sqlite"
        database = Path(connection.settings_dict["NAME"])
        # A database that lies elsewhere (DATABASE_URL) is never the demo's to remove.
        if is_sqlite and database.parent == data and _is_a_demo(database):
            connection.close()
            for end in ("", "-wal", "-shm"):
                database.with_name(database.name + end).unlink(missing_ok=True)
            shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)
            shutil.rmtree(data / "papers", ignore_errors=True)
        call_command("migrate", verbosity=0)
        if User.objects.exists():
            raise CommandError(NOT_EMPTY.format(where=connection.settings_dict["NAME"]))
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
