"""What makes two pots the same ware: form, clay lot, coats and schedule?"""

from __future__ import annotations

from typing import NamedTuple, Protocol


class Combination(NamedTuple):
    """What is proven or not: a glaze on a clay, fired so."""

    clay_lot_id: int
    coats_id: int
    schedule_id: int


class Kind(NamedTuple):
    """The four keys of a ware. Coats and schedule are None before it is glazed.

    ``values_list(*Kind._fields)`` reads rows that are equal to kinds.
    """

    form_id: int
    clay_lot_id: int
    coats_id: int | None
    schedule_id: int | None


class OfAKind(Protocol):
    """Whatever has the four keys: a piece, a line, what a board holds."""

    @property
    def form_id(self) -> int: ...
    @property
    def clay_lot_id(self) -> int: ...
    @property
    def coats_id(self) -> int | None: ...
    @property
    def schedule_id(self) -> int | None: ...


def kind_of(of: OfAKind) -> Kind:
    """The kind of a piece, a line or a board's group (of an empty board: 0, 0, None, None)."""
    return Kind(of.form_id, of.clay_lot_id, of.coats_id, of.schedule_id)
