"""What can be done in the planning room?"""

from studio.planning.services.addresses import give_address, note_read, withdraw_address
from studio.planning.services.plans import (
    LeftOut,
    accept,
    choose_other,
    propose,
    put_aside,
    work_out,
)
from studio.planning.services.searching import ask_to_stop, begin, tend
from studio.planning.services.seek import Answer, BrokenPlan, seek
from studio.planning.services.undoing import undo
from studio.planning.services.week import (
    WEEKDAYS,
    DayHands,
    may_take_day_off,
    set_hands,
    set_reckoning,
    set_rule,
    take_day_off,
    work_day_after_all,
)

__all__ = [
    "WEEKDAYS",
    "Answer",
    "BrokenPlan",
    "DayHands",
    "LeftOut",
    "accept",
    "ask_to_stop",
    "begin",
    "choose_other",
    "give_address",
    "may_take_day_off",
    "note_read",
    "propose",
    "put_aside",
    "seek",
    "set_hands",
    "set_reckoning",
    "set_rule",
    "take_day_off",
    "tend",
    "undo",
    "withdraw_address",
    "work_day_after_all",
    "work_out",
]
