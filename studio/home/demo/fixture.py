"""What does the fixture say, and which date is "nine days ago"?"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils import timezone

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "demo"


def read(name: str) -> dict[str, Any]:
    """Answer one file of the fixture."""
    found: dict[str, Any] = json.loads((FOLDER / name).read_text(encoding="utf-8"))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Turns days from today into dates, in the studio's own time zone."""

    today_date: date

    def day(self, offset: int) -> date:
        """Answer the date so many days from today."""
        return self.today_date + timedelta(days=offset)

    def at(self, offset: int, hour: int = 9, minute: int = 0) -> datetime:
        """Answer a moment of that day, never one that has not come yet when the day has."""
        moment = timezone.make_aware(datetime.combine(self.day(offset), time(hour, minute)))
        return min(moment, timezone.now()) if offset <= 0 else moment

    def on_weekday(self, offset: int, weekday: int) -> int:
        """Answer the first such weekday (0 is Monday) from a day on, in days from today."""
        return offset + (weekday - self.day(offset).weekday()) % 7

    def month(self, ago: int) -> int:
        """Answer the month so many months ago, counted as ``year * 12 + month - 1``."""
        return self.today_date.year * 12 + self.today_date.month - 1 - ago
