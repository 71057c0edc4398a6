"""When may a kiln be planned, lit, switched off, opened and called off, and if not, why not?"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Final

from studio.craft.cones import cone_named, cone_temperature
from studio.craft.quantities import TemperatureUnit, show_temperature

HOT_TO_OPEN_C: Final = 95
"""Above this inside temperature [°C] a kiln is not opened without a second thought.

Common practice, no source: potters name 40 to 120 °C, and over 93 °C (200 °F) is warned against.
"""

FIRED_PERCENT: Final = 80
"""A kiln that heated less than this share of its reckoned hours may not have reached its cone.

Our own measure, no source.
"""

MOST_PHOTOS: Final = 20
MOST_WORDS: Final = 300

MOST_WHY: Final = 200
"""Characters of the reason why a firing failed."""

LIT: Final = ("firing", "cooling", "opened")

BROKEN_BY: Final = frozenset(
    {"s_crack", "rim_crack", "handle_crack", "explosion", "knock", "dunt", "shiver", "stuck"}
)
"""Faults after which a pot is in pieces or never a pot again; the others make it scrap."""


PLAN_AGAIN: Final = (
    "This load is not fired: its boards are where they were. Work out the plan again, so that they"
    " get another firing."
)

NO_WAY_BACK: Final = "This cannot be undone."
UNDONE_ALREADY: Final = "This was undone already."
NEEDED_ELSEWHERE: Final = "This firing cannot be taken away: other records name it. Call it off."


def can_plan(
    *,
    kiln: str,
    start_date: date,
    busy_days: int,
    today_date: date,
    others: Sequence[tuple[str, date, int]],
) -> str:
    """Whether a kiln is free on the days of a firing. ``others``: name, start and days of each."""
    if start_date < today_date:
        return f"{start_date:%a %d %b %Y} is past. Plan a firing for today or later."
    if start_date > today_date + timedelta(days=731):
        return f"{start_date:%a %d %b %Y} is more than two years away. Is the year right?"
    end = start_date + timedelta(days=busy_days)
    for name, other_start, other_days in others:
        other_end = other_start + timedelta(days=other_days)
        if start_date < other_end and other_start < end:
            last = other_end - timedelta(days=1)
            days = (
                f"on {other_start:%a %d %b}"
                if other_days == 1
                else f"from {other_start:%a %d %b} to {last:%a %d %b}"
            )
            return f"{kiln} is taken {days} by {name}."
    return ""


def can_light(
    *,
    state: str,
    kiln: str,
    pieces: int,
    lit_at: datetime,
    at: datetime,
    busy_with: str = "",
    circuit: str = "",
    at_once: int = 1,
    heating: Sequence[str] = (),
    opened_at: datetime | None = None,
    opened: str = "",
    needs_ware: bool = True,
) -> str:
    """Whether a firing may be lit. A lustre firing needs no ware of these records.

    ``heating``: the other kilns hot on the same circuit; ``opened_at``: when the kiln was opened
    last, ``opened`` in words.
    """
    if state in LIT:
        return "This firing was lit already."
    if state == "called_off":
        return "This firing was called off. Plan another firing."
    if busy_with:
        return f"{kiln} is busy: {busy_with}. It does one firing at a time."
    if needs_ware and (pieces < 1 or state != "loaded"):
        return f"{kiln} is empty. Load it before it is lit."
    if len(heating) >= at_once:
        kilns = "one kiln" if at_once == 1 else f"{at_once} kilns"
        hot = " and ".join(heating)
        are = "is" if len(heating) == 1 else "are"
        return f"{circuit} carries {kilns} heating at once, and {hot} {are} heating."
    if lit_at > at:
        return "The lighting lies in the future. Write when the kiln was switched on."
    if lit_at < at - timedelta(days=7):
        return "The lighting lies more than a week back. Is the date right?"
    if opened_at is not None and lit_at < opened_at:
        return (
            f"{kiln} was opened after its last firing at {opened}, so it was not lit before that."
            " Look at the time."
        )
    return ""


def can_switch_off(*, state: str, lit_at: datetime | None, off_at: datetime, at: datetime) -> str:
    """Whether a firing may be recorded as switched off."""
    if state == "cooling":
        return "This firing was switched off already."
    if state == "opened":
        return "This firing was opened already."
    if state != "firing" or lit_at is None:
        return "This firing was not lit, so it cannot be switched off."
    if off_at > at:
        return "The end lies in the future. Write when the kiln was switched off."
    if off_at <= lit_at:
        return "The kiln cannot be switched off before it was lit. Look at both times."
    return ""


def can_open(
    *,
    state: str,
    lit_at: datetime | None,
    off_at: datetime | None,
    opened_at: datetime,
    at: datetime,
    before: str = "",
    early: str = "",
    is_cool: bool = True,
) -> str:
    """Whether a firing may be opened.

    ``before``: who opened it already, and when; ``early``: when it is cool enough at the earliest,
    in words, while that is still to come; ``is_cool``: somebody read the kiln itself.
    """
    if state == "opened":
        return f"This firing was opened already{f' ({before})' if before else ''}."
    if state == "called_off":
        return "This firing was called off, so there is nothing to open."
    if state not in ("firing", "cooling") or lit_at is None:
        return "This firing was not lit, so it cannot be opened."
    if opened_at > at:
        return "The opening lies in the future. Write when the lid was lifted."
    if opened_at <= lit_at:
        return "The kiln cannot be opened before it was lit. Look at both times."
    if off_at is not None and opened_at < off_at:
        return "The kiln cannot be opened before it was switched off. Look at both times."
    if early and not is_cool:
        return (
            f"By reckoning this kiln is too hot to open before {early}. Write the temperature"
            " inside, or tick that the kiln's own reading says it is cool enough."
        )
    return ""


def ended_short(*, fired_h: float, rows_h: float) -> str:
    """A caution: the kiln was off well before its rows end [h]; '' when it was not."""
    if fired_h >= rows_h * FIRED_PERCENT / 100:
        return ""
    return (
        f"It was switched off after {fired_h:.0f} h of about {rows_h:.0f} h. Did it reach its"
        " cone? If not, do not write it down as fired."
    )


def can_lose(*, board: str, in_load: int, count: int, cause: str, causes: Sequence[str]) -> str:
    """Whether a loss named at opening can be true."""
    if count < 0:
        return f"Board {board}: a loss is 0 or more, not {count}."
    if count > in_load:
        return f"Board {board} had {in_load} in the load, so {count} cannot be lost."
    if count and not cause:
        return f"Board {board}: choose what happened to the {count} that were lost."
    if count and cause not in causes:
        return f"Board {board}: “{cause}” is not a known cause."
    return ""


def can_see(*, where: str, fault: str, causes: Sequence[str]) -> str:
    """Whether a fault named at opening can be written down. ``where``: a place or board."""
    if not fault:
        return f"{where}: choose what was seen."
    if fault not in causes:
        return f"{where}: “{fault}” is not a known cause."
    return ""


def can_fail(*, why: str) -> str:
    """Whether a firing may be written down as one that did not reach its cone."""
    if not why.strip():
        return "Say what happened: a firing that failed without a reason cannot be learnt from."
    if len(why) > MOST_WHY:
        return f"Say it in {MOST_WHY} characters at most; this is {len(why)}. The note takes more."
    return ""


def can_show(*, state: str, photos: int, words: str, in_load: bool) -> str:
    """Whether photographs or words may be added to what came out of a firing."""
    if state != "opened":
        return "Only an opened firing has results. Open the kiln first."
    if not in_load:
        return "That ware was not in this load."
    if not photos and not words.strip():
        return "Choose photographs, or write what you saw."
    if photos > MOST_PHOTOS:
        return f"At most {MOST_PHOTOS} photographs at once; these are {photos}."
    if len(words) > MOST_WORDS:
        return f"Say it in {MOST_WORDS} characters at most; this is {len(words)}."
    return ""


def can_cost(*, price_hundredths: int) -> str:
    """Whether one kWh can cost so much."""
    if 1 <= price_hundredths <= 1_000_000:
        return ""
    return "One kWh costs more than 0 and at most 10000 of the smallest coin."


def can_price_fuel(*, fuel: str, price_hundredths: int) -> str:
    """Whether one unit of a fuel can cost so much."""
    if fuel not in ("gas", "wood"):
        return "Electricity has its tariff for one kWh. Choose gas or wood."
    if 1 <= price_hundredths <= 10_000_000:
        return ""
    return "One unit costs more than 0 and at most 100000 of the smallest coin."


def can_measure_fuel(*, fuel: str, unit: str, amount: int | None) -> str:
    """Whether an amount of fuel can be written: its unit has to be known first."""
    if amount is None or unit:
        return ""
    if fuel == "electric":
        return "An electric kiln uses no gas or wood. Write its kWh."
    return f"Say first in which unit {fuel} is bought and what it costs: on the tariff page."


def meter_reads(*, before_wh: int | None, after_wh: int | None, energy_wh: int | None) -> str:
    """Whether meter readings and the energy used agree."""
    if (before_wh is None) != (after_wh is None):
        return "Write the meter before and after, or leave both empty."
    if before_wh is None or after_wh is None:
        return ""
    if after_wh < before_wh:
        return "The meter after is below the meter before. Look at both readings."
    if energy_wh is not None and energy_wh != after_wh - before_wh:
        used = (after_wh - before_wh) / 1000
        return f"The meter says {used:g} kWh, and {energy_wh / 1000:g} kWh are written. Give one."
    return ""


def was_damp(*, board: str, dry: str, lit: str) -> str:
    """A load cannot have burnt before it was dry."""
    return (
        f"Board {board} was written down as bone dry on {dry}, so it was not in a kiln lit on"
        f" {lit}. Look at the time, or at the board."
    )


def was_in_another(*, board: str, opened: str, lit: str) -> str:
    """A glaze load cannot have burnt before its bisque was out."""
    return (
        f"The bisque of board {board} was opened at {opened}, so it was not in a kiln lit at {lit}."
        " Look at the time."
    )


def was_outside(*, board: str, loaded: str, lit: str) -> str:
    """A load cannot have burnt on a day before it was put in."""
    return (
        f"Board {board} was loaded on {loaded}, so it was not in a kiln lit on {lit}. Look at the"
        " time."
    )


def can_call_off(*, state: str, kiln: str) -> str:
    """Whether a firing may be called off."""
    if state in ("firing", "cooling"):
        return (
            f"{kiln} is lit, so this firing cannot be called off. Switch it off, let it cool and"
            " open it; what was lost is written then."
        )
    if state == "opened":
        return "This firing was opened, so it cannot be called off."
    if state == "called_off":
        return "This firing was called off already."
    return ""


def can_shift(*, state: str) -> str:
    """Whether a firing may be put on another day."""
    if state == "planned":
        return ""
    return "Only a planned firing that holds nothing yet can be put on another day."


def hot_to_open(*, opened_c: float | None, shown: str) -> str:
    """A caution: this kiln was hot when the lid was lifted. ``shown``: the temperature in words."""
    if opened_c is None or opened_c <= HOT_TO_OPEN_C:
        return ""
    return (
        f"{shown} inside is hot enough to burn hands and eyes, light paper and crack pots. Close"
        " the lid and wait if you can."
    )


def cone_words(cone: str, *, unit: TemperatureUnit) -> str:
    """A cone as it must be said aloud before a kiln is lit, because 06 and 6 look alike.

    Source: the chart behind ``studio.craft.cones``, self-supporting cones at 60 °C an hour.
    """
    name = cone_named(cone).name
    down = show_temperature(cone_temperature(name, rate_c_per_h=60), unit=unit)
    return f"cone {name}, about {down} at {60 if unit == 'C' else 108} °{unit} an hour"


def can_undo(as_it_was: bool, *, now: str) -> str:
    """Whether a change can still be put back. ``now``: what stands in the way."""
    return "" if as_it_was else f"This can no longer be undone: {now}."


def name_taken(*, what: str, name: str) -> str:
    """Two things of one kind may not share a name, in capitals or not."""
    return f"There is a {what} called {name} already. Choose another name."


def cannot_be(*, what: str) -> str:
    """The database refused a row that the rules above let through, or somebody was quicker."""
    return f"A {what} with these values cannot be kept. Look at the numbers and try again."


def kiln_shape(*, sides: int, inside_depth_mm: int | None) -> str:
    """Whether the inside of a kiln is fully told."""
    if sides == 4 and not inside_depth_mm:
        return "A box has a depth too: write how far it is from front to back inside."
    if sides in (1, 2, 3) or sides > 16:
        return f"A kiln has 0 sides (round) or 4 to 16, not {sides}."
    return ""


def can_rewrite(*, schedule: str, used: bool, same: bool) -> str:
    """Whether a schedule may become another kind or cone. ``used``: by a firing, line or pot."""
    if same or not used:
        return ""
    return (
        f"{schedule} was used already, so its kind and cone stay as they are: they are part of the"
        " record of its pots. Add another schedule."
    )


def not_as_seen(*, what: str, happened: str) -> str:
    """Somebody else changed what a person is about to change."""
    told = f": {happened}" if happened else ""
    return f"{what} is not as you saw it{told}. Nothing was changed; open the page again."
