"""Which kilns are there, how do they fire, and what went in and came out of each firing?"""

from studio.firings.models.care import Care, CareRule, ElementLife, Part
from studio.firings.models.firings import Firing, PlannedWare, WitnessCone
from studio.firings.models.kilns import Circuit, Kiln, PostStock, ShelfStock
from studio.firings.models.loads import Place, Sheet, Spot, TrialRule
from studio.firings.models.logs import FiringLog, KilnFit
from studio.firings.models.results import FuelPrice, Result, Tariff
from studio.firings.models.schedules import Run, Schedule, Segment
from studio.firings.models.watch import NightRule

__all__ = [
    "Care",
    "CareRule",
    "Circuit",
    "ElementLife",
    "Firing",
    "FiringLog",
    "FuelPrice",
    "Kiln",
    "KilnFit",
    "NightRule",
    "Part",
    "Place",
    "PlannedWare",
    "PostStock",
    "Result",
    "Run",
    "Schedule",
    "Segment",
    "Sheet",
    "ShelfStock",
    "Spot",
    "Tariff",
    "TrialRule",
    "WitnessCone",
]
