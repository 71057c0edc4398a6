"""What stands in which kiln, what may go in, and what came out?"""

from studio.firings.selectors.heat import (
    Expected,
    Hours,
    curve_of,
    expected,
    expected_opening,
    hours_of,
)
from studio.firings.selectors.kilns import (
    KilnNow,
    busy_with,
    days_taken,
    heating_on,
    kilns_now,
    last_said,
    late_for,
    planned_firings,
    run_for,
    why_not_light,
)
from studio.firings.selectors.loads import (
    BoardChoice,
    Fill,
    Standing,
    batch_of,
    boards_in,
    firing_fill,
    load_of,
    loadable_boards,
)
from studio.firings.selectors.results import Came, Results, past_firings, results

__all__ = [
    "BoardChoice",
    "Came",
    "Expected",
    "Fill",
    "Hours",
    "KilnNow",
    "Results",
    "Standing",
    "batch_of",
    "boards_in",
    "busy_with",
    "curve_of",
    "days_taken",
    "expected",
    "expected_opening",
    "firing_fill",
    "heating_on",
    "hours_of",
    "kilns_now",
    "last_said",
    "late_for",
    "load_of",
    "loadable_boards",
    "past_firings",
    "planned_firings",
    "results",
    "run_for",
    "why_not_light",
]
