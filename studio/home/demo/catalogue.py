"""Who is the demo studio, what fires there, and what does it make?"""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User

from studio.firings.models import Circuit, Kiln, Run, Schedule, Segment, TrialRule
from studio.home.demo.fixture import Clock, read
from studio.parcels.models import Tier, TurnRule
from studio.planning.models import DayOff, Hands, PlanRule
from studio.wares.models import ClayLot, Coat, Coats, Form, Glaze, Line
from studio.web.models import Studio

PASSWORD = "slip-and-trim-7"
"""Printed by the demo command; the demo listens on this computer alone."""


def build_studio(*, clock: Clock) -> User:
    """Make the studio's row, its people and its rules; answer the potter."""
    data = read("studio.json")
    Studio.objects.create(id=1, **data["studio"])
    people = [User.objects.create_user(password=PASSWORD, **row) for row in data["people"]]
    Hands.objects.bulk_create(Hands(**row) for row in data["hands"])
    DayOff.objects.bulk_create(
        DayOff(date=clock.day(row["day"]), why=row["why"]) for row in data["days_off"]
    )
    PlanRule.objects.create(id=1, **data["rule"])
    TrialRule.objects.create(id=1, **data["trial_rule"])
    TurnRule.objects.create(id=1, **data["turn_rule"])
    Tier.objects.bulk_create(Tier(**row) for row in data["tiers"])
    return people[0]


def build_kilns() -> None:
    """Make circuits, kilns, schedules with their segments, and runs."""
    data = read("kilns.json")
    circuits = {row["name"]: Circuit.objects.create(**row) for row in data["circuits"]}
    kilns = {
        row["name"]: Kiln.objects.create(**{**row, "circuit": circuits[row["circuit"]]})
        for row in data["kilns"]
    }
    schedules = {row["name"]: _schedule(row) for row in data["schedules"]}
    Run.objects.bulk_create(
        Run(**{**row, "kiln": kilns[row["kiln"]], "schedule": schedules[row["schedule"]]})
        for row in data["runs"]
    )


def _schedule(row: dict[str, Any]) -> Schedule:
    segments = row.pop("segments")
    schedule = Schedule.objects.create(**row)
    Segment.objects.bulk_create(
        Segment(schedule=schedule, seq=seq, rate_c_per_h=rate, target_c=target, hold_min=hold)
        for seq, (rate, target, hold) in enumerate(segments, 1)
    )
    return schedule


def build_wares(*, clock: Clock) -> None:
    """Make forms, clay lots, glazes, coats and lines."""
    data = read("wares.json")
    for row in data["forms"]:
        Form.objects.create(**row)
    for row in data["clay_lots"]:
        ClayLot.objects.create(received_date=clock.day(row.pop("received_day")), **row)
    for row in data["glazes"]:
        Glaze.objects.create(mixed_date=clock.day(row.pop("mixed_day")), **row)
    for row in data["coats"]:
        _coats(row)
    for row in data["lines"]:
        line_parts = find_line_parts(row["form"], row["clay_lot"], row["coats"], row["schedule"])
        Line.objects.create(**line_parts, standing=row["standing"])


def _coats(row: dict[str, Any]) -> None:
    layers = row.pop("layers")
    coats = Coats.objects.create(**row)
    for seq, (glaze, reach_mm) in enumerate(layers, 1):
        Coat.objects.create(
            coats=coats, seq=seq, glaze=Glaze.objects.get(name=glaze), reach_mm=reach_mm
        )


def find_line_parts(form: str, clay_lot: str, coats: str, schedule: str) -> dict[str, Any]:
    """Answer the rows that a line of the fixture names."""
    return {
        "form": Form.objects.get(name=form),
        "clay_lot": ClayLot.objects.get(lot=clay_lot),
        "coats": Coats.objects.get(name=coats),
        "schedule": Schedule.objects.get(name=schedule),
    }


def find_line(form: str, clay_lot: str, coats: str, schedule: str) -> Line:
    """Answer a line of the fixture."""
    return Line.objects.get(**find_line_parts(form, clay_lot, coats, schedule))
