"""What does the potter hold beside the kiln while loading, and write on while it fires?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from studio.drawing import paper as sheet
from studio.drawing import text
from studio.drawing.curve import Curve
from studio.drawing.curve_print import curve_block
from studio.drawing.load_pages import LevelOnPaper, load_blocks, words_on_paper
from studio.drawing.load_stack import StackPicture
from studio.drawing.paper import SOFT, Block, Paper, Section
from studio.drawing.tables import Column, table

PROGRAMME_HEADS = ("Step", "Rate", "To", "Hold")
"""What the four texts of a programme row are, as the studio writes them ('60 °C/h')."""

_BENDS = ("still up", "bending", "tip down", "flat")
_MM_AN_INCH = 25.4
_MOST_FRAMED = 30
_MOST_STEPS_BESIDE = 14


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadRow:
    """Like pieces of one board: what, how many, how high [mm], how much room [tenths of a place].

    ``places_tenths`` is the room of all of them together.
    """

    what: str
    count: int
    height_mm: int
    from_board: str
    places_tenths: int

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ValueError(f"{self.what}: a load row holds at least one piece")
        if self.height_mm < 0 or self.places_tenths < 0:
            raise ValueError(f"{self.what}: height and room are not below 0")


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadSheet:
    """One firing's sheet. ``cone_words`` says cone and heat in full, so that 6 is never 06.

    Raises: ValueError for a programme row that has not the four texts, or a fill below 0.
    """

    kiln: str
    schedule: str
    start_date: date
    state: str
    rows: tuple[LoadRow, ...]
    fill_percent: int
    cautions: tuple[str, ...]
    programme_rows: tuple[tuple[str, str, str, str], ...]
    cone_words: str = ""
    until_date: date | None = None
    curve: Curve | None = None
    inches: bool = False
    note: str = ""
    studio_name: str = ""
    levels: tuple[LevelOnPaper, ...] = ()
    stack: StackPicture | None = None

    def __post_init__(self) -> None:
        if self.fill_percent < 0:
            raise ValueError(f"{self.kiln}: a kiln is not less than empty")
        if any(len(row) != len(PROGRAMME_HEADS) for row in self.programme_rows):
            raise ValueError(
                f"{self.schedule}: a programme row is {', '.join(PROGRAMME_HEADS).lower()}"
            )


def load_sheets_pdf(*, sheets: Iterable[LoadSheet], paper: Paper) -> bytes:
    """One sheet a firing, each beginning a page.

    Raises: ValueError when there is no firing, or the paper is not known.
    """
    sheets = tuple(sheets)
    if not sheets:
        raise ValueError("there is no firing to print a sheet for")
    width = sheet.inner_width(paper)
    text.prepare(_all_words(sheets))
    sections = [section for one in sheets for section in _sections(one, width_pt=width)]
    title = (
        f"{sheets[0].kiln}, {_date(sheets[0].start_date)}" if len(sheets) == 1 else "Load sheets"
    )
    return sheet.write(sections, title=title, paper=paper)


def _sections(one: LoadSheet, *, width_pt: float) -> list[Section]:
    """The firing's page, then its drawn load on pages of its own."""
    foot = " · ".join(
        words for words in (one.kiln, one.schedule, _date(one.start_date), one.studio_name) if words
    )
    found = [Section(blocks=tuple(_blocks(one, width_pt=width_pt)), foot=foot)]
    if one.levels:
        drawn = load_blocks(one.levels, one.stack, width_pt=width_pt)
        found.append(Section(blocks=tuple(drawn), foot=f"{foot} · the drawn load"))
    return found


def _all_words(sheets: Iterable[LoadSheet]) -> Iterable[str]:
    for one in sheets:
        yield from (one.kiln, one.schedule, one.state, one.cone_words, one.note, one.studio_name)
        yield from one.cautions
        yield from words_on_paper(one.levels)
        for row in one.rows:
            yield from (row.what, row.from_board)
        for texts in one.programme_rows:
            yield from texts


