"""Which cone has a firing reached, by a file of its readings?

Reads the file alone: no database is asked. Prints a few lines, or all of it as JSON with every row
that was left out or put right. Ends with 1 when the file cannot be read; the cause is told.
"""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.craft.firing_log import BadLogFile, ReadLog, Sensor, gap_words, read_log
from studio.craft.heat_work import SPREAD_CONES, BadLog, ConeReached, Stand, cone_reached
from studio.craft.quantities import show_temperature

MOST_SHOWN = 20


class Command(BaseCommand):
    """``manage.py cone LOG.csv``."""

    help = "Say which cone a firing reached, from a CSV file of its readings."
    requires_system_checks: list[str] = []  # Django's own name

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the readings: times and temperatures")
        parser.add_argument("--json", action="store_true", help="print everything as JSON")
        parser.add_argument(
            "--unit", choices=["C", "F"], help="of temperatures whose file does not say it"
        )
        parser.add_argument("--sensor", default="", help="the heading of the column that counts")
        parser.add_argument(
            "--offset", type=float, default=0.0, help="[°C] added to every reading of it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            data = options["file"].read_bytes()
        except OSError as problem:
            raise CommandError(
                f"{options['file']} cannot be read: {problem.strerror}."
            ) from problem
        try:
            log = read_log(data, unit=options["unit"], zone=timezone.get_current_timezone())
            sensor = log.sensor(options["sensor"])
            reached = cone_reached(
                times_h=sensor.times_h.tolist(),
                temps_c=sensor.temps_c.tolist(),
                offset_c=options["offset"],
            )
        except (BadLogFile, BadLog) as problem:
            raise CommandError(str(problem)) from problem
        if options["json"]:
            said = _as_json(log, sensor, reached, offset_c=options["offset"])
            self.stdout.write(json.dumps(said, indent=2, ensure_ascii=False))
        else:
            for line in _as_text(log, sensor, reached, unit=options["unit"] or sensor.unit):
                self.stdout.write(line)


def _as_text(log: ReadLog, sensor: Sensor, reached: ConeReached, *, unit: Any) -> list[str]:
    lines = [
        f"{sensor.name}: {log.kept} of {log.rows} rows hold a reading; {'; '.join(log.taken_as)}",
        f"Highest: {show_temperature(reached.peak_c, unit=unit)} after {reached.heated_h:.1f} h",
        f"At the end of heating: {reached.at_peak}",
        f"With the cooling, as a witness cone shows it: {reached.with_cooling}",
        f"Meant to {SPREAD_CONES:g} cone either way; clean air.",
    ]
    if reached.with_cooling.from_memory or reached.at_peak.from_memory:
        lines.append("Some values of the chart used here are from memory.")
    lines += [f"Row {gap.row}: {gap_words(gap)}" for gap in log.gaps]
    lines += [
        f"Row {one.row}: {one.reason}{' (kept)' if one.kept else ''}"
        for one in log.named[:MOST_SHOWN]
    ]
    if len(log.named) > MOST_SHOWN:
        lines.append(f"And {len(log.named) - MOST_SHOWN} more rows; --json names them all.")
    return lines


def _as_json(
    log: ReadLog, sensor: Sensor, reached: ConeReached, *, offset_c: float
) -> dict[str, Any]:
    return {
        "sensor": sensor.name,
        "sensors": [one.name for one in log.sensors],
        "read_in": sensor.unit,
        "taken_as": log.taken_as,
        "started_at": log.started_at.isoformat() if log.started_at else None,
        "offset_c": offset_c,
        "peak_c": round(reached.peak_c, 2),
        "heated_h": round(reached.heated_h, 3),
        "at_peak": _stand(reached.at_peak),
        "with_cooling": _stand(reached.with_cooling),
        "spread_cones": SPREAD_CONES,
        "rows": log.rows,
        "kept": log.kept,
        "named": [{"row": one.row, "reason": one.reason, "kept": one.kept} for one in log.named],
        "gaps": [
            {"row": gap.row, "from_h": round(gap.from_h, 3), "hours": round(gap.hours, 3)}
            for gap in log.gaps
        ],
    }


def _stand(stand: Stand) -> dict[str, Any]:
    return {
        "cone": stand.cone,
        "next_cone": stand.next_cone,
        "part": round(stand.part, 3),
        "from_memory": stand.from_memory,
        "said": str(stand),
    }
