"""All writing of the wares room: each function is one thing a potter does, or a part of one.

Whole things, each its own transaction and ``Change``: throw, count_in, mark_dry, place, split,
merge, lose, glaze, grade, part, reserve, release, undo, and the catalogue. Parts, for use inside
another room's transaction and change: pass_firing, part_pieces, list_pieces, take_off_list,
put_back.
"""

from studio.wares.services.boards import lose, mark_dry, merge, place, split, throw
from studio.wares.services.catalogue import keep_entry
from studio.wares.services.counting import count_in
from studio.wares.services.grading import grade
from studio.wares.services.lab import file_result
from studio.wares.services.lines import ensure_line
from studio.wares.services.locking import lock_pieces
from studio.wares.services.moves import hold, new_board, put_back, put_on_board
from studio.wares.services.photos import add_photo
from studio.wares.services.promises import release, reserve
from studio.wares.services.standing import (
    WORDS,
    new_bucket,
    restand_pieces,
    set_proof_rule,
    set_standing,
    stand_back,
)
from studio.wares.services.steps import (
    find_fault,
    glaze,
    list_pieces,
    part,
    part_pieces,
    pass_firing,
    see_fault,
    take_off_list,
)
from studio.wares.services.undo import undo

__all__ = [
    "WORDS",
    "add_photo",
    "count_in",
    "ensure_line",
    "file_result",
    "find_fault",
    "glaze",
    "grade",
    "hold",
    "keep_entry",
    "list_pieces",
    "lock_pieces",
    "lose",
    "mark_dry",
    "merge",
    "new_board",
    "new_bucket",
    "part",
    "part_pieces",
    "pass_firing",
    "place",
    "put_back",
    "put_on_board",
    "release",
    "reserve",
    "restand_pieces",
    "see_fault",
    "set_proof_rule",
    "set_standing",
    "split",
    "stand_back",
    "take_off_list",
    "throw",
    "undo",
]
