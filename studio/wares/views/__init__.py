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
from studio.wares.views.pieces import numbered, part, photo, piece, pieces, promise, release

__all__ = [
    "board",
    "boards",
    "catalogue",
    "count_in",
    "dry",
    "entries",
    "entry",
    "glaze",
    "grade",
    "lose",
    "merge",
    "numbered",
    "part",
    "photo",
    "piece",
    "pieces",
    "place",
    "promise",
    "release",
    "split",
    "throw",
]
