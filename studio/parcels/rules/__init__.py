"""Why may something with supporters and parcels not be done?

Every ``can_...`` answers None when it may be done, else the one sentence that the service raises,
the page shows and the test expects. Nothing here knows the database.
"""

from studio.parcels.rules.months import (
    FIRST_MONTH,
    LAST_MONTH,
    BadMonth,
    month_name,
    month_of,
    month_text,
    read_month,
)
from studio.parcels.rules.people import can_be_gift, can_erase, can_join, can_pay
from studio.parcels.rules.shipments import (
    BOX_LENGTH,
    MOST_BUFFER_DAYS,
    MOST_PARCELS,
    MOST_WANTED,
    can_go,
    can_pack,
    can_post,
    can_print,
    can_ship,
    can_want,
)
from studio.parcels.rules.turns import (
    NOTE_LENGTH,
    bar_sentence,
    can_pick,
    can_put_in,
    can_skip,
    why_now,
    why_without,
)

__all__ = [
    "BOX_LENGTH",
    "FIRST_MONTH",
    "LAST_MONTH",
    "MOST_BUFFER_DAYS",
    "MOST_PARCELS",
    "MOST_WANTED",
    "NOTE_LENGTH",
    "BadMonth",
    "bar_sentence",
    "can_be_gift",
    "can_erase",
    "can_go",
    "can_join",
    "can_pack",
    "can_pay",
    "can_pick",
    "can_post",
    "can_print",
    "can_put_in",
    "can_ship",
    "can_skip",
    "can_want",
    "month_name",
    "month_of",
    "month_text",
    "read_month",
    "why_now",
    "why_without",
]
