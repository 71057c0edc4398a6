"""Which shelves and posts have the demo's kilns, and which of its loads are drawn?"""

from __future__ import annotations

from datetime import datetime
from typing import Final

from django.contrib.auth.models import User
from django.utils import timezone

from studio.firings import services as firings
from studio.firings.models import Firing, Kiln, Spot
from studio.firings.selectors import Furniture, furniture_of
from studio.home.demo.fixture import Clock, read
from studio.web.refusal import Refusal

DRAWN_FROM_DAY: Final = -48
"""Loads before this day were not drawn yet: the studio began to do so about seven weeks ago."""
PAST_STEPS: Final = 1_500


def furnish(*, clock: Clock, by: User) -> None:
    """Write down the shelves, posts and thermocouple of each kiln."""
    for row in read("furniture.json")["furniture"]:
        kiln = Kiln.objects.get(name=row["kiln"])
        side, probe_in_mm, height_mm = row["probe"]
        probe = {"probe_side": side, "probe_in_mm": probe_in_mm, "probe_height_mm": height_mm}
        firings.save_furniture(
            kiln=kiln,
            furniture=Furniture(
                values=furniture_of(kiln).values | probe,
                shelves=[(kind, thick, count) for kind, thick, count in row["shelves"]],
                posts=[(height, count) for height, count in row["posts"]],
            ),
            by=by,
            at=clock.at(DRAWN_FROM_DAY, 9),
        )


def draw_load(firing: Firing, *, day: int, by: User, at: datetime) -> None:
    """Draw the load of a firing of the past, once the studio had begun to draw them."""
    if day < DRAWN_FROM_DAY:
        return
    ready = firings.prepare_sheet(firing=firing, steps=PAST_STEPS)
    firings.keep_sheet(firing=firing, ready=ready, by=by, at=at)


def draw_next(*, by: User) -> Firing | None:
    """Draw the load of the planned firing that is next in line."""
    firing = Firing.objects.filter(state=Firing.State.PLANNED).order_by("start_date", "id").first()
    if firing is not None:
        ready = firings.prepare_sheet(firing=firing)
        firings.keep_sheet(firing=firing, ready=ready, by=by, at=timezone.now())
        _move_one(firing, by=by)
    return firing


def _move_one(firing: Firing, *, by: User) -> None:
    """One piece stands elsewhere than it was drawn: in the first part of its level with room."""
    spot = Spot.objects.filter(sheet__firing=firing, what=Spot.What.WARE, tier=0).first()
    if spot is None:
        return
    for part in ("middle", "right", "left", "front", "back"):
        try:
            firings.put_at(
                spot=spot, seen=spot.seq, level=spot.level, part=part, by=by, at=timezone.now()
            )
        except Refusal:
            continue
        return
