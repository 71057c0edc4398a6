"""All writing of the parcels room: each function is one thing a person does."""

from studio.parcels.services.erasing import erase
from studio.parcels.services.packing import mark_packed, mark_posted, set_note
from studio.parcels.services.people import (
    add_supporter,
    change_supporter,
    mark_paid,
    pause,
    set_paid_months,
    set_tier,
    set_turn_rule,
)
from studio.parcels.services.picking import choose_piece, pick_parcels, skip
from studio.parcels.services.rolls import Imported, Prepared, import_supporters, prepare_import
from studio.parcels.services.shipments import drop_want, set_shipment, set_want
from studio.parcels.services.undo import undo

__all__ = [
    "Imported",
    "Prepared",
    "add_supporter",
    "change_supporter",
    "choose_piece",
    "drop_want",
    "erase",
    "import_supporters",
    "mark_packed",
    "mark_paid",
    "mark_posted",
    "pause",
    "pick_parcels",
    "prepare_import",
    "set_note",
    "set_paid_months",
    "set_shipment",
    "set_tier",
    "set_turn_rule",
    "set_want",
    "skip",
    "undo",
]
