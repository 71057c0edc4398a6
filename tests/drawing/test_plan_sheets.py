"""The plan on paper, read back."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from paper_reading import MM, letters, picture, size_pt, texts

from studio.drawing.labour import Labour
from studio.drawing.plan_sheets import plan_pdf
from studio.drawing.strip import Strip, StripLoad

MONDAY = date(2026, 11, 2)


def strip(*loads: StripLoad, days: int = 42) -> Strip:
    return Strip.of(
        kilns=("Small eight", "窯 Deep"),
        loads=loads
        or (
            StripLoad(
                kiln="Small eight", start_date=MONDAY, busy_days=3, kind="glaze", label="cone 6"
            ),
            StripLoad(
                kiln="窯 Deep",
                start_date=MONDAY + timedelta(days=22),
                busy_days=2,
                kind="bisque",
                label="60 pots",
                pinned=True,
            ),
        ),
        from_date=MONDAY,
        to_date=MONDAY + timedelta(days=days - 1),
        days_off=[MONDAY + timedelta(days=3)],
        dates=[(MONDAY + timedelta(days=12), "Winter sale")],
    )


def plan(**change: object) -> bytes:
    given = {
        "title": "Plan from 2 November",
        "strip": strip(),
        "firings_rows": [
            ("Mon 2 Nov", "Small eight", "Cone 6 slow", "20 mugs", "Thu 5 Nov", "3 days")
        ],
        "throwing_rows": [("Wed 4 Nov", "Mug, speckled", "26", "Winter sale")],
        "short_rows": [("Mug, Tide", "14 Nov", "4", "No kiln is free", "One more firing")],
        "sentence": "All but 4 mugs can be ready.",
        "paper": "A4",
        **change,
    }
    return plan_pdf(**given)  # type: ignore[arg-type]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_plan_says_everything_inside_its_margins(paper: str) -> None:
    data = plan(paper=paper)
    pages = texts(data)
    whole = " ".join(pages)
    for words in (
        "Plan from 2 November All but 4 mugs can be ready.",
        "Mug, Tide 14 Nov 4 No kiln is free One more firing",
        "Mon 2 Nov Small eight Cone 6 slow 20 mugs Thu 5 Nov 3 days",
        "Wed 4 Nov Mug, speckled 26 Winter sale",
        "Winter sale, 14 Nov",
        "November 2026",
        "December 2026",
        "cone 6",
        "60 pots",
    ):
        assert words in whole
    margin = 15 * MM - 1
    for page in range(len(pages)):
        width, height = size_pt(data, page)
        assert width > height
        for letter in letters(data, page):
            assert margin <= letter.left
            assert letter.right <= width - margin
            assert margin <= letter.bottom
            assert letter.top <= height - margin


def test_a_glaze_bar_is_solid_and_a_bisque_bar_is_open() -> None:
    def ink(kind: str) -> int:
        load = StripLoad(
            kiln="Small eight",
            start_date=MONDAY,
            busy_days=10,
            kind=kind,  # type: ignore[arg-type]
            label="x",
        )
        page = picture(plan(strip=strip(load, days=21), short_rows=[]), scale=1).convert("L")
        return sum(count for value, count in enumerate(page.histogram()) if value < 90)

    # 10 of 21 days, 380 user units by 34 at a scale of about 0.83: nearly 9000 points of ink,
    # less the open bar's outline, hatching and words.
    assert 6500 < ink("glaze") - ink("bisque") < 9000


def test_empty_tables_say_nothing_and_no_shortfall_has_no_table() -> None:
    whole = " ".join(texts(plan(firings_rows=[], throwing_rows=[], short_rows=[])))
    assert whole.count("Nothing.") == 2
    assert "What falls short" not in whole


def test_what_changes_helps_and_is_latest_stands_where_it_is_given() -> None:
    days = [(MONDAY + timedelta(days=n), (240, 120, 60), (180, 0, 60)) for n in range(42)]
    data = plan(
        helps=["20 of 24 can be had, and no more."],
        use_rows=[("throwing", "900", "1000 min", "90 %")],
        changes=["Moved: bisque to the deep one on Tue 3 Nov."],
        gets_rows=[("Winter sale", "14 Nov", "24 × Mug", "20 come, 9 in 10 sure; 4 short")],
        throw_by_rows=[("Mug, Tide", "4", "Thu 5 Nov", "Winter sale")],
        labour=Labour.of(names=("throw", "glaze", "finish"), days=days),
    )
    whole = " ".join(texts(data))
    for words in (
        "20 of 24 can be had, and no more.",
        "throwing 900 1000 min 90 %",
        "What changes from the plan before Moved: bisque to the deep one on Tue 3 Nov.",
        "Winter sale 14 Nov 24 × Mug 20 come, 9 in 10 sure; 4 short",
        "Mug, Tide 4 Thu 5 Nov Winter sale",
        "Hands by day",
        "240 min",
    ):
        assert words in whole, words
    plain = " ".join(texts(plan()))
    for heading in ("What changes", "What each date gets", "Hands by day", "How full"):
        assert heading not in plain


def test_many_rows_repeat_their_heading() -> None:
    rows = [(f"day {n};", "Mug", "26", "sale") for n in range(90)]
    pages = texts(plan(throwing_rows=rows))
    assert sum("By Throw" in page for page in pages) >= 3
    assert all(f"day {n};" in " ".join(pages) for n in range(90))


def test_a_row_of_the_wrong_length_is_refused() -> None:
    with pytest.raises(ValueError, match="a row of throwing is by, throw, how many, for"):
        plan(throwing_rows=[("Mon", "Mug")])
