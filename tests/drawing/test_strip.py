"""The kiln-by-day strip: every mark stands on its day, in its row, and reads without colour."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from xml.etree import ElementTree as ET

import pytest
from django.template.loader import render_to_string
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.drawing.flags import fitted
from studio.drawing.strip import (
    DAY_WIDE,
    HEAD_HIGH,
    NAME_WIDE,
    ROW_HIGH,
    BadStrip,
    Strip,
    StripLoad,
)

MONDAY = date(2026, 11, 2)
BISQUE = StripLoad(
    kiln="Deep ten", start_date=MONDAY + timedelta(days=3), busy_days=2, kind="bisque", label="60"
)
GLAZE = StripLoad(
    kiln="Small",
    start_date=MONDAY,
    busy_days=3,
    kind="glaze",
    label="cone 6, <b>20</b> & more",
    pinned=True,
)


def strip(**change: object) -> Strip:
    given = {
        "kilns": ("Small", "Deep ten"),
        "loads": (BISQUE, GLAZE),
        "from_date": MONDAY,
        "to_date": MONDAY + timedelta(days=13),
        "days_off": {MONDAY + timedelta(days=9)},
        "dates": ((MONDAY + timedelta(days=5), "Winter sale"),),
        **change,
    }
    return Strip.of(**given)  # type: ignore[arg-type]


def test_bars_stand_on_their_days_in_their_rows() -> None:
    glaze, bisque = strip().bars
    assert glaze.x == NAME_WIDE + 0 * DAY_WIDE + 1.5
    assert glaze.x + glaze.width == NAME_WIDE + 3 * DAY_WIDE - 1.5
    assert bisque.x == NAME_WIDE + 3 * DAY_WIDE + 1.5
    assert bisque.x + bisque.width == NAME_WIDE + 5 * DAY_WIDE - 1.5
    assert HEAD_HIGH < glaze.y < HEAD_HIGH + ROW_HIGH
    assert HEAD_HIGH + ROW_HIGH < bisque.y < HEAD_HIGH + 2 * ROW_HIGH


def test_kinds_are_told_apart_without_colour() -> None:
    glaze, bisque = strip().bars
    assert bisque.hatch
    assert not glaze.hatch
    assert (glaze.kind_words, bisque.kind_words) == ("glaze", "bisque")
    assert (glaze.pinned, bisque.pinned) == (True, False)


def test_weekends_and_days_off_are_marked() -> None:
    days = strip().days
    # 2 November 2026 is a Monday: the 7th, 8th, 14th and 15th are weekends.
    assert [day.number for day in days if day.off == "weekend"] == ["7", "8", "14", "15"]
    assert [day.number for day in days if day.off == "off"] == ["11"]
    assert [bool(day.cross) for day in days].count(True) == 1
    assert "".join(day.letter for day in days) == "MTWTFSSMTWTFSS"
    assert [day.month for day in days if day.month] == ["November 2026"]


def test_a_due_date_is_a_flag_at_the_end_of_its_day() -> None:
    (flag,) = strip().flags
    assert flag.x == NAME_WIDE + 6 * DAY_WIDE
    assert flag.name == "Winter sale, 7 Nov"
    assert strip(dates=((MONDAY - timedelta(days=1), "gone"),)).flags == ()


def test_the_description_says_what_the_picture_shows() -> None:
    made = strip()
    assert made.title == "Kilns by day, 2 Nov 2026 to 15 Nov 2026"
    assert made.desc == (
        "Small: glaze Mon 2 Nov to Wed 4 Nov, cone 6, <b>20</b> & more, pinned. "
        "Deep ten: bisque Thu 5 Nov to Fri 6 Nov, 60. Due: Winter sale, Sat 7 Nov."
    )


def test_a_firing_over_the_edge_is_cut_and_one_outside_is_left_out() -> None:
    early = replace(GLAZE, start_date=MONDAY - timedelta(days=2))
    late = replace(BISQUE, start_date=MONDAY + timedelta(days=13))
    gone = replace(BISQUE, start_date=MONDAY + timedelta(days=14))
    first, second = strip(loads=(early, late, gone)).bars
    assert first.goes_on_left
    assert first.x == NAME_WIDE
    assert first.width == DAY_WIDE - 1.5
    assert second.goes_on_right
    assert second.x + second.width == NAME_WIDE + 14 * DAY_WIDE


def test_parts_hold_every_day_once() -> None:
    parts = strip().parts(days=5)
    assert [len(part.days) for part in parts] == [5, 5, 4]
    assert [d.number for part in parts for d in part.days] == [d.number for d in strip().days]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"to_date": MONDAY - timedelta(days=1)}, "ends on 2026-11-01, before it begins"),
        ({"to_date": MONDAY + timedelta(days=400)}, "at most 400 days, not 401"),
        ({"kilns": ()}, "needs a kiln"),
        ({"kilns": ("Small", "Small")}, "named twice"),
        ({"kilns": ("Small",)}, "'Deep ten', which is no kiln"),
    ],
)
def test_what_cannot_be_drawn_is_refused(change: dict[str, object], sentence: str) -> None:
    with pytest.raises(BadStrip, match=sentence):
        strip(**change)


def test_a_load_is_checked_at_birth() -> None:
    with pytest.raises(BadStrip, match="at least a day"):
        replace(BISQUE, busy_days=0)
    with pytest.raises(BadStrip, match="bisque or glaze, not 'raku'"):
        replace(BISQUE, kind="raku")


@settings(deadline=None, max_examples=60)
@given(
    starts=st.lists(st.tuples(st.integers(-4, 30), st.integers(1, 5)), max_size=12),
    dues=st.lists(st.tuples(st.integers(0, 27), st.text("abc d", max_size=40)), max_size=8),
)
def test_nothing_leaves_the_drawing(
    starts: list[tuple[int, int]], dues: list[tuple[int, str]]
) -> None:
    made = strip(
        to_date=MONDAY + timedelta(days=27),
        loads=[
            replace(BISQUE, start_date=MONDAY + timedelta(days=s), busy_days=b) for s, b in starts
        ],
        dates=[(MONDAY + timedelta(days=d), name) for d, name in dues],
    )
    for bar in made.bars:
        assert bar.x >= NAME_WIDE
        assert bar.x + bar.width <= made.width
        assert len(bar.label) * 6 <= bar.width
        for x1, y1, x2, y2 in bar.hatch:
            assert bar.x - 0.1 <= min(x1, x2)
            assert max(x1, x2) <= bar.x + bar.width + 0.1
            assert bar.y - 0.1 <= min(y1, y2)
            assert max(y1, y2) <= bar.y + 9.1
    assert len(made.flags) == len(dues)
    for flag in made.flags:
        assert flag.foot <= made.height
        end = flag.text_x + (1 if flag.anchor == "start" else -1) * len(flag.name) * 6.1
        assert -1 <= end <= made.width + 1


def spans(made: Strip) -> list[tuple[float, float, float]]:
    """Foot, left and right of each name, by the width of letters that the drawing reckons with."""
    out = []
    for flag in made.flags:
        wide = len(flag.name) * 6.1
        left = flag.text_x if flag.anchor == "start" else flag.text_x - wide
        out.append((flag.foot, left, left + wide))
    return out


@pytest.mark.parametrize("days", [range(7), range(5, 14), (9, 12, 13)])
def test_names_of_flags_keep_apart(days: Sequence[int]) -> None:
    made = strip(dates=tuple((MONDAY + timedelta(days=d), f"Sale number {d}") for d in days))
    names = spans(made)
    assert len(names) == len(days)
    for i, (foot, left, right) in enumerate(names):
        for other, a, b in names[i + 1 :]:
            assert foot != other or right <= a or b <= left


@pytest.mark.parametrize("days", [range(7), (11, 13), (2, 12)])
def test_poles_keep_clear_of_names_where_they_can(days: Sequence[int]) -> None:
    made = strip(dates=tuple((MONDAY + timedelta(days=d), f"Sale number {d}") for d in days))
    for foot, left, right in spans(made):
        for flag in made.flags:
            assert flag.foot <= foot or not left < flag.x < right


def test_words_are_fitted() -> None:
    assert fitted("cone 6", width=100, letter_wide=10) == "cone 6"
    assert fitted("cone 6 slow", width=80, letter_wide=10) == "cone 6…"
    assert fitted("cone", width=12, letter_wide=10) == ""


def test_the_page_drawing_is_sound_svg_without_style() -> None:
    svg = render_to_string("drawing/strip.svg", {"strip": strip(), "uid": "plan"})
    root = ET.fromstring(svg)
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "plan-title plan-desc"
    ids = {e.get("id"): e for e in root.iter() if e.get("id")}
    assert set(ids) == {"plan-title", "plan-desc"}
    assert ids["plan-desc"].text == strip().desc
    assert not [e for e in root.iter() if e.get("style") or e.tag.endswith("style")]
    assert "<b>" not in svg
    titles = [e.text for e in root.iter() if e.tag.endswith("}title")]
    assert "Small: glaze, cone 6, <b>20</b> & more, from Mon 2 Nov, 3 days, pinned" in titles
    # No number is written the way another tongue would write it, nor left out.
    assert not re.search(r' (x|y|x1|y1|x2|y2|width|height)="[^"]*,', svg)
    assert '=""' not in svg
