"""Plan, load, light, put off, open and call off firings; keep kilns, schedules and runs."""

from studio.firings.services.care import record_care, set_care
from studio.firings.services.furniture import save_furniture
from studio.firings.services.keeping import (
    save_circuit,
    save_kiln,
    save_run,
    save_schedule,
    set_fuel_price,
    set_tariff,
    set_trial_rule,
)
from studio.firings.services.loading import load, take_out
from studio.firings.services.log_part import choose_log_part, move_log
from studio.firings.services.logs import ReadyLog, keep_log, prepare_log, refit, take_log_away
from studio.firings.services.marking import instead, leave_out, move, move_to, pin, put_at
from studio.firings.services.opening import Energy, Seen, Witness, open_kiln
from studio.firings.services.planning import call_off, note, plan_firing, shift
from studio.firings.services.results import Kept, add_results
from studio.firings.services.running import light, switch_off
from studio.firings.services.sheets import ReadySheet, keep_sheet, prepare_sheet
from studio.firings.services.undoing import undo
from studio.firings.services.watch import set_night_rule, set_start_time

__all__ = [
    "Energy",
    "Kept",
    "ReadyLog",
    "ReadySheet",
    "Seen",
    "Witness",
    "add_results",
    "call_off",
    "choose_log_part",
    "instead",
    "keep_log",
    "keep_sheet",
    "leave_out",
    "light",
    "load",
    "move",
    "move_log",
    "move_to",
    "note",
    "open_kiln",
    "pin",
    "plan_firing",
    "prepare_log",
    "prepare_sheet",
    "put_at",
    "record_care",
    "refit",
    "save_circuit",
    "save_furniture",
    "save_kiln",
    "save_run",
    "save_schedule",
    "set_care",
    "set_fuel_price",
    "set_night_rule",
    "set_start_time",
    "set_tariff",
    "set_trial_rule",
    "shift",
    "switch_off",
    "take_log_away",
    "take_out",
    "undo",
]
