"""What does a person fill in beside a kiln?"""

from studio.firings.forms.care import CareForm, CareRulesForm
from studio.firings.forms.firing import LoadForm, NoteForm, PlanForm, ShiftForm, WhenForm
from studio.firings.forms.kiln import CircuitForm, KilnForm, RunForm
from studio.firings.forms.logs import LogForm
from studio.firings.forms.opening import OpenForm
from studio.firings.forms.schedule import ScheduleForm
from studio.firings.forms.seen import seen_token

__all__ = [
    "CareForm",
    "CareRulesForm",
    "CircuitForm",
    "KilnForm",
    "LoadForm",
    "LogForm",
    "NoteForm",
    "OpenForm",
    "PlanForm",
    "RunForm",
    "ScheduleForm",
    "ShiftForm",
    "WhenForm",
    "seen_token",
]
