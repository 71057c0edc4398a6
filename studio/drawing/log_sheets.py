"""How does a log stand on paper: the cone it reached, and how it followed its programme?"""

from __future__ import annotations

from dataclasses import dataclass

from studio.drawing import paper as sheet
from studio.drawing import text
from studio.drawing.curve import Curve
from studio.drawing.curve_print import curve_block
from studio.drawing.paper import SOFT, Paper, Section
from studio.drawing.tables import Column, table

REACHED = (
    Column(heading="Row", share=10),
    Column(heading="To", share=20, weight="bold", align="right"),
    Column(heading="Planned", share=20, align="right"),
    Column(heading="Logged", share=20, align="right"),
    Column(heading="", share=24),
)
SENSORS = (
    Column(heading="Sensor", share=30),
    Column(heading="Highest", share=20, align="right"),
    Column(heading="With the cooling", share=50),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class LogSheet:
    """What is printed of one log. ``facts`` are (name, value); rows are texts of their columns."""

    title: str
    sentence: str
    facts: tuple[tuple[str, str], ...]
    curve: Curve | None
    rows: tuple[tuple[str, str, str, str, str], ...]
    sensors: tuple[tuple[str, str, str], ...]
    remarks: tuple[str, ...]
    foot: str


def log_sheet_pdf(*, log: LogSheet, paper: Paper) -> bytes:
    """One log on paper. Raises: ValueError for a paper not known."""
    width = sheet.inner_width(paper)
    text.prepare([log.title, log.sentence, log.foot, *log.remarks])
    text.prepare(
        word for rows in (log.facts, log.rows, log.sensors) for row in rows for word in row
    )
    blocks = [*sheet.title_blocks(log.title, log.sentence, width_pt=width), sheet.gap(6)]
    third = width * 0.34
    for name, value in log.facts:
        blocks.append(
            sheet.beside(
                sheet.words(name, width_pt=third - 8, size_pt=10, colour=SOFT),
                sheet.words(value, width_pt=width - third, size_pt=10, weight="bold"),
                right_x_pt=third,
            )
        )
    blocks.append(sheet.gap(8))
    if log.curve is not None:
        blocks += [curve_block(log.curve, width_pt=width * 0.8, letters=15), sheet.gap(8)]
    if log.rows:
        blocks += sheet.heading("When each row's target was reached", width_pt=width)
        blocks += [*table(REACHED, log.rows, width_pt=width), sheet.gap(8)]
    if log.sensors:
        blocks += sheet.heading("Sensors", width_pt=width)
        blocks += [*table(SENSORS, log.sensors, width_pt=width), sheet.gap(8)]
    for remark in log.remarks:
        blocks += [*sheet.words(remark, width_pt=width, size_pt=9.5), sheet.gap(3)]
    return sheet.write([Section(blocks=tuple(blocks), foot=log.foot)], title=log.title, paper=paper)
