"""What stands in which kiln, what may go in, and what came out?"""

from studio.firings.selectors.kilns import (
    KilnNow,
    busy_with,
    days_taken,
    expected_opening,
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
    "Fill",
    "KilnNow",
    "Results",
    "Standing",
    "batch_of",
    "boards_in",
    "busy_with",
    "days_taken",
    "expected_opening",
    "firing_fill",
    "heating_on",
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
