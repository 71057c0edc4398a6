"""Put a copy of the studio back; what stood there is moved aside, not lost."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from studio.home.backup import BadCopy, put_back
from studio.home.tables import known_migrations


class Command(BaseCommand):
    help = "Put a copy made by the backup command back. Stop the server first."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--server-is-stopped",
            action="store_true",
            help="say so: a running server would write into the file that is moved aside",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor != "sqlite":
            raise CommandError("This studio is on PostgreSQL: use pg_restore.")
        if not options["server_is_stopped"]:
            raise CommandError("Stop the server, then say so with --server-is-stopped.")
        database = Path(connection.settings_dict["NAME"])
        connection.close()
        now = timezone.localtime()
        try:
            old = put_back(
                copy=options["file"].absolute(),
                database=database,
                photos=Path(settings.MEDIA_ROOT),
                aside=f"replaced-{now:%Y%m%d-%H%M%S}",
                known=known_migrations(),
            )
        except BadCopy as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(f"{options['file']} is in place.")
        if old:
            self.stdout.write(f"What stood there is kept in {old}.")
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            self.stdout.write("It is of an older Wareboard. Run: python manage.py migrate")
