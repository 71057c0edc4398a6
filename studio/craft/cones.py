"""Which pyrometric cones are there, in what order, and at what temperature does each go down?

``CONES`` holds 38 cones from 022 (coolest) to 14 (hottest), read from ``cones.csv``: one row a
cell of the published chart, in the unit that the chart prints, with a grade.

Source: "Temperature Equivalents for Orton Pyrometric Cones", the chart of the cone maker (The
Edward Orton Jr. Ceramic Foundation), as reproduced in these copies (the last two columns of the
file name the copies that show a cell, in its own unit and in the other one):

- S1 chart in °C, cones 022-14, no year, formsbank.com/template/288043 (legible 022 to 08)
- S2 chart in °C, cones 022-14, 2016, scribd.com/document/456397963 (legible 022 to 014)
- S3 reseller's copy in °F, no year, whole cones 022 to 10; it heads the self-supporting columns
  with another size
- S4 product pages of a New Zealand supplier, °C, large cones 012 to 12, ccg.co.nz
- S5 L. E., Clayart, 7 Nov 2006, °F, cone 6 at all three rates
- S6 L. Krakowski, Clayart, 28 Feb 2006, °F, large 06, 01, 1, 6
- S7 a potter's blog, 20 Nov 2008, °F, large 9, 10, 11
- S8 a Swedish supplier's page, °C, self-supporting 13
- S9 keramik.ifokus.se, 16 Feb 2020, °C, self-supporting 7
- S10 hot-clay.com, °C, self-supporting 06 and 6 at 150
- S11 glacures.fr, °C, large 10 at 150
- S12 bigceramicstore.com, no year, °F, self-supporting 10, 9 and part of 8
- S13 community.ceramicartsdaily.org, Dec 2020, cone 5 at 108 °F/h

Grades: A read in two copies, or once in each unit; B read once; C read only in the other unit,
this is the rounded conversion; D from memory of the chart, never the truth of a test, and a page
says so (``from_memory``). Most of the self-supporting column at 15 °C/h above cone 08 is D.

Limits of the chart itself: a steady rate over the last 100 °C, clean air.
"""

from __future__ import annotations

import csv
import math
from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final, Literal, get_args

Make = Literal["self_supporting", "large"]
Grade = Literal["A", "B", "C", "D"]
Unit = Literal["C", "F"]

SLOWEST_C_PER_H: Final = 7.0
"""Below this the order of neighbouring cones is no longer kept by the continued lines."""
FASTEST_C_PER_H: Final = 600.0
_GENTLEST, _STEEPEST = 8.0, 30.0


class UnknownCone(ValueError):
    """A name that is no cone; ``name`` is what was given."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(
            f"“{name}” is not a cone. Cones run from 022 (coolest) over 01 and 1 to 14 (hottest);"
            " mind the leading 0."
        )


class NoCell(ValueError):
    """The chart has no usable temperature for this cone, make and rate."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Cell:
    """One printed temperature of the chart, in its own unit [°C at °C/h, or °F at °F/h]."""

    make: Make
    unit: Unit
    rate_per_h: int
    temperature: int
    grade: Grade

    def __post_init__(self) -> None:
        if self.make not in get_args(Make) or self.unit not in get_args(Unit):
            raise ValueError(f"a cell of an unknown make or unit: {self.make}, {self.unit}")
        if self.grade not in get_args(Grade):
            raise ValueError(f"a cell needs a grade of A to D, not {self.grade}")
        if self.rate_per_h < 1 or self.temperature < 1:
            raise ValueError("a cell needs a rate and a temperature above 0")


@dataclass(frozen=True, kw_only=True, slots=True)
class BendingLine:
    """At which temperature a cone is down, by steady rate: straight lines over ln(rate).

    ``ln_rates`` [ln °C/h] and ``temps_c`` [°C] rise together. Before the first and after the last
    point the line goes on with the mean of its end slope and its whole slope, held between 8 and
    30 °C an e-fold, so that the rounding of the chart to whole degrees does not run away.
    """

    ln_rates: tuple[float, ...]
    temps_c: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.ln_rates) != len(self.temps_c) or len(self.ln_rates) < 2:
            raise ValueError("a bending line needs two points or more")
        for values in (self.ln_rates, self.temps_c):
            if any(b <= a for a, b in pairwise(values)):
                raise ValueError("a cone goes down hotter when it is heated faster")

    @property
    def slopes(self) -> tuple[float, ...]:
        """°C an e-fold of rate: before the chart, between its points, after it."""
        x, t = self.ln_rates, self.temps_c
        inner = [(t[i + 1] - t[i]) / (x[i + 1] - x[i]) for i in range(len(x) - 1)]
        whole = (t[-1] - t[0]) / (x[-1] - x[0])
        before, after = (_held((end + whole) / 2) for end in (inner[0], inner[-1]))
        return (before, *inner, after)

    def temperature(self, rate_c_per_h: float) -> float:
        """[°C/h] -> [°C]; any rate above 0."""
        x = math.log(rate_c_per_h)
        piece = bisect_right(self.ln_rates, x)
        start = max(piece - 1, 0)
        return self.temps_c[start] + self.slopes[piece] * (x - self.ln_rates[start])

    def piece_at(self, c: float) -> int:
        """The index into ``slopes`` of the piece that holds a temperature [°C]."""
        return bisect_right(self.temps_c, c)

    def rate(self, c: float) -> float:
        """The steady rate at which the cone is down exactly at ``c``. [°C] -> [°C/h]"""
        piece = self.piece_at(c)
        start = max(piece - 1, 0)
        ln_rate = self.ln_rates[start] + (c - self.temps_c[start]) / self.slopes[piece]
        return math.exp(ln_rate)


