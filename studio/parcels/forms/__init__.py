"""What does a person type about supporters and parcels, and what does the room read from it?"""

from studio.parcels.forms.people import (
    PauseForm,
    PaymentsForm,
    SupporterForm,
    TierForm,
    TurnRuleForm,
)
from studio.parcels.forms.rolls import ChosenRowsForm, MatchingForm, RollForm
from studio.parcels.forms.shipments import (
    ChoosePieceForm,
    NoteForm,
    ParcelsForm,
    ShipmentForm,
    SkipForm,
)

__all__ = [
    "ChoosePieceForm",
    "ChosenRowsForm",
    "MatchingForm",
    "NoteForm",
    "ParcelsForm",
    "PauseForm",
    "PaymentsForm",
    "RollForm",
    "ShipmentForm",
    "SkipForm",
    "SupporterForm",
    "TierForm",
    "TurnRuleForm",
]
