"""When is a firing lit, at its top and cool, and when must somebody be there?"""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Final

from django.utils import timezone

from studio.craft import programme as craft
from studio.craft.watch import Heat, Night, best_start, top_in_night
from studio.craft.wear import LIKE_FIRINGS
from studio.firings import rules
from studio.firings.models import Firing, FiringLog, NightRule
from studio.firings.selectors.heat import cooling_law, hours_of, programme_of, warnings_of

ROWS_OFF: Final = 0.1
"""Hours by the rows alone may be a tenth off; our own measure, no source."""
LEAST_OFF_H: Final = 0.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Watch:
    """The hours of a firing. ``better``: another time of the day without the night, if it asks."""

    start_at: datetime
    top_at: datetime
    left_at: datetime
    end_at: datetime
    early_at: datetime
    late_at: datetime
    off_h: float
    by_logs: int
    is_lit: bool
    caution: str
    better: time | None
    stays: tuple[str, ...]

    @property
    def known_from(self) -> str:
        """Where the hours of its heating come from."""
        if not self.by_logs:
            return "by its rows: no log of this schedule in this kiln yet"
        logs = "1 log" if self.by_logs == 1 else f"{self.by_logs} logs"
        return f"by {logs} of this schedule in this kiln"

    @property
    def words(self) -> str:
        """The hours on one line, for paper."""
        start, top = (timezone.localtime(at) for at in (self.start_at, self.top_at))
        return (
            f"Lit about {start:%H:%M}, at its top about {top:%H:%M, %a %d %b}: somebody is there"
            " and sees it go off."
        )


def night_rule() -> NightRule:
    """The studio's hours; before anyone has said them, an unsaved row of defaults."""
    return NightRule.objects.filter(pk=1).first() or NightRule()


def watch_of(firing: Firing, *, lit_at: datetime | None = None) -> Watch | None:
    """The hours of a firing that is not opened; None when its rows cannot tell.

    ``lit_at``: reckon as if it were lit then.
    """
    if firing.state not in ("planned", "loaded", "firing"):
        return None
    programme = programme_of(firing.schedule)
    hours = hours_of(kiln=firing.kiln, schedule=firing.schedule)
    if programme is None or hours is None:
        return None
    rule = night_rule()
    start = firing.lit_at or lit_at or _planned_start(firing, rule)
    heat, slow_h, logs = _heat(firing, programme)
    night = Night(from_min=_minutes(rule.night_from), until_min=_minutes(rule.night_until))
    local = timezone.localtime(start)
    minute = _minutes(local.time())
    lit = firing.lit_at is None and night.holds(minute)
    top = top_in_night(start_min=minute, heat=heat, night=night)
    caution = rules.in_the_night(
        lit=lit, top=top, night_from=rule.night_from, night_until=rule.night_until
    )
    better = None
    if caution and firing.lit_at is None and lit_at is None:
        best = best_start(wish_min=minute, heat=heat, night=night)
        better = None if best is None else time(best // 60, best % 60)
    end = _after(start, heat.left_h + slow_h)
    spread = hours.spread_percent / 100
    return Watch(
        start_at=start,
        top_at=_after(start, heat.top_h),
        left_at=_after(start, heat.left_h),
        end_at=end,
        early_at=_after(end, hours.cooling_h * (1 - spread)),
        late_at=_after(end, hours.cooling_h * (1 + spread)),
        off_h=heat.off_h,
        by_logs=logs,
        is_lit=firing.lit_at is not None,
        caution=caution,
        better=better,
        stays=tuple(warnings_of(firing)),
    )


def _planned_start(firing: Firing, rule: NightRule) -> datetime:
    at = firing.start_time or rule.usual_start
    return timezone.make_aware(datetime.combine(firing.start_date, at))


def _heat(firing: Firing, programme: craft.Programme) -> tuple[Heat, float, int]:
    """The hours of heating, by the kiln's own logs of the schedule or by the rows; the slow cooling
    after it; and by how many logs."""
    rows_h = craft.heating_h(programme)
    hold_h = programme.segments[programme.heating_rows - 1].hold_min / 60
    logged = FiringLog.objects.filter(
        is_away=False, firing__kiln=firing.kiln_id, firing__schedule=firing.schedule_id
    ).exclude(firing=firing)
    own = list(logged.order_by("-firing__lit_at").values_list("heated_h", flat=True)[:LIKE_FIRINGS])
    left_h = statistics.median(own) if own else rows_h
    off_h = (max(own) - min(own)) / 2 if len(own) > 1 else left_h * ROWS_OFF
    heat = Heat(top_h=max(left_h - hold_h, 0), left_h=left_h, off_h=max(off_h, LEAST_OFF_H))
    return heat, craft.slow_cooling_h(programme, law=cooling_law(firing.kiln)), len(own)


def _after(start: datetime, hours: float) -> datetime:
    """So many hours later, also over the night in which clocks change."""
    return start.astimezone(UTC) + timedelta(hours=hours)


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute
