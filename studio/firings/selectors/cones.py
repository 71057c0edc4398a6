"""What does the published chart say of each cone, in the studio's own unit?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from studio.craft.cones import CONES, Cone, Make
from studio.web.selectors import temperature_unit

RATES: Final = {"C": (15, 60, 150), "F": (27, 108, 270)}
MAKES: Final[tuple[tuple[Make, str], ...]] = (
    ("self_supporting", "Self-supporting"),
    ("large", "Large"),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class ConeRow:
    """A cone with a cell for each rate: its temperature as printed and whether it is from memory;
    None where the chart has none."""

    cone: str
    cells: tuple[tuple[int, bool] | None, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class ConeChart:
    """One make of cones."""

    title: str
    rates: tuple[int, ...]
    rows: tuple[ConeRow, ...]


def cone_charts() -> list[ConeChart]:
    """The chart by make, hottest cone last; rates that no cone of a make has are left out."""
    unit = temperature_unit()
    found = []
    for make, title in MAKES:
        rates = tuple(
            rate for rate in RATES[unit] if any(_cell(cone, make, unit, rate) for cone in CONES)
        )
        rows = [
            ConeRow(cone=cone.name, cells=tuple(_cell(cone, make, unit, rate) for rate in rates))
            for cone in CONES
        ]
        found.append(
            ConeChart(title=title, rates=rates, rows=tuple(row for row in rows if any(row.cells)))
        )
    return found


def _cell(cone: Cone, make: Make, unit: str, rate: int) -> tuple[int, bool] | None:
    for cell in cone.cells:
        if (cell.make, cell.unit, cell.rate_per_h) == (make, unit, rate):
            return cell.temperature, cell.grade == "D"
    return None
