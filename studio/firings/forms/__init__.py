"""What does a person fill in beside a kiln?"""

from studio.firings.forms.care import CareForm, CareRulesForm
from studio.firings.forms.firing import LoadForm, NoteForm, PlanForm, ShiftForm, WhenForm
from studio.firings.forms.furniture import FurnitureForm
from studio.firings.forms.kiln import CircuitForm, KilnForm, RunForm
from studio.firings.forms.logs import LogForm, LogPartForm
from studio.firings.forms.opening import OpenForm
from studio.firings.forms.schedule import ScheduleForm
from studio.firings.forms.seen import seen_token
from studio.firings.forms.sheets import (
    DrawForm,
    InsteadForm,
    MoveForm,
    PinForm,
    SeenForm,
    WhereForm,
)
from studio.firings.forms.watch import NightForm, StartForm

__all__ = [
    "CareForm",
    "CareRulesForm",
    "CircuitForm",
    "DrawForm",
    "FurnitureForm",
    "InsteadForm",
    "KilnForm",
    "LoadForm",
    "LogForm",
    "LogPartForm",
    "MoveForm",
    "NightForm",
    "NoteForm",
    "OpenForm",
    "PinForm",
    "PlanForm",
    "RunForm",
    "ScheduleForm",
    "SeenForm",
    "ShiftForm",
    "StartForm",
    "WhenForm",
    "WhereForm",
    "seen_token",
]
