"""Write a month's packing slips to a file: ``manage.py slips 2026-12 --out december.pdf``.

The look at the addresses is kept, as by a command: nobody signs in here.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from studio.parcels import papers, rules, services
from studio.parcels.models import Shipment
from studio.web.refusal import Refusal


class Command(BaseCommand):
    """Packing slips of one month as a PDF. Printing marks nothing."""

    help = "Writes the packing slips of a month to a PDF file. Nothing is marked as packed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("month", metavar="MONTH", help="year and month, such as 2026-12")
        parser.add_argument(
            "--out", required=True, type=Path, metavar="FILE.pdf", help="the file to write"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        out: Path = options["out"]
        try:
            month = rules.read_month(options["month"])
            shipment = Shipment.objects.filter(month=month).first()
            if shipment is None:
                raise CommandError(_no_month(month))
            data = papers.slips_paper(shipment)
        except (rules.BadMonth, Refusal) as problem:
            raise CommandError(str(problem)) from None
        if not out.parent.is_dir():
            raise CommandError(f"There is no folder {out.parent} to write {out.name} into.")
        seen = papers.addressed(shipment)
        services.keep_looks(
            page="slips", by=services.command_user(), at=timezone.now(), parcels=seen
        )
        try:
            out.write_bytes(data)
        except OSError as problem:
            raise CommandError(f"{out} cannot be written: {problem.strerror}.") from None
        count = len(seen)
        self.stdout.write(f"Wrote {count} slip{'' if count == 1 else 's'} to {out}.")


def _no_month(month: int) -> str:
    known = Shipment.objects.order_by("-month").values_list("month", flat=True)[:6]
    there = ", ".join(rules.month_text(one) for one in reversed(known))
    has = f"There are parcels for {there}." if there else "There are no parcels of any month."
    return f"No parcels are set for {rules.month_name(month)}. {has}"
