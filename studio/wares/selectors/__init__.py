"""What stands where now, how did one piece get there, and do all the sums hold?"""

from studio.wares.selectors.boards import (
    Group,
    board_group,
    boards_now,
    changed_since,
    difference,
    last_word,
    next_label,
)
from studio.wares.selectors.pieces import (
    PieceHistory,
    built_on,
    overtaken,
    piece_history,
    piece_name,
    promise_kept,
    promise_of,
    promise_words,
    reservation_of,
    told,
    whereabouts,
)
from studio.wares.selectors.sums import Sums, broken_sums, line_for, stock_by_line, sums

__all__ = [
    "Group",
    "PieceHistory",
    "Sums",
    "board_group",
    "boards_now",
    "broken_sums",
    "built_on",
    "changed_since",
    "difference",
    "last_word",
    "line_for",
    "next_label",
    "overtaken",
    "piece_history",
    "piece_name",
    "promise_kept",
    "promise_of",
    "promise_words",
    "reservation_of",
    "stock_by_line",
    "sums",
    "told",
    "whereabouts",
]
