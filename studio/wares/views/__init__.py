"""The pages of the wares room: boards, pieces and the catalogue."""

from studio.wares.views.boards import (
    board,
    boards,
    dry,
    glaze,
    grade,
    lose,
    merge,
    place,
    split,
    throw,
)
from studio.wares.views.catalogue import catalogue, entries, entry
from studio.wares.views.counting import count_in
from studio.wares.views.lines import bucket, lab_result, line, line_standing, proof_rule
from studio.wares.views.pieces import fault, numbered, part, photo, piece, pieces, promise, release

__all__ = [
    "board",
    "boards",
    "bucket",
    "catalogue",
    "count_in",
    "dry",
    "entries",
    "entry",
    "fault",
    "glaze",
    "grade",
    "lab_result",
    "line",
    "line_standing",
    "lose",
    "merge",
    "numbered",
    "part",
    "photo",
    "piece",
    "pieces",
    "place",
    "promise",
    "proof_rule",
    "release",
    "split",
    "throw",
]
