"""What did the demo's potter see of the firings, what did the meter say, and the laboratory?

The pictures are drawn, and plainly so: there was no camera.
"""

from __future__ import annotations

from datetime import time
from decimal import Decimal
from pathlib import Path
from typing import Any, cast

from django.conf import settings
from django.contrib.auth.models import User

import studio.firings.services as firings
import studio.wares.services as wares
from studio.drawing.photos import keep_photo
from studio.drawing.portraits import Silhouette, portrait
from studio.firings.models import Firing, Place, Run
from studio.firings.selectors import kin_of
from studio.home.demo.catalogue import find_line
from studio.home.demo.fixture import Clock, read
from studio.wares.models import Glaze, Piece

WARES_A_FIRING = 3


def set_prices(*, clock: Clock, by: User) -> None:
    """Say what one kWh costs, before the first kiln is opened."""
    price = read("results.json")["price_hundredths"]
    firings.set_tariff(price_hundredths=price, by=by, at=clock.at(-99, 9))


def set_hours(*, clock: Clock, by: User) -> None:
    """Say when kilns are lit and when it is night: planned firings then tell who must be awake."""
    hours = {name: time.fromisoformat(at) for name, at in read("results.json")["hours"].items()}
    firings.set_night_rule(**hours, by=by, at=clock.at(-99, 9))


def read_meter(firing: Firing, event: dict[str, Any]) -> firings.Energy:
    """The meter of a kiln that has one, before and after; nothing of the others."""
    start = read("results.json")["metered"].get(firing.kiln.name)
    run = Run.objects.get(kiln=firing.kiln, schedule=firing.schedule)
    if start is None or run.energy_wh is None:
        return firings.Energy()
    last = Firing.objects.filter(kiln=firing.kiln, meter_after_wh__isnull=False)
    before = max([start, *last.values_list("meter_after_wh", flat=True)])
    used = run.energy_wh + 400 * (event["day"] % 5 - 2)
    return firings.Energy(meter_before_wh=before, meter_after_wh=before + used)


def new_bucket(*, clock: Clock, by: User) -> None:
    """A glaze was mixed again."""
    row = read("results.json")["bucket"]
    wares.new_bucket(
        glaze=Glaze.objects.get(name=row["glaze"]),
        mixed_date=clock.day(row["day"]),
        note=row["note"],
        by=by,
        at=clock.at(row["day"], 9),
    )


def show_results(*, clock: Clock, by: User) -> None:
    """Fill the test book, file the laboratory's report, and note a bowl that crazed late."""
    data = read("results.json")
    opened = Firing.objects.filter(state="opened", is_failed=False, schedule__kind="glaze")
    for firing in opened.select_related("kiln", "schedule").order_by("opened_at"):
        _show(firing, data, clock=clock, by=by)
    for row in data["lab"]:
        _file(dict(row), clock=clock, by=by)
    late = Piece.objects.filter(
        form__name=data["craze"]["form"], coats__name=data["craze"]["coats"], grade="second"
    ).order_by("number").first()  # fmt: skip
    if late is not None:
        wares.see_fault(piece=late, fault="craze", by=by, at=clock.at(-3, 10))


def _show(firing: Firing, data: dict[str, Any], *, clock: Clock, by: User) -> None:
    assert firing.opened_at is not None
    for kin in kin_of(firing)[:WARES_A_FIRING]:
        place = kin.place
        words = data["words"].get(str(place.piece.coats), "")
        if place.outcome == Place.Outcome.LOST:
            words = data["lost_words"]
        kept = keep_photo(data=_drawn(place.piece), folder=Path(settings.MEDIA_ROOT))
        photo = firings.Kept(name=kept.name, width_px=kept.width_px, height_px=kept.height_px)
        firings.add_results(
            firing=firing, photos=[photo], words=words, place=place, by=by, at=firing.opened_at
        )


def _drawn(piece: Piece) -> bytes:
    colours = read("pictures.json")
    assert piece.coats is not None
    layers = piece.coats.layers.select_related("glaze")
    return portrait(
        silhouette=cast(Silhouette, piece.form.silhouette),
        body_colour=colours["bodies"][piece.clay_lot.body],
        glaze_colours=tuple(colours["glazes"][layer.glaze.name] for layer in layers),
        seed=0,
    )


def _file(row: dict[str, Any], *, clock: Clock, by: User) -> None:
    day, limit_day = row.pop("day"), row.pop("limit_day")
    line = find_line(*(row.pop(name) for name in ("form", "clay_lot", "coats", "schedule")))
    numbers: dict[str, Any] = {name: Decimal(row.pop(name)) for name in ("result", "limit")}
    wares.file_result(
        line=line,
        tested_date=clock.day(day),
        limit_date=clock.day(limit_day),
        **numbers,
        **row,
        by=by,
        at=clock.at(-35, 10),
    )
