"""What did the demo's loggers write beside each firing, and how were its kilns cared for?

The readings follow the schedule's rows and then cool by a law of each kiln's own, with a
thermocouple's small noise; each kiln's logger writes its file in a way of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

import studio.firings.services as firings
from studio.craft.programme import CoolingLaw, cooling_h, curve
from studio.firings.models import Firing, Kiln
from studio.firings.selectors import programme_of
from studio.home.demo.fixture import Clock, read

EVERY_H = 1 / 12
"""A reading every five minutes."""


def keep_log(firing: Firing, *, name: str, by: User) -> None:
    """Write the file of an opened firing and keep it as a potter would, after the opening.

    A spoilt one has gaps or stray words, or its logger was forgotten and ran on.
    """
    data = read("care.json")
    own = data["logs"][firing.kiln.name]
    spoilt = data["spoilt"].get(name, {})
    lines = _lines(firing, own, slower=own["slower"].get(name, 1.0), spoilt=spoilt)
    assert firing.opened_at is not None
    ready = firings.prepare_log(
        data="\n".join(lines).encode(), file_name=f"{own['file']}-{name}.csv"
    )
    taken_out = timedelta(hours=spoilt.get("runs_on_h", 0), minutes=40)
    at = min(firing.opened_at + taken_out, timezone.now())
    firings.keep_log(firing=firing, ready=ready, by=by, at=at)


def look_after(row: dict[str, Any], *, clock: Clock, by: User) -> None:
    """Record that a part of a kiln was changed or looked at."""
    firings.record_care(
        kiln=Kiln.objects.get(name=row["kiln"]),
        part=row["part"],
        did=row["did"],
        on_date=clock.day(row["day"]),
        note=row["note"],
        by=by,
        at=clock.at(row["day"], 15),
    )


def _readings(
    firing: Firing, own: dict[str, Any], slower: float, runs_on_h: float
) -> Iterator[tuple[float, float]]:
    """Hours and °C from the lighting until just before the opening, or so much longer."""
    programme = programme_of(firing.schedule)
    assert programme is not None
    assert firing.lit_at is not None
    assert firing.opened_at is not None
    law = CoolingLaw(above_h=own["above_h"], below_h=own["below_h"])
    points = [(h * slower, c) for h, c in curve(programme, law=law)]
    end_h, end_c = points[-1]
    points += [
        (end_h + cooling_h(end_c, c, law=law), c)
        for c in (end_c + (25 - end_c) * step / 200 for step in range(1, 201))
    ]
    shut_h = (firing.opened_at - firing.lit_at).total_seconds() / 3600 - 0.25 + runs_on_h
    at_h, ahead = 0.0, iter(points[1:])
    (from_h, from_c), (to_h, to_c) = points[0], next(ahead)
    while at_h < shut_h:
        while to_h < at_h:
            (from_h, from_c), (to_h, to_c) = (to_h, to_c), next(ahead, (math.inf, 25.0))
        share = 0.0 if math.isinf(to_h) else (at_h - from_h) / max(to_h - from_h, 1e-9)
        noise = 0.7 * math.sin(at_h * 37) + 0.4 * math.sin(at_h * 91)
        yield at_h, from_c + share * (to_c - from_c) + noise
        at_h += EVERY_H


def _lines(
    firing: Firing, own: dict[str, Any], *, slower: float, spoilt: dict[str, Any]
) -> Iterator[str]:
    headers = {
        "minutes": "Elapsed min;Temp °F",
        "two sensors": "Date,Time,Kiln °C,Shelf °C,Set point",
        "clock": "time,temperature °C,power %",
    }
    yield headers[own["layout"]]
    assert firing.lit_at is not None
    gap = spoilt.get("gap_h", [math.inf, math.inf])
    readings = _readings(firing, own, slower, spoilt.get("runs_on_h", 0))
    for row, (hours, c) in enumerate(readings, 1):
        if gap[0] <= hours < gap[1]:
            continue
        said = spoilt.get("words", {}).get(str(row), f"{c:.1f}")
        moment = timezone.localtime(firing.lit_at + timedelta(hours=hours))
        if own["layout"] == "minutes":
            yield f"{hours * 60:.1f};{c * 1.8 + 32:.1f}"
        elif own["layout"] == "two sensors":
            yield f"{moment:%d/%m/%Y,%H:%M:%S},{said},{c - 6 + c / 250:.1f},{c:.0f}"
        else:
            yield f"{moment:%Y-%m-%d %H:%M},{said},40"
