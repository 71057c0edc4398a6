"""What must be short because one skill's minutes, or no way at all, are left before a date?

One sum a date and skill, which needs no solver: kept pieces that do not stand further on
already, and those that are lost on the way, take their minutes on days early enough for all that
follows. The weightiest a minute are kept first, the last of them split: no plan keeps more.
"""

from __future__ import annotations

import math
from collections import defaultdict
from fractions import Fraction

from studio.craft.backplan_frame import NEVER, Frame, Want
from studio.craft.problem import BISQUE, Ware

SKILLS = ("throwing", "glazing", "finishing")

PLACES = {
    "throwing": ("dry", "bisqued", "glazed", "fired", "finished"),
    "glazing": ("glazed", "fired", "finished"),
    "finishing": ("finished",),
}
"""Where pieces stand that need a skill no more."""


def plain_floor(*, made: Frame) -> int:
    """A proven least weighted shortfall, from one date and one skill alone."""
    dues = sorted({want.due for want in made.wants})
    most = max(
        (_short_by(made, day, skill) for day in dues for skill in SKILLS), default=Fraction(0)
    )
    each = math.gcd(*(want.importance for want in made.wants))
    return each * math.ceil(most / each)


def _short_by(made: Frame, day: int, skill: str) -> Fraction:
    asked: defaultdict[str, list[Want]] = defaultdict(list)
    for want in made.wants:
        if want.due <= day:
            asked[made.lines[want.line_key].ware_key].append(want)
    last = {key: _last_day(made, made.wares[key], day, skill) for key in asked}
    horizon = max(last.values(), default=-1)
    minutes = Fraction(
        sum(int(getattr(one, f"{skill}_min")) for one in made.problem.days[: max(0, horizon + 1)])
    )
    share = _share_through(made, skill)
    short = Fraction(0)
    wanting: list[tuple[Fraction, int, int]] = []
    """(minutes a kept piece takes, importance, pieces)"""
    for key, wants in asked.items():
        free = _there(made, key, day, skill)
        each = int(getattr(made.wares[key], f"{skill}_min")) / share
        for want in sorted(wants, key=lambda one: -one.importance):
            left = want.asked - min(free, want.asked)
            free -= want.asked - left
            if last[key] < 0:
                short += want.importance * left
            elif left and each:
                wanting.append((each, want.importance, left))
    for each, importance, pieces in sorted(wanting, key=lambda one: one[0] / one[1]):
        can = min(Fraction(pieces), minutes / each)
        minutes -= can * each
        short += importance * (pieces - can)
    return short


def _share_through(made: Frame, skill: str) -> Fraction:
    """Of the pieces a skill works on, the share that is kept in the end."""
    yields = made.problem.yields
    share = Fraction(1)
    if skill != "finishing":
        share *= Fraction(yields.glaze_percent, 100)
    if skill == "throwing":
        share *= Fraction(yields.bisque_percent * yields.drying_percent, 100 * 100)
    return share


def _there(made: Frame, ware_key: str, day: int, skill: str) -> int:
    """Pieces of a ware that need the skill no more, at most, by a morning."""
    lines = made.lines_of(ware_key)
    hundredths = 0
    for place in PLACES[skill]:
        keys = [ware_key] if place in ("dry", "bisqued") else lines
        hundredths += sum(made.arrives[place, key][day] for key in keys)
    return -(-hundredths // 100)


def _last_day(made: Frame, ware: Ware, day: int, skill: str) -> int:
    """No day later than this can serve the date with the skill; -1: none can."""
    if skill == "finishing":
        return day - 1
    glaze = _quickest(made, ware, {made.lines[key].schedule_key for key in made.lines_of(ware.key)})
    if skill == "glazing":
        return day - 1 - glaze - 1
    return day - 1 - glaze - 1 - _quickest(made, ware, {BISQUE}) - ware.drying_days


def _quickest(made: Frame, ware: Ware, schedules: set[str]) -> int:
    """Days the quickest firing takes that holds the ware and has a day; many when none does."""
    return min(
        (
            slot.open - slot.start
            for slot in made.slots
            if slot.schedule_key in schedules and made.fits(slot=slot, ware=ware)
        ),
        default=NEVER,
    )
