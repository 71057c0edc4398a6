"""Labour bars and stock lines: each length and point where its number says."""

from __future__ import annotations

from datetime import date, timedelta
from xml.etree import ElementTree as ET

import pytest
from django.template.loader import render_to_string

from studio.drawing.labour import BAR_HIGH, DAY_WIDE, BadLabour, Labour
from studio.drawing.stock_lines import GRAPH_HIGH, BadStockLines, StockLines

MONDAY = date(2026, 11, 23)
DAY = timedelta(days=1)
NAMES = ("throw", "glaze", "finish")
DAYS = [
    (MONDAY, (240, 120, 60), (180, 0, 60)),
    (MONDAY + DAY, (240, 0, 60), (0, 30, 0)),
]
STAGES = ("thrown", "bisqued", "glazed", "fired", "graded")


def test_bars_are_as_long_as_their_minutes() -> None:
    labour = Labour.of(names=NAMES, days=DAYS)
    assert [row.most for row in labour.rows] == ["240 min", "120 min", "60 min"]
    first = labour.bars[0]
    assert (first.given_high, first.asked_high) == (BAR_HIGH, pytest.approx(BAR_HIGH * 180 / 240))
    assert first.given_top + first.given_high == pytest.approx(first.foot)
    assert first.asked_top + first.asked_high == pytest.approx(first.foot)
    assert labour.bars[1].x - first.x == DAY_WIDE
    # Asked on a day that gives none is drawn all the same: 30 of the 120 of a full bar.
    asked_only = next(bar for bar in labour.bars if bar.full.endswith("glaze: 30 of 0 min"))
    assert (asked_only.given_high, asked_only.asked_high) == (0, pytest.approx(BAR_HIGH / 4))
    assert labour.desc == (
        "throw: 180 of 480 minutes; glaze: 30 of 120 minutes; finish: 60 of 120 minutes."
    )


def test_labour_that_does_not_fit_its_names_is_refused() -> None:
    with pytest.raises(BadLabour, match="no day or no work"):
        Labour.of(names=NAMES, days=[])
    with pytest.raises(BadLabour, match="one number for each of throw, glaze, finish"):
        Labour.of(names=NAMES, days=[(MONDAY, (1, 2), (1, 2, 3))])
    with pytest.raises(BadLabour, match="minutes are not below 0"):
        Labour.of(names=NAMES, days=[(MONDAY, (1, 2, 3), (1, -2, 3))])


def test_labour_is_drawn_as_sound_svg() -> None:
    labour = Labour.of(names=NAMES, days=DAYS)
    svg = render_to_string("drawing/labour.svg", {"labour": labour, "uid": "l"})
    root = ET.fromstring(svg[svg.index("<svg") :])
    assert len(root.findall(".//{*}rect")) == sum(
        bool(bar.given_high) + bool(bar.asked_high)
        for bar in Labour.of(names=NAMES, days=DAYS).bars
    )


def lines(**changed: object) -> StockLines:
    given: dict[str, object] = {
        "name": "the fair",
        "stages": STAGES,
        "days": [(MONDAY, (4, 2, 0, 0, 0)), (MONDAY + 3 * DAY, (10, 10, 5, 0, 0))],
        "due_date": MONDAY + 9 * DAY,
        "wanted": 10,
    }
    return StockLines.of(**(given | changed))  # type: ignore[arg-type]


def test_lines_step_on_their_days_at_their_heights() -> None:
    drawn = lines()
    thrown = [tuple(map(float, p.split(","))) for p in drawn.lines[0].points.split()]
    wide = drawn.right - drawn.left
    # Ten days from the first to the date: the step on day 3 stands at 3 tenths of the width.
    assert thrown == [
        (drawn.left, pytest.approx(drawn.foot - GRAPH_HIGH * 4 / 10)),
        (pytest.approx(drawn.left + wide * 3 / 10, abs=0.1), drawn.foot - GRAPH_HIGH * 4 / 10),
        (pytest.approx(drawn.left + wide * 3 / 10, abs=0.1), drawn.foot - GRAPH_HIGH),
        (drawn.right, drawn.foot - GRAPH_HIGH),
    ]
    assert drawn.wanted_y == drawn.top
    assert len({line.style for line in drawn.lines}) == 5
    assert drawn.desc.startswith("10 wanted. On 23 Nov: 4 thrown, 2 bisqued, 0 glazed")


def test_stock_that_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(BadStockLines, match="there is no day"):
        lines(days=[])
    with pytest.raises(BadStockLines, match="one count for each stage"):
        lines(days=[(MONDAY, (1, 2))])
    with pytest.raises(BadStockLines, match="is after the date"):
        lines(due_date=MONDAY - DAY)


def test_stock_is_drawn_as_sound_svg() -> None:
    svg = render_to_string("drawing/stock_lines.svg", {"stock": lines(), "uid": "s"})
    root = ET.fromstring(svg[svg.index("<svg") :])
    assert len(root.findall(".//{*}polyline")) == 5
