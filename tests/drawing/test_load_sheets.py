"""Load sheets read back: what goes in, how full, what to write."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from paper_reading import MM, letters, picture, size_pt, texts

from studio.drawing.curve import Curve
from studio.drawing.load_sheets import LoadRow, LoadSheet, load_sheets_pdf

MUGS = LoadRow(
    what="Mug, Tide over Chalk", count=24, height_mm=95, from_board="B12", places_tenths=240
)
BOWLS = LoadRow(what="Bowl, Oatmeal", count=12, height_mm=65, from_board="B07", places_tenths=216)
SHEET = LoadSheet(
    kiln="Deep ten",
    schedule="Cone 6 slow",
    start_date=date(2026, 11, 2),
    until_date=date(2026, 11, 4),
    state="planned",
    rows=(MUGS, BOWLS),
    fill_percent=65,
    cautions=("The kiln stays hot for hours.", "Run the extraction."),
    programme_rows=(("1", "60 °C/h", "120 °C", "2 h"), ("2", "150 °C/h", "1222 °C", "")),
    cone_words="Cone 6 (six), about 1222 °C",
    curve=Curve.of([(0, 20), (8, 1222), (20, 60)]),
    note="Wash shelf 3.",
    studio_name="Lantern Yard Pots",
)


def inside_margins(data: bytes, page: int = 0) -> bool:
    width, height = size_pt(data, page)
    margin = 15 * MM - 1
    found = letters(data, page)
    return bool(found) and all(
        letter.left >= margin
        and letter.right <= width - margin
        and letter.bottom >= margin
        and letter.top <= height - margin
        for letter in found
    )


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_sheet_says_everything_on_one_page(paper: str) -> None:
    data = load_sheets_pdf(sheets=[SHEET], paper=paper)  # type: ignore[arg-type]
    (read,) = texts(data)
    for words in (
        "Deep ten Cone 6 slow · Mon 2 Nov 2026 to Wed 4 Nov 2026 · planned",
        "Cone 6 (six), about 1222 °C",
        "The kiln stays hot for hours.",
        "Mug, Tide over Chalk 24 95 mm B12 24",
        "Bowl, Oatmeal 12 65 mm B07 21.6",
        "36 pieces, 45.6 mug places",  # 24 + 12; (240 + 216) / 10
        "65 % full",
        "1 60 °C/h 120 °C 2 h",
        "Wash shelf 3.",
        "Lit at",
        "Meter before",
        "still up",
        "Lost",
        "page 1 of 1",
    ):
        assert words in read
    assert inside_margins(data)


def test_the_bar_is_as_long_as_the_kiln_is_full() -> None:
    def solid(percent: int) -> int:
        page = picture(
            load_sheets_pdf(sheets=[replace(SHEET, fill_percent=percent)], paper="A4"), scale=1
        ).convert("L")
        return sum(page.histogram()[:90])

    # A4 is 595 pt wide, less margins of 42.5 and 190 for the words: 320 pt for 100 %, 15 pt high.
    assert solid(75) - solid(50) == pytest.approx(320 * 0.25 * 15, rel=0.08)


def test_more_than_full_is_said() -> None:
    (read,) = texts(load_sheets_pdf(sheets=[replace(SHEET, fill_percent=112)], paper="A4"))
    assert "112 % full: more than it holds" in read


def test_inches() -> None:
    (read,) = texts(load_sheets_pdf(sheets=[replace(SHEET, inches=True)], paper="Letter"))
    assert "3.7 in" in read  # 95 / 25.4 = 3.74


def test_each_firing_begins_a_page_and_a_long_load_goes_on() -> None:
    many = replace(SHEET, rows=tuple(replace(MUGS, from_board=f"B{n}-") for n in range(70)))
    data = load_sheets_pdf(sheets=[many, SHEET], paper="A4")
    pages = texts(data)
    assert "page 1 of 3" in pages[0]
    assert "page 1 of 1" in pages[-1]
    whole = " ".join(pages)
    assert all(f"B{n}-" in whole for n in range(70))
    assert sum("From board" in page for page in pages[:-1]) >= 2
    assert all(inside_margins(data, page) for page in range(len(pages)))


def test_long_words_stay_inside() -> None:
    long = "Wolfeschlegelsteinhausenbergerdorff " * 5
    data = load_sheets_pdf(
        sheets=[
            replace(
                SHEET,
                kiln=long,
                schedule=long,
                cone_words=long,
                note=long * 3,
                cautions=(long * 4,) * 8,
                rows=(replace(MUGS, what="X" * 200, from_board="東京" * 20),),
                programme_rows=tuple((str(n), "60 °C/h", "100 °C", "") for n in range(30)),
            )
        ],
        paper="Letter",
    )
    pages = texts(data)
    assert all(inside_margins(data, page) for page in range(len(pages)))
    assert "".join(pages).count("X") == 200


def test_nothing_loaded_is_said() -> None:
    (read,) = texts(
        load_sheets_pdf(sheets=[replace(SHEET, rows=(), programme_rows=(), curve=None)], paper="A4")
    )
    assert "Nothing yet." in read
    assert "0 pieces, 0 mug places" in read


def test_nonsense_is_refused_at_birth() -> None:
    with pytest.raises(ValueError, match="at least one piece"):
        replace(MUGS, count=0)
    with pytest.raises(ValueError, match="not below 0"):
        replace(MUGS, places_tenths=-1)
    with pytest.raises(ValueError, match="less than empty"):
        replace(SHEET, fill_percent=-1)
    with pytest.raises(ValueError, match="a programme row is step, rate, to, hold"):
        replace(SHEET, programme_rows=(("1", "60"),))
    with pytest.raises(ValueError, match="no firing"):
        load_sheets_pdf(sheets=[], paper="A4")
