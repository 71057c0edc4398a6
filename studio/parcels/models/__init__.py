"""Who supports us, whose turn is it, and what goes to whom this month?

Months are whole numbers, ``year * 12 + month - 1``, so that they can be counted and constrained
without any date function in the database.
"""

from studio.parcels.models.people import FormerTier, Pause, Payment, Supporter, Tier, TurnRule
from studio.parcels.models.post import (
    AddressLook,
    BodyKind,
    BoxType,
    FormUse,
    PostSettings,
)
from studio.parcels.models.shipments import Parcel, ParcelPiece, Shipment, ShipmentWant, Skip

__all__ = [
    "AddressLook",
    "BodyKind",
    "BoxType",
    "FormUse",
    "FormerTier",
    "Parcel",
    "ParcelPiece",
    "Pause",
    "Payment",
    "PostSettings",
    "Shipment",
    "ShipmentWant",
    "Skip",
    "Supporter",
    "Tier",
    "TurnRule",
]
