"""Firing curves and stage bars: each point and length where its number says."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from django.template.loader import render_to_string

from studio.drawing.bars import NAME_WIDE, NUMBER_WIDE, WIDTH, BadBars, Bars
from studio.drawing.curve import FOOT, HEIGHT, LEFT, RIGHT, TOP, BadCurve, Curve
from studio.drawing.curve import WIDTH as CURVE_WIDTH

POINTS = [(0.0, 20.0), (5.0, 550.0), (8.0, 1222.0), (12.0, 60.0)]


def spots(path: str) -> list[tuple[float, float]]:
    out = []
    for pair in path.split():
        x, y = pair.split(",")
        out.append((float(x), float(y)))
    return out


def test_points_stand_between_the_ticks_of_their_numbers() -> None:
    curve = Curve.of(POINTS)
    assert [tick.words for tick in curve.x_ticks] == [str(h) for h in range(13)]
    assert [tick.words for tick in curve.y_ticks] == [str(c) for c in range(0, 1401, 200)]
    drawn = spots(curve.path)
    for (hour, c), (x, y) in zip(POINTS, drawn, strict=True):
        assert x == pytest.approx(LEFT + (CURVE_WIDTH - LEFT - RIGHT) * hour / 12, abs=0.1)
        assert y == pytest.approx(HEIGHT - FOOT - (HEIGHT - TOP - FOOT) * c / 1400, abs=0.1)


def test_fahrenheit_moves_the_ticks_and_not_the_shape() -> None:
    # 1222 °C x 9 / 5 + 32 = 2231.6 °F
    curve = Curve.of(POINTS, unit="F")
    assert curve.unit_words == "°F"
    assert "2232 °F after 8.0 h" in curve.desc
    low = next(tick for tick in curve.y_ticks if tick.words == "2000")
    high = next(tick for tick in curve.y_ticks if tick.words == "2500")
    peak = min(y for _, y in spots(curve.path))
    share = (2231.6 - 2000) / (2500 - 2000)
    assert peak == pytest.approx(low.at + (high.at - low.at) * share, abs=0.2)


def test_the_quartz_band_is_shown_only_where_a_firing_reaches_it() -> None:
    curve = Curve.of(POINTS)
    ticks = {tick.words: tick.at for tick in curve.y_ticks}
    assert curve.quartz_top == pytest.approx(ticks["600"], abs=0.1)
    assert curve.quartz_foot == pytest.approx((ticks["400"] + 3 * ticks["600"]) / 4, abs=0.2)
    assert Curve.of([(0, 20), (3, 200)]).quartz_top is None


def test_a_log_is_a_second_line() -> None:
    curve = Curve.of(POINTS, measured=[(0, 18), (9, 1230)])
    assert len(spots(curve.measured_path)) == 2
    assert "Measured: highest 1230 °C after 9.0 h." in curve.desc


@pytest.mark.parametrize(
    ("points", "sentence"),
    [
        ([], "at least 2 points"),
        ([(0, 20)], "at least 2 points"),
        ([(0, 20), (5, 600), (4, 700)], "must not go back"),
        ([(-1, 20), (5, 600)], "begins at hour 0"),
        ([(0, 20), (5, float("nan"))], "no number"),
    ],
)
def test_a_curve_that_is_none_is_refused(points: list[tuple[float, float]], sentence: str) -> None:
    with pytest.raises(BadCurve, match=sentence):
        Curve.of(points)


def test_lengths_are_in_proportion() -> None:
    bars = Bars.of([("thrown", 24), ("bisqued", 60), ("glazed", 0)])
    thrown, bisqued, glazed = bars.bars
    assert bisqued.width == WIDTH - NAME_WIDE - NUMBER_WIDE
    assert thrown.width == pytest.approx(bisqued.width * 24 / 60, abs=0.1)
    assert glazed.width == 0
    assert bars.desc == "thrown 24, bisqued 60, glazed 0."
    assert [bar.width for bar in Bars.of([("thrown", 0)]).bars] == [0]


def test_bars_refuse_nothing_and_less_than_nothing() -> None:
    with pytest.raises(BadBars, match="nothing to count"):
        Bars.of([])
    with pytest.raises(BadBars, match="fired: a count is not below 0"):
        Bars.of([("fired", -1)])


@pytest.mark.parametrize(
    ("name", "drawing"),
    [
        ("curve", Curve.of(POINTS, measured=POINTS, title='Cone 6 <slow> & "steady"')),
        ("bars", Bars.of([("thrown <i>", 3), ("fired", 4)])),
    ],
)
def test_the_page_drawings_are_sound_svg_without_style(name: str, drawing: Curve | Bars) -> None:
    svg = render_to_string(f"drawing/{name}.svg", {name: drawing, "uid": "one"})
    root = ET.fromstring(svg)
    assert root.get("role") == "img"
    ids = {e.get("id"): e.text for e in root.iter() if e.get("id")}
    assert ids == {"one-title": drawing.title, "one-desc": drawing.desc}
    assert not [e for e in root.iter() if e.get("style") or e.tag.endswith("style")]
    assert '=""' not in svg


def test_curves_to_compare_differ_by_pattern_and_are_named() -> None:
    other = [(0.0, 20.0), (6.0, 900.0), (9.0, 1060.0)]
    both = Curve.compared([("Six <slow>", POINTS), ("Bisque", other)])
    assert [line.pattern for line in both.lines] == ["s-kiln1", "s-kiln2"]
    assert both.path == ""
    assert both.height == HEIGHT + 2 * 22
    assert [tick.words for tick in both.x_ticks][-1] == "12"
    svg = render_to_string("drawing/curve.svg", {"curve": both, "uid": "c"})
    ET.fromstring(svg)
    assert "Six &lt;slow&gt;" in svg
    assert svg.count("<polyline") == 2
    assert "Bisque: Rises from 20 °C to 1060 °C after 9.0 h." in both.desc


@pytest.mark.parametrize("count", [0, 1, 5])
def test_too_few_or_too_many_to_compare(count: int) -> None:
    with pytest.raises(BadCurve, match="two to 4 curves"):
        Curve.compared([("one", POINTS)] * count)


def test_planned_and_logged_are_named() -> None:
    curve = Curve.of(POINTS, measured=[(0, 18), (9, 1230)])
    assert [(line.name, line.pattern) for line in curve.lines] == [
        ("planned", "s-hot"), ("logged", "s-cool")
    ]  # fmt: skip
    svg = render_to_string("drawing/curve.svg", {"curve": curve, "uid": "c"})
    assert svg.count("<polyline") == 2
    assert Curve.of(POINTS).lines == ()


def test_cristobalite_has_its_line_where_quartz_has_its_band() -> None:
    # Trade glossaries under dunting, no year: about 226 °C. 226/1400 of the height.
    curve = Curve.of(POINTS)
    assert curve.cristobalite_y == pytest.approx(
        HEIGHT - FOOT - (HEIGHT - TOP - FOOT) * 226 / 1400, abs=0.1
    )
    assert Curve.of([(0, 20), (3, 200)]).cristobalite_y is None
