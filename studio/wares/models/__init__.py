"""The tables of the wares room."""

from studio.wares.models.catalogue import (
    Bucket,
    ClayLot,
    Coat,
    Coats,
    Form,
    Glaze,
    Line,
    Silhouette,
    Stacks,
)
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
from studio.wares.models.proofs import KilnTrial, LabResult, ProofRule

__all__ = [
    "AFTER_GRADE",
    "BEFORE_COATS",
    "BEFORE_GLAZE_FIRE",
    "BEFORE_GRADE",
    "Board",
    "Bucket",
    "ClayLot",
    "Coat",
    "Coats",
    "Fault",
    "Form",
    "Glaze",
    "KilnTrial",
    "LabResult",
    "Line",
    "Move",
    "Photo",
    "Piece",
    "PieceQuerySet",
    "ProofRule",
    "Reservation",
    "Silhouette",
    "Stacks",
    "Stage",
]
