"""When is a part of a kiln due, what is said before hands go near it, and what does a change do?

Nothing here is a wiring step: electrics are for a licensed electrician and the maker's manual.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Final

from studio.craft.wear import COUNT_LIFE, Interval
from studio.firings.rules.cautions import FIRST, Caution

INTERVALS: Final[dict[str, Interval]] = {
    "elements": Interval(look_firings=25, change_firings=COUNT_LIFE),
    "thermocouple": Interval(look_firings=50, change_firings=150),
    "relays": Interval(look_firings=50, change_firings=300),
    "shelves": Interval(look_firings=10),
    "vent": Interval(look_firings=25, look_days=90),
}
ELECTRIC_ONLY: Final = ("elements", "relays")
SOURCES: Final[dict[str, str]] = {
    "elements": (
        "Start values: a repairer's own record (150 to 160 firings of cone 04 and 6 mixed, 2017),"
        " and a maker's figures as a repairer quotes them (2010): 1500 firings at cone 04, 200 at"
        " cone 6, 35 to 40 at cone 10, in brick of 2 1/2 in (350 and 80 in brick of 3 in). Cones 7"
        " and 8 are reckoned between."
    ),
    "thermocouple": (
        "Start values: a supplier's note of 2022 gives about 150 firings low, 50 at cone 6. Change"
        " it sooner when a witness cone drifts by half a cone."
    ),
    "relays": "Common practice, no source.",
    "shelves": "Common practice, no source: look for bare kiln wash, drips and warped shelves.",
    "vent": "Common practice, no source: see that it draws before a firing, not after.",
}
WORKING: Final = Caution(
    title="Before hands go near elements, relays or the thermocouple",
    sentences=(
        "Switch the power off at the breaker and have it locked there by the licensed person, so"
        " that nobody switches it on meanwhile.",
        "Changing elements, relays, thermocouple or wires is a licensed electrician's work, by the"
        " maker's manual. This page says when, never how.",
        "Brick and kiln wash are dusty: wear a mask made for it, wipe up wet, never sweep dry.",
        FIRST,
    ),
)
CHANGED_SAYS: Final[dict[str, str]] = {
    "elements": (
        "New elements heat faster and place the heat anew: fire one load with witness cones on"
        " every shelf before you trust what was proven in this kiln, and its hours."
    ),
    "thermocouple": (
        "A new thermocouple reads otherwise: this kiln's offset begins anew, and lines proven in"
        " it need a firing with witness cones first."
    ),
}
LONGEST_AGO: Final = timedelta(days=365 * 30)
MOST: Final = 9999


def parts_of(fuel: str) -> tuple[str, ...]:
    """The parts that a kiln of this fuel has: elements and relays are an electric kiln's."""
    return tuple(part for part in INTERVALS if fuel == "electric" or part not in ELECTRIC_ONLY)


def moves_heat(*, part: str, did: str) -> bool:
    """Whether what was done puts the lines fired in the kiln on trial in it again."""
    return did == "changed" and part in CHANGED_SAYS


def can_record_care(
    *, part: str, did: str, on_date: date, today_date: date, twice: bool, fuel: str = "electric"
) -> str:
    """Whether a part may be recorded as changed or looked at on a day."""
    if part not in INTERVALS:
        return "Choose what was cared for."
    if part not in parts_of(fuel):
        return f"A {fuel} kiln has no {part}. Choose another part."
    if did not in ("changed", "looked"):
        return "Say whether it was changed or looked at."
    if on_date > today_date:
        return f"{on_date:%a %d %b %Y} lies ahead. Write down what was done, once it is done."
    if on_date < today_date - LONGEST_AGO:
        return f"{on_date:%d %b %Y} is more than thirty years back. Is the year right?"
    if twice:
        return "This is written down for that day already."
    return ""


def can_set_care(*, numbers: Mapping[str, int | None]) -> str:
    """Whether intervals and lives are possible: each 1 or more, or empty for never."""
    for name, value in numbers.items():
        if value is not None and not 1 <= value <= MOST:
            return f"{name}: write 1 to {MOST}, or leave it empty."
    return ""


def life_missing(*, cones: list[str]) -> str:
    """Elements need a life at one cone at least."""
    return "" if cones else "Write how many firings elements last at one cone or more."
