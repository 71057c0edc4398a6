"""What may the pages, the services and the papers of this room ask?"""

from studio.parcels.selectors.people import (
    address_lines,
    as_roll,
    countries_used,
    had_pieces,
    supporters,
)
from studio.parcels.selectors.shipments import (
    cannot_print,
    cannot_put_in,
    cannot_want,
    free_pots,
    kind_of,
    lines_by_kind,
    needs,
    offers,
    parcel_rows,
    pots_for,
    shipments,
    want_rows,
    wisher,
)
from studio.parcels.selectors.turns import (
    LedgerLine,
    due_turns,
    eligible_count,
    ledger_lines,
    turn_rule,
    turners,
)

__all__ = [
    "LedgerLine",
    "address_lines",
    "as_roll",
    "cannot_print",
    "cannot_put_in",
    "cannot_want",
    "countries_used",
    "due_turns",
    "eligible_count",
    "free_pots",
    "had_pieces",
    "kind_of",
    "ledger_lines",
    "lines_by_kind",
    "needs",
    "offers",
    "parcel_rows",
    "pots_for",
    "shipments",
    "supporters",
    "turn_rule",
    "turners",
    "want_rows",
    "wisher",
]
