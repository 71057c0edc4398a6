"""Which pieces could be listed for a sale day, and at which price?"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

from studio.sales.models import SaleDay
from studio.sales.selectors.days import want_rows
from studio.sales.selectors.pieces import LINE_PARTS, free_graded
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Line, Piece


@dataclass(frozen=True, kw_only=True, slots=True)
class OfferGroup:
    """Free graded pieces of one line and grade that could be listed together at one price.

    ``price_pence`` is what the form is sold for, None for seconds.
    """

    key: str
    line: Line | None
    name: str
    grade: str
    price_pence: int | None
    wanted: int
    pieces: tuple[Piece, ...]


def offer_groups(sale_day: SaleDay) -> list[OfferGroup]:
    """The graded pieces that nobody was promised, by line and grade; wanted lines first."""
    wanted = Counter({row.want.line_id: row.short for row in want_rows(sale_day)})
    lines = {kind_of(line): line for line in Line.objects.select_related(*LINE_PARTS)}
    together: dict[tuple[Kind, str], list[Piece]] = defaultdict(list)
    for piece in free_graded():
        together[kind_of(piece), piece.grade].append(piece)
    groups = []
    for (kind, grade), pieces in together.items():
        line = lines.get(kind)
        groups.append(
            OfferGroup(
                key="-".join([*map(str, kind), grade]),
                line=line,
                name=str(line) if line else _name(pieces[0]),
                grade=grade,
                # A second is not worth what a first is: its price is typed.
                price_pence=pieces[0].form.price_pence if grade == "first" else None,
                wanted=wanted[line.id] if line and grade == "first" else 0,
                pieces=tuple(pieces),
            )
        )
    return sorted(groups, key=lambda g: (g.grade != "first", not g.wanted, g.name))


def _name(piece: Piece) -> str:
    return f"{piece.form} in {piece.coats} on {piece.clay_lot.body}"
