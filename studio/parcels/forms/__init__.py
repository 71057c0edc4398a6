"""What does a person type about supporters and parcels, and what does the room read from it?"""

from studio.parcels.forms.people import (
    PaidMonthsForm,
    RollForm,
    SupporterForm,
    TierForm,
    TurnRuleForm,
)
from studio.parcels.forms.shipments import (
    ChoosePieceForm,
    NoteForm,
    ParcelsForm,
    ShipmentForm,
    SkipForm,
)

__all__ = [
    "ChoosePieceForm",
    "NoteForm",
    "PaidMonthsForm",
    "ParcelsForm",
    "RollForm",
    "ShipmentForm",
    "SkipForm",
    "SupporterForm",
    "TierForm",
    "TurnRuleForm",
]
