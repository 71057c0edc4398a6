"""Why may a box or a setting of the post not be kept so?"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

MOST_SIDE_MM = 2000
MOST_BOX_G = 20_000


def can_keep_box(
    *, name: str, taken: bool, sides_mm: tuple[int, int, int], wall_mm: int, weight_g: int
) -> str | None:
    """May a box type be kept so?"""
    if not name:
        return "A box needs a name, such as “mug box”."
    if taken:
        return f"There is a box called {name} already."
    if not all(1 <= side <= MOST_SIDE_MM for side in sides_mm):
        return f"The inside of a box is 1 to {MOST_SIDE_MM} mm each way."
    if not 0 <= wall_mm <= 100:
        return f"A wall is 0 to 100 mm thick, not {wall_mm}."
    if not 1 <= weight_g <= MOST_BOX_G:
        return f"A box with its fill weighs 1 to {MOST_BOX_G} g, not {weight_g}."
    return None


def can_keep_settings(
    *,
    limit_source: str,
    sdr_rate: Decimal | None,
    sdr_source: str,
    sdr_date: date | None,
    limit_date: date | None,
    today_date: date,
) -> str | None:
    """May the settings of the post be kept so? Whatever moves names its source and its day."""
    if not limit_source.strip():
        return "Say where the limits stand written, so that they can be looked up again."
    if sdr_rate is not None and (not sdr_source.strip() or sdr_date is None):
        return "A rate of the SDR needs its source and its day, because it changes daily."
    for day in (limit_date, sdr_date):
        if day is not None and day > today_date:
            return f"{day.day} {day:%B %Y} is still to come. Write the day it was looked up."
    return None
