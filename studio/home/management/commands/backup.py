"""Copy the whole studio, database and photographs, into one file; the server may go on."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from studio.home.backup import BadCopy, copy_out


class Command(BaseCommand):
    help = "Copy the whole studio (database and photographs) into one new file."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="the new file, such as studio-monday.tar")

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor != "sqlite":
            raise CommandError(
                "This studio is on PostgreSQL: use pg_dump for it, then copy the photographs "
                f"from {settings.MEDIA_ROOT}."
            )
        database = Path(connection.settings_dict["NAME"])
        # The copy is made by its own read-only connection; ours must not stand open beside it.
        connection.close()
        try:
            copied = copy_out(
                database=database, photos=Path(settings.MEDIA_ROOT), to=options["file"].absolute()
            )
        except BadCopy as refused:
            raise CommandError(str(refused)) from refused
        except OSError as problem:
            raise CommandError(
                f"The copy could not be written ({problem.strerror}). Nothing half was left behind."
            ) from problem
        self.stdout.write(
            f"Copied the database and {copied.photos} picture files to {options['file']} "
            f"({copied.bytes / 1e6:.1f} MB). Keep it on another machine."
        )