def _date(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"


def _blocks(one: LoadSheet, *, width_pt: float) -> list[Block]:
    days = _date(one.start_date)
    if one.until_date is not None:
        days += f" to {_date(one.until_date)}"
    blocks = [
        *sheet.words(one.kiln, width_pt=width_pt, size_pt=20, weight="bold", keep_with_next=True),
        *sheet.words(
            f"{one.schedule} · {days} · {one.state}",
            width_pt=width_pt,
            size_pt=12,
            keep_with_next=True,
        ),
    ]
    if one.cone_words:
        blocks += sheet.words(
            one.cone_words, width_pt=width_pt, size_pt=14, weight="bold", keep_with_next=True
        )
    blocks += [sheet.gap(2), sheet.rule(width_pt=width_pt, below_pt=5)]
    if one.cautions:
        blocks += [*_cautions(one, width_pt=width_pt), sheet.gap(5)]
    blocks += _load(one, width_pt=width_pt)
    blocks += _programme(one, width_pt=width_pt)
    if one.note:
        blocks += sheet.heading("Note", width_pt=width_pt)
        blocks += sheet.words(one.note, width_pt=width_pt, size_pt=10.5)
        blocks.append(sheet.gap(6))
    blocks += _results(width_pt=width_pt)
    return blocks


def _cautions(one: LoadSheet, *, width_pt: float) -> list[Block]:
    """The cautions in a strong frame; so many that they fill a page run on without one."""
    inside = width_pt - 16
    lines = [
        *sheet.words("Take care", width_pt=inside, size_pt=10.5, weight="bold"),
        *(
            block
            for caution in one.cautions
            for block in sheet.words(caution, width_pt=inside, size_pt=9)
        ),
    ]
    if len(lines) > _MOST_FRAMED:
        return lines
    return [sheet.framed(lines, width_pt=width_pt)]


def _load(one: LoadSheet, *, width_pt: float) -> list[Block]:
    columns = (
        Column(heading="In", share=5, box=True),
        Column(heading="What", share=56),
        Column(heading="How many", share=11, weight="bold", align="right"),
        Column(heading="Height", share=10, align="right"),
        Column(heading="From board", share=13),
        Column(heading="Mug places", share=12, align="right"),
    )
    rows = [
        (
            "",
            row.what,
            str(row.count),
            _height(row.height_mm, inches=one.inches),
            row.from_board,
            _places(row.places_tenths),
        )
        for row in one.rows
    ]
    total = (
        f"{sum(row.count for row in one.rows)} pieces, "
        f"{_places(sum(row.places_tenths for row in one.rows))} mug places"
    )
    return [
        *sheet.heading(f"What goes in: {total}", width_pt=width_pt),
        *(
            table(columns, rows, width_pt=width_pt, size_pt=10, row_min_pt=16)
            if rows
            else sheet.words("Nothing yet.", width_pt=width_pt, size_pt=11, colour=SOFT)
        ),
        sheet.gap(6),
        sheet.share_bar(one.fill_percent, width_pt=width_pt),
        sheet.gap(5),
    ]


def _height(height_mm: int, *, inches: bool) -> str:
    return f"{height_mm / _MM_AN_INCH:.1f} in" if inches else f"{height_mm} mm"


def _places(tenths: int) -> str:
    return f"{tenths / 10:.1f}".removesuffix(".0")


def _programme(one: LoadSheet, *, width_pt: float) -> list[Block]:
    if not one.programme_rows and one.curve is None:
        return []
    left = width_pt * 0.48 if one.curve is not None else width_pt * 0.7
    columns = (
        Column(heading=PROGRAMME_HEADS[0], share=10),
        Column(heading=PROGRAMME_HEADS[1], share=20, align="right"),
        Column(heading=PROGRAMME_HEADS[2], share=16, weight="bold", align="right"),
        Column(heading=PROGRAMME_HEADS[3], share=16, align="right"),
    )
    steps = table(columns, one.programme_rows, width_pt=left, size_pt=9)
    blocks = sheet.heading("Programme", width_pt=width_pt)
    if one.curve is None:
        return [*blocks, *steps, sheet.gap(5)]
    picture = curve_block(one.curve, width_pt=width_pt - left - 14)
    if len(one.programme_rows) > _MOST_STEPS_BESIDE:
        return [*blocks, *steps, sheet.gap(5), picture, sheet.gap(5)]
    return [*blocks, sheet.beside(steps, [picture], right_x_pt=left + 14), sheet.gap(5)]


def _results(*, width_pt: float) -> list[Block]:
    """Room to write by hand; it stays together, so that nobody turns the page with wet hands."""
    left = width_pt * 0.58
    right = width_pt - left - 14
    cones = table(
        (
            Column(heading="Witness", share=17, weight="bold"),
            Column(heading="Cone", share=14),
            *(Column(heading=bend, share=17, box=True) for bend in _BENDS),
        ),
        [(where, "", *("" for _ in _BENDS)) for where in ("top", "middle", "bottom")],
        width_pt=left,
        size_pt=9.5,
        row_min_pt=18,
    )
    lost = table(
        (
            Column(heading="Lost", share=42),
            Column(heading="Count", share=20),
            Column(heading="Why", share=38),
        ),
        [("", "", "")] * 3,
        width_pt=right,
        size_pt=9.5,
        row_min_pt=18,
    )
    stack = [
        *sheet.heading("Written at the kiln", width_pt=width_pt),
        sheet.blanks(("Lit at", "by", "Switched off at", "Highest"), width_pt=width_pt),
        sheet.blanks(("Opened at", "Inside then", "Meter before", "after"), width_pt=width_pt),
        sheet.gap(5),
        sheet.beside(cones, lost, right_x_pt=left + 14),
    ]
    return [sheet.beside(stack, [], right_x_pt=0)]
