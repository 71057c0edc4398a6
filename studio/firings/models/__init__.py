"""Which kilns are there, how do they fire, and what went in and came out of each firing?"""

from studio.firings.models.firings import Firing, PlannedWare, WitnessCone
from studio.firings.models.kilns import Circuit, Kiln
from studio.firings.models.loads import Place, TrialRule
from studio.firings.models.schedules import Run, Schedule, Segment

__all__ = [
    "Circuit",
    "Firing",
    "Kiln",
    "Place",
    "PlannedWare",
    "Run",
    "Schedule",
    "Segment",
    "TrialRule",
    "WitnessCone",
]
