"""How long does a firing programme take, what is its curve, and when is the kiln free again?

A programme is rows: heat or cool at a rate to a target, then hold. A row without a rate is full
power when it goes up, and the kiln left to itself (power off) when it goes down.

Laws (a rejected example each):

1. Every row is checked with the others and named, so that a form can show all at once (row 2 with
   a rate of -5 °C/h and row 3 with a target of 9000 °C are two causes, not one).
2. A row does something (a target where the kiln already stands, without a hold, is refused).
3. A kiln cannot cool faster than it loses heat: a cooling rate that asks for more is stretched
   (200 °C/h down from 300 °C takes hours, not one).
4. One time constant is not enough: walls give their heat back late. A kiln cools by one constant
   above 538 °C (1000 °F) and a longer one below.

Source of the default constants: own simulation of soft brick walls (a model, not a measurement),
which gives 24.8 h where one potter counted 24 h for a kiln of 10 cu ft from cone 06 to 150 °F
(Clayart, 24 Jan 1998). Hours before a kiln's own log are told with a quarter more or less.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

SLOWEST_C_PER_H: Final = 1.0
FASTEST_C_PER_H: Final = 600.0
LOWEST_TARGET_C: Final = 20.0
HIGHEST_TARGET_C: Final = 1400.0
LONGEST_HOLD_MIN: Final = 48 * 60
MOST_ROWS: Final = 32
OPEN_C: Final = 93.0
"""200 °F: common practice, no source; makers say 125 to 250 °F. Hotter than this, wait."""
SPREAD_PERCENT: Final = 25
"""How far a default cooling time may be off, either way; own judgement, no source."""
_PIECES_OF_A_BEND: Final = 12


class BadProgramme(ValueError):
    """A programme that cannot be fired; ``causes`` names each row, one sentence each."""

    def __init__(self, *causes: str) -> None:
        self.causes = causes
        super().__init__(" ".join(causes))


@dataclass(frozen=True, kw_only=True, slots=True)
class Segment:
    """One row: ``rate_c_per_h`` [°C/h] up or down alike, None for full power or power off;
    ``target_c`` [°C]; ``hold_min`` [min] there. Checked with its neighbours by ``Programme``."""

    rate_c_per_h: float | None
    target_c: float
    hold_min: float = 0


@dataclass(frozen=True, kw_only=True, slots=True)
class Programme:
    """Rows fired one after another from ``start_c`` [°C].

    Rates 1 to 600 °C/h, targets 20 to 1400 °C, holds 0 to 2880 min, 1 to 32 rows, a start of -30
    to 1300 °C. Raises ``BadProgramme`` with every cause.
    """

    segments: tuple[Segment, ...]
    start_c: float = 20

    def __post_init__(self) -> None:
        causes = [*_programme_causes(self)]
        for row, (before_c, segment) in enumerate(_with_starts(self), 1):
            causes += [f"Row {row}: {cause}" for cause in _segment_causes(segment, before_c)]
        if causes:
            raise BadProgramme(*causes)

    @property
    def peak_c(self) -> float:
        """The highest temperature asked for [°C]."""
        return max(self.start_c, *(segment.target_c for segment in self.segments))

    @property
    def end_c(self) -> float:
        """The temperature at which the programme leaves the kiln to itself [°C]."""
        return self.segments[-1].target_c

    @property
    def heating_rows(self) -> int:
        """How many rows belong to heating: all up to the last that stands at the peak."""
        at_peak = [i for i, s in enumerate(self.segments, 1) if s.target_c == self.peak_c]
        return at_peak[-1] if at_peak else 0


@dataclass(frozen=True, kw_only=True, slots=True)
class FullPower:
    """How a kiln climbs on full power: dT/dt = (``ceiling_c`` - T) / ``tau_h``.

    ``ceiling_c`` [°C] is where it would level off, ``tau_h`` [h]. The default is a guess for an
    electric kiln in fair order, no source: 20 to 1222 °C in 6.1 h.
    """

    ceiling_c: float = 1480
    tau_h: float = 3.5

    def __post_init__(self) -> None:
        if not (100 <= self.ceiling_c <= 3000 and 0.1 <= self.tau_h <= 100):
            raise ValueError("a kiln levels off at 100 to 3000 °C, with a constant of 0.1 to 100 h")


@dataclass(frozen=True, kw_only=True, slots=True)
class CoolingLaw:
    """How a kiln left to itself cools: dT/dt = -(T - room) / tau, one tau each side of a knee.

    ``above_h`` and ``below_h`` [h], ``knee_c`` [°C].
    """

    above_h: float
    below_h: float
    knee_c: float = 538

    def __post_init__(self) -> None:
        if not (0.1 <= self.above_h <= 100 and 0.1 <= self.below_h <= 100):
            raise ValueError("a cooling constant is 0.1 to 100 h")
        if not 100 <= self.knee_c <= 1000:
            raise ValueError("a cooling law bends between 100 and 1000 °C")

    def sections(self, from_c: float, to_c: float) -> Iterator[tuple[float, float, float]]:
        """The way down cut at the knee: (from [°C], to [°C], constant [h])."""
        if from_c > self.knee_c:
            yield from_c, max(to_c, self.knee_c), self.above_h
        if to_c < self.knee_c:
            yield min(from_c, self.knee_c), to_c, self.below_h


SMALL_KILN: Final = CoolingLaw(above_h=3.1, below_h=4.1)
"""About 1 cu ft, 2 1/2 in brick."""
MIDDLE_KILN: Final = CoolingLaw(above_h=4.7, below_h=6.0)
"""About 7 cu ft, 2 1/2 in brick."""
THICK_KILN: Final = CoolingLaw(above_h=5.7, below_h=7.3)
"""About 7 cu ft, 3 in brick. The default: to be told too late is safer than too early."""
LARGE_KILN: Final = CoolingLaw(above_h=6.6, below_h=8.4)
"""About 10 cu ft, 3 in brick."""


def heating_h(programme: Programme, *, power: FullPower | None = None) -> float:
    """Hours from the start to the end of the last hold at the peak. -> [h]

    With a kiln's own ``power`` rates beyond it are stretched; without, rates are taken at their
    word and only full-power rows use the default guess.

    Raises ``BadProgramme`` for a target that full power never reaches. Source: arithmetic.
    """
    rows = programme.heating_rows
    return math.fsum(leg.hours for leg in _legs(programme, power=power) if leg.row <= rows)


def slow_cooling_h(
    programme: Programme, *, room_c: float = 20, law: CoolingLaw = THICK_KILN
) -> float:
    """Hours from the end of heating to the end of the programme; 0 when it ends there. -> [h]

    Rates that the kiln cannot follow are stretched. Raises ``BadProgramme`` for a target that the
    room never lets it reach. Source: see the module.
    """
    rows = programme.heating_rows
    legs = _legs(programme, room_c=room_c, law=law)
    return math.fsum(leg.hours for leg in legs if leg.row > rows)


def cooling_h(
    from_c: float, to_c: float, room_c: float = 20, *, law: CoolingLaw = THICK_KILN
) -> float:
    """Hours that a closed kiln left to itself takes from ``from_c`` to ``to_c`` [°C]. -> [h]

    0 when it is that cool already. Range: ``to_c`` at least 1 °C over ``room_c``.

    Raises ``BadProgramme`` outside. Source: Newton's law of cooling by two constants, see the
    module.
    """
    if from_c <= to_c:
        return 0.0
    if not to_c - room_c >= 1:
        raise BadProgramme(
            f"A kiln in a room of {room_c:g} °C takes for ever to cool to {to_c:g} °C."
            " Ask for a temperature further above the room."
        )
    return math.fsum(
        tau * math.log((high - room_c) / (low - room_c))
        for high, low, tau in law.sections(from_c, to_c)
    )


def opening_h(
    programme: Programme,
    *,
    open_c: float = OPEN_C,
    room_c: float = 20,
    law: CoolingLaw = THICK_KILN,
) -> float:
    """Hours from the end of heating until the kiln may be opened at ``open_c`` [°C]. -> [h]

    The programme's own cooling rows and then the kiln left to itself.
    Raises ``BadProgramme`` as its parts do.
    """
    slow = slow_cooling_h(programme, room_c=room_c, law=law)
    return slow + cooling_h(programme.end_c, open_c, room_c, law=law)


def busy_days(heating_h: float, cooling_h: float, unload_h: float) -> int:
    """Whole days that a firing keeps a kiln: it can be lit again at the same hour so much later.

    Hours [h], each 0 or more, at most 60 days; the answer is at least 1. Slow cooling may be
    counted with the heating or with the cooling: only the sum matters.

    Raises ``BadProgramme`` outside.
    """
    hours = (heating_h, cooling_h, unload_h)
    for h in hours:
        if not 0 <= h <= 24 * 60:
            raise BadProgramme(f"Hours of a firing are 0 to {24 * 60}, not {h:g}.")
    return max(math.ceil(math.fsum(hours) / 24 - 1e-9), 1)


def curve(
    programme: Programme,
    *,
    power: FullPower | None = None,
    room_c: float = 20,
    law: CoolingLaw = THICK_KILN,
) -> tuple[tuple[float, float], ...]:
    """The programme's points (hours [h], temperature [°C]), from (0, start) to its last row.

    Straight between points; full power and power off are bends of several points. Raises
    ``BadProgramme`` as ``heating_h`` does.
    """
    points = [(0.0, float(programme.start_c))]
    for leg in _legs(programme, power=power, room_c=room_c, law=law):
        start_h = points[-1][0]
        points += [(start_h + h, c) for h, c in leg.points]
    return tuple(points)


def whole_curve(
    programme: Programme,
    *,
    power: FullPower | None = None,
    open_c: float = OPEN_C,
    room_c: float = 20,
    law: CoolingLaw = THICK_KILN,
) -> tuple[tuple[float, float], ...]:
    """The programme's points and then the kiln left to itself until it may be opened.

    Raises ``BadProgramme`` as its parts do.
    """
    points = list(curve(programme, power=power, room_c=room_c, law=law))
    end_h, end_c = points[-1]
    if end_c > open_c:
        for step in range(1, _PIECES_OF_A_BEND * 2 + 1):
            # Even in the logarithm over the room, so that the bend is drawn where it bends.
            share = step / (_PIECES_OF_A_BEND * 2)
            c = room_c + (end_c - room_c) * ((open_c - room_c) / (end_c - room_c)) ** share
            points.append((end_h + cooling_h(end_c, c, room_c, law=law), c))
    return tuple(points)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Leg:
    """A piece of a row: its points after its start, hours counted from that start."""

    row: int
    points: tuple[tuple[float, float], ...]

    @property
    def hours(self) -> float:
        return self.points[-1][0]


def _legs(
    programme: Programme,
    *,
    power: FullPower | None = None,
    room_c: float = 20,
    law: CoolingLaw = THICK_KILN,
) -> Iterator[_Leg]:
    for row, (before_c, segment) in enumerate(_with_starts(programme), 1):
        target_c, rate = float(segment.target_c), segment.rate_c_per_h
        if target_c > before_c:
            yield from _up(row, before_c, target_c, rate, power)
        elif target_c < before_c:
            if target_c - room_c < 1:
                raise BadProgramme(
                    f"Row {row}: a kiln in a room of {room_c:g} °C takes for ever to cool to"
                    f" {target_c:g} °C."
                )
            for high, low, tau in law.sections(before_c, target_c):
                yield from _down(row, high, low, rate, room_c, tau)
        if segment.hold_min:
            yield _Leg(row=row, points=((segment.hold_min / 60, target_c),))


def _up(
    row: int, low: float, high: float, rate: float | None, power: FullPower | None
) -> Iterator[_Leg]:
    """A climb: straight while the kiln can hold the rate, then bent at full power."""
    if rate is not None and power is None:
        yield _straight(row, low, high, rate)
        return
    power = power or FullPower()
    able_c = low if rate is None else power.ceiling_c - rate * power.tau_h
    bend_c = min(max(able_c, low), high)
    if rate is not None and bend_c > low:
        yield _straight(row, low, bend_c, rate)
    if bend_c < high:
        if high >= power.ceiling_c - 1:
            raise BadProgramme(
                f"Row {row}: full power levels off at {power.ceiling_c:g} °C and does not reach"
                f" {high:g} °C."
            )
        yield _bent(row, bend_c, high, power.ceiling_c, power.tau_h)


def _down(
    row: int, high: float, low: float, rate: float | None, room_c: float, tau: float
) -> Iterator[_Leg]:
    """A way down: straight while the kiln loses heat fast enough, then bent, left to itself."""
    able_c = high if rate is None else room_c + rate * tau
    bend_c = min(max(able_c, low), high)
    if rate is not None and bend_c < high:
        yield _straight(row, high, bend_c, rate)
    if bend_c > low:
        yield _bent(row, bend_c, low, room_c, tau)


def _straight(row: int, from_c: float, to_c: float, rate: float) -> _Leg:
    return _Leg(row=row, points=((abs(to_c - from_c) / rate, to_c),))


def _bent(row: int, from_c: float, to_c: float, towards_c: float, tau: float) -> _Leg:
    """Points of T = towards + (from - towards) exp(-t / tau), even in time."""
    hours = tau * math.log((from_c - towards_c) / (to_c - towards_c))
    steps = [hours * i / _PIECES_OF_A_BEND for i in range(1, _PIECES_OF_A_BEND)]
    bend = [(h, towards_c + (from_c - towards_c) * math.exp(-h / tau)) for h in steps]
    return _Leg(row=row, points=(*bend, (hours, to_c)))


def _with_starts(programme: Programme) -> Iterator[tuple[float, Segment]]:
    """Each row with the temperature it starts from."""
    starts = [programme.start_c, *(segment.target_c for segment in programme.segments)]
    for (before_c, _), segment in zip(pairwise(starts), programme.segments, strict=True):
        yield float(before_c), segment


def _programme_causes(programme: Programme) -> Iterator[str]:
    if not 1 <= len(programme.segments) <= MOST_ROWS:
        yield f"A programme has 1 to {MOST_ROWS} rows, not {len(programme.segments)}."
    if not -30 <= programme.start_c <= 1300:
        yield f"A firing starts at -30 to 1300 °C, not at {programme.start_c:g} °C."


def _segment_causes(segment: Segment, before_c: float) -> Iterator[str]:
    rate, target_c, hold_min = segment.rate_c_per_h, segment.target_c, segment.hold_min
    if rate is not None and not SLOWEST_C_PER_H <= rate <= FASTEST_C_PER_H:
        yield (
            f"a rate is {SLOWEST_C_PER_H:g} to {FASTEST_C_PER_H:g} °C an hour up or down,"
            f" not {rate:g}."
        )
    if not LOWEST_TARGET_C <= target_c <= HIGHEST_TARGET_C:
        yield f"a target is {LOWEST_TARGET_C:g} to {HIGHEST_TARGET_C:g} °C, not {target_c:g}."
    if not 0 <= hold_min <= LONGEST_HOLD_MIN:
        yield f"a hold is 0 to {LONGEST_HOLD_MIN} minutes, not {hold_min:g}."
    if target_c == before_c and hold_min == 0:
        yield f"the kiln already stands at {target_c:g} °C, and there is no hold."
