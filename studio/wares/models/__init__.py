"""The tables of the wares room."""

from studio.wares.models.catalogue import ClayLot, Coat, Coats, Form, Glaze, Line, Silhouette
from studio.wares.models.moves import Fault, Move, Reservation
from studio.wares.models.pieces import (
    AFTER_GRADE,
    BEFORE_COATS,
    BEFORE_GLAZE_FIRE,
    BEFORE_GRADE,
    Board,
    Photo,
    Piece,
    PieceQuerySet,
    Stage,
)

__all__ = [
    "AFTER_GRADE",
    "BEFORE_COATS",
    "BEFORE_GLAZE_FIRE",
    "BEFORE_GRADE",
    "Board",
    "ClayLot",
    "Coat",
    "Coats",
    "Fault",
    "Form",
    "Glaze",
    "Line",
    "Move",
    "Photo",
    "Piece",
    "PieceQuerySet",
    "Reservation",
    "Silhouette",
    "Stage",
]
