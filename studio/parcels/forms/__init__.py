"""What does a person type about supporters and parcels, and what does the room read from it?"""

from studio.parcels.forms.addresses import AddressForm, ConfirmForm, LockForm
from studio.parcels.forms.people import (
    PauseForm,
    PaymentsForm,
    SupporterForm,
    TierForm,
    TurnRuleForm,
)
from studio.parcels.forms.post import BoxForm, CustomsWordsForm, DeclaredForm, PostSettingsForm
from studio.parcels.forms.rolls import ChosenRowsForm, MatchingForm, RollForm
from studio.parcels.forms.shipments import (
    BrokenForm,
    ChoosePieceForm,
    LabelsForm,
    MovedForm,
    NoteForm,
    ParcelsForm,
    ShipmentForm,
    SkipForm,
    TrackingForm,
    WeighForm,
)

__all__ = [
    "AddressForm",
    "BoxForm",
    "BrokenForm",
    "ChoosePieceForm",
    "ChosenRowsForm",
    "ConfirmForm",
    "CustomsWordsForm",
    "DeclaredForm",
    "LabelsForm",
    "LockForm",
    "MatchingForm",
    "MovedForm",
    "NoteForm",
    "ParcelsForm",
    "PauseForm",
    "PaymentsForm",
    "PostSettingsForm",
    "RollForm",
    "ShipmentForm",
    "SkipForm",
    "SupporterForm",
    "TierForm",
    "TrackingForm",
    "TurnRuleForm",
    "WeighForm",
]
