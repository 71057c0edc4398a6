"""How does a schedule rise and fall in this kiln, and when may the kiln be opened?

Hours are reckoned from the schedule's own rows and a cooling law: the kiln's own by its logs, else
one by its size; see ``studio.craft.programme`` for what stands behind it and how far it may be off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.utils import timezone

from studio.craft import programme as craft
from studio.craft.heat_work import RUNGS, Stand, cone_reached
from studio.craft.quantities import show_rate
from studio.drawing.curve import Curve
from studio.firings import rules
from studio.firings.models import Firing, Kiln, KilnFit, Run, Schedule
from studio.web.selectors import temperature_unit

FAR_CONES: Final = 1.5
"""A cone and half a cone of spread would be too strict: schedules are meant to end a little over
their cone, for the lowest shelf. Our own measure, no source."""
LITRES_OF_A_SMALL_KILN: Final = 45
LITRES_OF_A_MIDDLE_KILN: Final = 120
LITRES_OF_A_THICK_KILN: Final = 240


@dataclass(frozen=True, kw_only=True, slots=True)
class Hours:
    """What a firing takes [h]: to the end of its rows, and from there until it may be opened."""

    to_end_h: float
    cooling_h: float
    spread_percent: int = craft.SPREAD_PERCENT

    @property
    def opening_h(self) -> float:
        """The hours from lighting until it should be cool enough to open."""
        return self.to_end_h + self.cooling_h

    @property
    def early_h(self) -> float:
        """The hours until opening when the kiln cools faster than reckoned."""
        return self.to_end_h + self.cooling_h * (1 - self.spread_percent / 100)

    @property
    def late_h(self) -> float:
        """The hours until opening when it cools slower."""
        return self.to_end_h + self.cooling_h * (1 + self.spread_percent / 100)


@dataclass(frozen=True, kw_only=True, slots=True)
class Expected:
    """When a lit kiln should end, and when it should be cool enough to open."""

    end_at: datetime | None
    opening_at: datetime
    early_at: datetime
    late_at: datetime
    open_c: float = craft.OPEN_C


def programme_of(schedule: Schedule) -> craft.Programme | None:
    """The rows of a schedule as a programme; None when it has none that can be fired."""
    steps = [
        rules.Step(rate_c_per_h=s.rate_c_per_h, target_c=s.target_c, hold_min=s.hold_min)
        for s in schedule.segments.all()
    ]
    try:
        return rules.programme(steps)
    except craft.BadProgramme:
        return None


def litres(kiln: Kiln) -> float:
    """The room inside a kiln. -> [l]; across the flats, as a circle, or width x depth for a box."""
    if kiln.sides == 4:
        floor = float(kiln.inside_width_mm) * (kiln.inside_depth_mm or kiln.inside_width_mm)
    else:
        floor = kiln.inside_width_mm**2 * math.pi / 4
    return floor * kiln.inside_height_mm / 1e6


def cooling_law(kiln: Kiln) -> craft.CoolingLaw:
    """How a kiln cools: by its own logs, else by its size."""
    fit = own_fit(kiln)
    if fit is None or not (fit.logs_above or fit.logs_below):
        return default_law(kiln)
    return craft.CoolingLaw(above_h=fit.above_h, below_h=fit.below_h)


def own_fit(kiln: Kiln) -> KilnFit | None:
    """What a kiln's own logs tell of it; None while it has none."""
    return getattr(kiln, "fit", None)


def default_law(kiln: Kiln) -> craft.CoolingLaw:
    """The default cooling of a kiln of this size, until its own logs speak."""
    size = litres(kiln)
    if size < LITRES_OF_A_SMALL_KILN:
        return craft.SMALL_KILN
    if size < LITRES_OF_A_MIDDLE_KILN:
        return craft.MIDDLE_KILN
    if size < LITRES_OF_A_THICK_KILN:
        return craft.THICK_KILN
    return craft.LARGE_KILN


def hours_of(*, kiln: Kiln, schedule: Schedule) -> Hours | None:
    """How long a schedule takes in a kiln; None when its rows cannot tell."""
    programme = programme_of(schedule)
    if programme is None:
        return None
    law, fit = cooling_law(kiln), own_fit(kiln)
    try:
        to_end = craft.heating_h(programme) + craft.slow_cooling_h(programme, law=law)
        return Hours(
            to_end_h=to_end,
            cooling_h=craft.cooling_h(programme.end_c, craft.OPEN_C, law=law),
            spread_percent=fit.spread_percent if fit is not None else craft.SPREAD_PERCENT,
        )
    except craft.BadProgramme:
        return None


def expected(firing: Firing) -> Expected | None:
    """When a lit firing should end and be cool enough to open; None when it is not lit.

    Once it is off, its cooling is counted from then. Without rows it is the morning after its busy
    days, the potter's own measure.
    """
    if firing.lit_at is None or firing.opened_at is not None:
        return None
    hours = hours_of(kiln=firing.kiln, schedule=firing.schedule)
    if hours is None:
        opening = firing.lit_at + timedelta(days=firing.busy_days)
        return Expected(end_at=None, opening_at=opening, early_at=opening, late_at=opening)
    end = firing.off_at or firing.lit_at + timedelta(hours=hours.to_end_h)
    spread = timedelta(hours=hours.cooling_h * hours.spread_percent / 100)
    opening = end + timedelta(hours=hours.cooling_h)
    return Expected(
        end_at=end, opening_at=opening, early_at=opening - spread, late_at=opening + spread
    )


