"""Where does each piece of a firing stand?

Prints the drawn load sheet as a table, or whole as JSON. Ends with 1 when there is no such firing
or no drawing, and says why.
"""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.firings import selectors
from studio.firings.models import Firing


class Command(BaseCommand):
    """``manage.py load``."""

    help = "Print the load sheet of a firing: levels, posts, and a place for each piece."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("firing", type=int, help="the number in the firing's address")
        parser.add_argument("--json", action="store_true", help="print it whole, as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        firing = Firing.objects.select_related("kiln", "schedule").filter(pk=options["firing"])
        found = firing.first()
        if found is None:
            known = ", ".join(
                f"{one.pk} ({one})"
                for one in Firing.objects.filter(state__in=["planned", "loaded"])
            )
            raise CommandError(
                f"There is no firing {options['firing']}. Planned: {known or 'none'}."
            )
        drawn = selectors.drawn_load_of(found)
        if drawn is None:
            raise CommandError(f"{found} is not drawn yet: press 'Draw the load' on its page.")
        if options["json"]:
            self.stdout.write(json.dumps(_record(found, drawn), indent=1, ensure_ascii=False))
            return
        for line in _told(found, drawn):
            self.stdout.write(line)


def _record(firing: Firing, drawn: selectors.DrawnLoad) -> dict[str, Any]:
    """The whole sheet in plain values; lengths in millimetres from the kiln's middle and floor."""
    return {
        "firing": firing.pk,
        "kiln": firing.kiln.name,
        "schedule": firing.schedule.name,
        "start_date": firing.start_date.isoformat(),
        "drawn_at": drawn.sheet.drawn_at.isoformat(),
        "runny": drawn.sheet.runny,
        "handles": drawn.sheet.handles,
        "levels": [
            {
                **asdict(card.level),
                "places": [
                    {
                        "number": spot.number,
                        "what": row.what,
                        "note": row.note,
                        "ring": spot.ring,
                        "x_mm": spot.x_mm,
                        "y_mm": spot.y_mm,
                        "turn_deg": spot.turn_deg,
                        "tier": spot.tier,
                        "board": spot.place.board.label if spot.place else None,
                    }
                    for row in card.rows
                    for spot in row.spots
                ],
            }
            for card in drawn.levels
        ],
        "left_out": [{"what": what, "count": count} for what, count in drawn.left_out],
    }


def _told(firing: Firing, drawn: selectors.DrawnLoad) -> Iterator[str]:
    yield f"{firing}: {drawn.pieces} pieces on {len(drawn.levels)} levels, from the bottom up"
    rows = [
        (str(card.level.number), row.numbers, str(row.count), row.what, row.note)
        for card in drawn.levels
        for row in card.rows
    ]
    heads = ("Level", "Places", "Count", "Ware", "")
    widths = [max(len(row[i]) for row in [heads, *rows]) for i in range(len(heads))]
    for row in [heads, *rows]:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
        yield ("  " + "  ".join(cells)).rstrip()
    for card in drawn.levels:
        yield card.words
    for what, count in drawn.left_out:
        yield f"No place was found for {count} {what}."
