"""Make the fictional studio anew, plan its sale, print its papers, and serve it."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.home.demo.build import build
from studio.home.demo.catalogue import PASSWORD
from studio.home.demo.fresh import NotADemo, start_fresh
from studio.home.demo.loads import draw_next
from studio.home.demo.papers import write_papers
from studio.home.demo.replan import lose_a_board, plan_again
from studio.planning.selectors import plan_page
from studio.planning.services.seek import LONGEST_SECONDS


class Command(BaseCommand):
    """``manage.py demo``."""

    help = "A fictional studio, fresh each time: its plan as a table, its papers, its pages."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="stop before serving")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--seconds", type=float, default=2, help="how long to look for a plan")

    def handle(self, *args: Any, **options: Any) -> None:
        data, seconds = Path(settings.DATA), options["seconds"]
        if not 0 < seconds <= LONGEST_SECONDS:
            raise CommandError(
                f"--seconds must be above 0 and at most {LONGEST_SECONDS:.0f}, not {seconds:g}."
            )
        try:
            start_fresh(data=data)
        except NotADemo as refused:
            raise CommandError(str(refused)) from refused
        today_date = timezone.localdate()
        self.stdout.write("Making a studio with three months behind it ...")
        potter = build(today_date=today_date)
        self.stdout.write("Working the plan back from its sale ...\n")
        call_command(
            "backplan",
            accept=True,
            by=potter.get_username(),
            seconds=seconds,
            stdout=self.stdout,
            stderr=self.stderr,
        )
        draw_next(by=potter)
        self.stdout.write(f"\nSince then: {lose_a_board(by=potter)}")
        again = plan_again(by=potter, seconds=seconds)
        page = plan_page(backplan=again, now=timezone.now())
        self.stdout.write(f"Worked out again, for the potter to take or not: {page.headline}")
        for change in page.changes:
            self.stdout.write(f"  {change}")
        self.stdout.write("\nPapers:")
        for path in write_papers(folder=data / "papers", today_date=today_date):
            self.stdout.write(f"  {path}")
        self.stdout.write(f"\nSign in as {potter.get_username()} with {PASSWORD}")
        if options["no_serve"]:
            self.stdout.write(f"Serve it with: WAREBOARD_DATA={data} python manage.py serve")
            return
        call_command("serve", port=options["port"])
