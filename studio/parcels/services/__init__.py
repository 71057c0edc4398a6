"""All writing of the parcels room: each function is one thing a person does."""

from studio.parcels.services.addresses import (
    address_link,
    command_user,
    confirm_address,
    forget_addresses,
    forget_old,
    keep_looks,
    lock_addresses,
    set_own_address,
    take_address,
)
from studio.parcels.services.breakage import keep_spare, replace_broken, report_broken
from studio.parcels.services.erasing import erase
from studio.parcels.services.looking import Look, look_on
from studio.parcels.services.months import drop_pause, go_on, mark_paid, pause, set_payments
from studio.parcels.services.packing import (
    mark_arrived,
    mark_packed,
    set_note,
    set_tracking,
    weigh,
)
from studio.parcels.services.people import (
    add_supporter,
    change_supporter,
    set_tier,
    set_turn_rule,
)
from studio.parcels.services.picking import choose_piece, pick_parcels, skip
from studio.parcels.services.post import (
    drop_box,
    keep_post_settings,
    set_box,
    set_customs_words,
    set_declared,
)
from studio.parcels.services.posting import mark_posted, post_or_take
from studio.parcels.services.rolls import (
    Imported,
    Prepared,
    import_step,
    import_supporters,
    prepare_import,
    steps,
)
from studio.parcels.services.shipments import drop_want, set_aside, set_shipment, set_want
from studio.parcels.services.undo import undo

__all__ = [
    "Imported",
    "Look",
    "Prepared",
    "add_supporter",
    "address_link",
    "change_supporter",
    "choose_piece",
    "command_user",
    "confirm_address",
    "drop_box",
    "drop_pause",
    "drop_want",
    "erase",
    "forget_addresses",
    "forget_old",
    "go_on",
    "import_step",
    "import_supporters",
    "keep_looks",
    "keep_post_settings",
    "keep_spare",
    "lock_addresses",
    "look_on",
    "mark_arrived",
    "mark_packed",
    "mark_paid",
    "mark_posted",
    "pause",
    "pick_parcels",
    "post_or_take",
    "prepare_import",
    "replace_broken",
    "report_broken",
    "set_aside",
    "set_box",
    "set_customs_words",
    "set_declared",
    "set_note",
    "set_own_address",
    "set_payments",
    "set_shipment",
    "set_tier",
    "set_tracking",
    "set_turn_rule",
    "set_want",
    "skip",
    "steps",
    "take_address",
    "undo",
    "weigh",
]
