"""Take pieces for a transaction, before it is read what they are promised for.

A promise stands in a table of its own, so two people could each read that a piece is free and then
both take it. Whoever promises, lists, sells or sends pieces therefore locks their rows first, in
the order of their ids (two crosswise cannot wait for each other), and reads only then. On SQLite
a transaction that writes is alone from its first statement, and the lock costs nothing.
"""

from __future__ import annotations

from collections.abc import Iterable

from studio.wares.models import Piece

MANY = 500  # rows a statement, far below the limit of variables of both databases


def lock_pieces(ids: Iterable[int]) -> None:
    """Hold the rows of these pieces until the transaction ends. Read them after, not before."""
    wanted = sorted(set(ids))
    for start in range(0, len(wanted), MANY):
        some = Piece.objects.filter(id__in=wanted[start : start + MANY]).order_by("id")
        list(some.select_for_update().values_list("id", flat=True))