def too_early(firing: Firing, *, opened_at: datetime) -> str:
    """When a lit kiln is cool enough at the earliest, in words; '' when that is past by then."""
    found = expected(firing)
    if found is None or opened_at >= found.early_at:
        return ""
    return f"{timezone.localtime(found.early_at):%H:%M on %a %d %b}"


def ended_short(firing: Firing) -> str:
    """A caution that a firing was switched off long before its rows end; '' when it was not."""
    hours = hours_of(kiln=firing.kiln, schedule=firing.schedule)
    if hours is None or firing.lit_at is None or firing.off_at is None:
        return ""
    fired = firing.off_at - firing.lit_at
    return rules.ended_short(fired_h=fired.total_seconds() / 3600, rows_h=hours.to_end_h)


def warnings_of(firing: Firing) -> list[str]:
    """What the kind, fuel and atmosphere of a firing ask of whoever lights it."""
    kind, atmosphere = firing.schedule.kind, firing.schedule.atmosphere
    fuel = firing.kiln.fuel
    said = (
        rules.no_unattended_start(kind=kind, fuel=fuel, atmosphere=atmosphere),
        rules.odd_pair(fuel=fuel, kind=kind, atmosphere=atmosphere),
    )
    return [one for one in said if one]


def curve_of(schedule: Schedule) -> Curve | None:
    """The schedule drawn, in the studio's unit; None when it has no rows to draw."""
    programme = programme_of(schedule)
    if programme is None:
        return None
    try:
        points = craft.curve(programme)
    except craft.BadProgramme:
        return None
    return Curve.of(points, unit=temperature_unit(), title=f"{schedule}: the programme")


@dataclass(frozen=True, kw_only=True, slots=True)
class StepRow:
    """A row of a schedule as a table shows it, in the studio's unit."""

    number: int
    rate: str
    target_c: float
    hold_min: int


def steps_of(schedule: Schedule) -> list[StepRow]:
    """The rows of a schedule in words."""
    rows, before = [], craft.LOWEST_TARGET_C
    for number, segment in enumerate(schedule.segments.all(), start=1):
        cools = segment.target_c < before
        rate = "freely" if cools else "as fast as it can"
        if segment.rate_c_per_h is not None:
            rate = show_rate(segment.rate_c_per_h, unit=temperature_unit())
        rate = f"down {rate}" if cools else rate
        rows.append(
            StepRow(
                number=number,
                rate=rate,
                target_c=segment.target_c,
                hold_min=segment.hold_min,
            )
        )
        before = segment.target_c
    return rows


def reaches(*, kiln: Kiln, schedule: Schedule) -> Stand | None:
    """The cone that a schedule should reach in a kiln with the cooling; None without rows.

    By the kiln's own cooling and offset where its logs and witness cones tell them.
    """
    programme = programme_of(schedule)
    if programme is None:
        return None
    fit = own_fit(kiln)
    offset = fit.offset_c if fit is not None and fit.offset_spread_c is not None else 0.0
    try:
        points = craft.whole_curve(programme, law=cooling_law(kiln))
    except craft.BadProgramme:
        return None
    hours, temps = zip(*points, strict=True)
    return cone_reached(times_h=hours, temps_c=temps, offset_c=offset).with_cooling


def is_far(stand: Stand, *, cone: str) -> bool:
    """Whether a stand lies more than ``FAR_CONES`` from a cone; no for cones that are no rung."""
    names = [one.name for one in RUNGS]
    if cone not in names:
        return False
    return stand.rung is None or abs(stand.rung - names.index(cone)) > FAR_CONES


@dataclass(frozen=True, kw_only=True, slots=True)
class InKiln:
    """What a schedule takes in one kiln: by the potter's word and by reckoning."""

    kiln: Kiln
    run: Run | None
    hours: Hours | None
    refusal: str
    odd: str = ""
    reaches: Stand | None = None
    misses: bool = False
    """Whether the cone it should reach lies more than ``FAR_CONES`` from the schedule's."""


def in_kilns(schedule: Schedule) -> list[InKiln]:
    """What a schedule takes in every kiln, and why it does not go where it does not."""
    runs = {run.kiln_id: run for run in schedule.runs.all()}
    return [
        InKiln(
            kiln=kiln,
            run=runs.get(kiln.pk),
            hours=hours_of(kiln=kiln, schedule=schedule),
            refusal=rules.fits_kiln(
                kiln=kiln.name,
                kiln_top_cone=kiln.top_cone,
                schedule=schedule.name,
                cone=schedule.cone,
                has_run=kiln.pk in runs,
            ),
            odd=rules.odd_pair(fuel=kiln.fuel, kind=schedule.kind, atmosphere=schedule.atmosphere),
            reaches=(stand := reaches(kiln=kiln, schedule=schedule)),
            misses=stand is not None and is_far(stand, cone=schedule.cone),
        )
        for kiln in Kiln.objects.select_related("fit")
    ]