@dataclass(frozen=True, kw_only=True, slots=True)
class Cone:
    """A cone: its name as it is stamped, its place in the order, its cells of the chart."""

    name: str
    order: int
    cells: tuple[Cell, ...]

    def __str__(self) -> str:
        return f"cone {self.name}"

    @property
    def is_half(self) -> bool:
        """Whether it stands between two whole cones (05.5, 5.5)."""
        return self.name.endswith(".5")

    def celsius_cells(self, make: Make = "self_supporting") -> tuple[Cell, ...]:
        """The cells in °C of one make, by rising rate."""
        cells = [cell for cell in self.cells if cell.unit == "C" and cell.make == make]
        return tuple(sorted(cells, key=lambda cell: cell.rate_per_h))

    def bending_line(self, make: Make = "self_supporting") -> BendingLine:
        """The cone's line over rates.

        Raises ``NoCell`` when the chart has fewer than two cells for it, or when they contradict
        each other (large 14, from memory, is hotter when slower).
        """
        cells = self.celsius_cells(make)
        try:
            return BendingLine(
                ln_rates=tuple(math.log(cell.rate_per_h) for cell in cells),
                temps_c=tuple(float(cell.temperature) for cell in cells),
            )
        except ValueError as error:
            words = make.replace("_", "-")
            raise NoCell(f"The chart has no usable {words} {self}: {error}.") from error


def cone_named(name: str) -> Cone:
    """The cone of a name as people write it: '6', 'cone 6', '^6', 'Δ05½'.

    Raises ``UnknownCone``. '06' and '6' are 24 cones apart, so nothing is guessed.
    """
    plain = name.strip().lower().removeprefix("cone").strip().removeprefix("^").removeprefix("δ")
    plain = plain.removeprefix("△").strip().replace(" 1/2", ".5").replace("½", ".5")
    try:
        return _BY_NAME[plain]
    except KeyError:
        raise UnknownCone(name) from None


def cone_order(name: str) -> int:
    """The place of a cone in the order, 0 (022) to 37 (14).

    Raises ``UnknownCone``. Source: the chart, see the module.
    """
    return cone_named(name).order


def hotter(a: str, b: str) -> bool:
    """Whether cone ``a`` asks for more heat work than cone ``b``: hotter('6', '06') is true.

    Raises ``UnknownCone``. Source: the chart, see the module.
    """
    return cone_order(a) > cone_order(b)


def cone_choices() -> list[tuple[str, str]]:
    """Every cone for a form's choice, coolest first: ('6', 'cone 6')."""
    return [(cone.name, str(cone)) for cone in CONES]


def cone_temperature(
    name: str, *, rate_c_per_h: float = 60, make: Make = "self_supporting"
) -> float:
    """The temperature at which a cone is down on a steady rate. [°C/h] -> [°C]

    At 15, 60 and 150 °C/h exactly the chart's cell; between and beyond by ``BendingLine``.
    Range: 7 to 600 °C/h; outside 15 to 150 it is this module's own continuation, not the chart's.

    Raises ``UnknownCone``; ``NoCell`` for a rate out of range or a make that the chart lacks.
    Source: the chart, see the module.
    """
    cone = cone_named(name)
    if not SLOWEST_C_PER_H <= rate_c_per_h <= FASTEST_C_PER_H:
        raise NoCell(
            f"A cone's temperature is known for {SLOWEST_C_PER_H:g} to {FASTEST_C_PER_H:g} °C/h,"
            f" not for {rate_c_per_h:g} °C/h."
        )
    return cone.bending_line(make).temperature(rate_c_per_h)


def from_memory(name: str, *, rate_c_per_h: float = 60, make: Make = "self_supporting") -> bool:
    """Whether ``cone_temperature`` leans on a cell of grade D, so that a page must say so.

    Raises ``UnknownCone``.
    """
    cells = cone_named(name).celsius_cells(make)
    rates = [cell.rate_per_h for cell in cells]
    if rate_c_per_h in rates:
        return cells[rates.index(int(rate_c_per_h))].grade == "D"
    piece = bisect_right(rates, rate_c_per_h)
    if 0 < piece < len(rates):
        return "D" in (cells[piece - 1].grade, cells[piece].grade)
    return any(cell.grade == "D" for cell in cells)  # the continuation uses the whole line


def _held(slope: float) -> float:
    return min(max(slope, _GENTLEST), _STEEPEST)


def _read_cones() -> tuple[Cone, ...]:
    cells: dict[tuple[int, str], list[Cell]] = {}
    with Path(__file__).with_name("cones.csv").open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            make, unit, grade = row["make"], row["unit"], row["grade"]
            cell = Cell(
                make=make,  # type: ignore[arg-type]  # Cell refuses any other word
                unit=unit,  # type: ignore[arg-type]
                rate_per_h=int(row["rate_per_h"]),
                temperature=int(row["temperature"]),
                grade=grade,  # type: ignore[arg-type]
            )
            cells.setdefault((int(row["order"]), row["cone"]), []).append(cell)
    return tuple(
        Cone(name=name, order=order, cells=tuple(of_cone))
        for (order, name), of_cone in sorted(cells.items())
    )


CONES: Final = _read_cones()
_BY_NAME: Final = {cone.name: cone for cone in CONES}
