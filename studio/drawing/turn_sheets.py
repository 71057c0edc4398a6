"""How does one supporter's turn stand on paper: what it comes to, month by month, and the rule?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studio.drawing import paper as sheet
from studio.drawing import text
from studio.drawing.paper import SOFT, Block, Paper, Section
from studio.drawing.tables import Column, table

COLUMNS = (
    Column(heading="Month", share=22, weight="bold"),
    Column(heading="Parcels", share=11, align="right"),
    Column(heading="Among", share=11, align="right"),
    Column(heading="Share", share=11, align="right"),
    Column(heading="Sent", share=11, align="right"),
    Column(heading="Due after", share=13, align="right"),
    Column(heading="Remark", share=34),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class TurnSheet:
    """What is printed for one supporter. ``facts`` are (name, value); rows are texts of COLUMNS."""

    title: str
    sentence: str
    why: str
    facts: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    rule: tuple[str, ...]
    foot: str

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(COLUMNS):
                heads = ", ".join(column.heading for column in COLUMNS)
                raise ValueError(f"a row of a turn sheet is {heads}; not {row!r}")


def turn_sheet_pdf(*, turn: TurnSheet, paper: Paper) -> bytes:
    """One supporter's turn on paper. Raises: ValueError for a paper not known."""
    width = sheet.inner_width(paper)
    text.prepare([turn.title, turn.sentence, turn.why, turn.foot, *turn.rule])
    text.prepare(word for fact in turn.facts for word in fact)
    text.prepare(word for row in turn.rows for word in row)
    blocks = sheet.title_blocks(turn.title, turn.sentence, width_pt=width)
    blocks += sheet.words(turn.why, width_pt=width, size_pt=13, weight="bold")
    blocks += [sheet.gap(10), *_facts(turn.facts, width_pt=width), sheet.gap(12)]
    blocks += sheet.heading("Month by month", width_pt=width)
    if turn.rows:
        blocks += table(COLUMNS, turn.rows, width_pt=width)
    else:
        blocks += sheet.words("No month with parcels yet.", width_pt=width, colour=SOFT)
    blocks.append(sheet.gap(14))
    blocks += sheet.heading("The rule", width_pt=width)
    for sentence in turn.rule:
        blocks += [*sheet.words(sentence, width_pt=width, size_pt=10), sheet.gap(4)]
    return sheet.write(
        [Section(blocks=tuple(blocks), foot=turn.foot)], title=turn.title, paper=paper
    )


def _facts(facts: Sequence[tuple[str, str]], *, width_pt: float) -> list[Block]:
    """Names and values in two columns; a value that is long wraps below itself."""
    half = width_pt * 0.32
    return [
        sheet.beside(
            sheet.words(name, width_pt=half - 8, size_pt=10, colour=SOFT),
            sheet.words(value, width_pt=width_pt - half, size_pt=10, weight="bold"),
            right_x_pt=half,
        )
        for name, value in facts
    ]
