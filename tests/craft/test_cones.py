"""Do the cones stand in their order, and does the chart say what its copies say?

Source of every printed temperature here: "Temperature Equivalents for Orton Pyrometric Cones",
The Edward Orton Jr. Ceramic Foundation, in the copies listed in ``studio.craft.cones``. Cells of
grade D (from memory) are not used as a truth.
"""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.craft.cones import (
    CONES,
    BendingLine,
    Cell,
    NoCell,
    UnknownCone,
    cone_choices,
    cone_named,
    cone_order,
    cone_temperature,
    from_memory,
    hotter,
)
from studio.craft.quantities import c_to_f, rate_c_to_f


def test_thirty_eight_cones_in_one_order() -> None:
    below = [f"0{n:02}" for n in range(22, 9, -1)] + [f"0{n}" for n in range(9, 0, -1)]
    above = [str(n) for n in range(1, 15)]
    below.insert(below.index("05"), "05.5")
    above.insert(above.index("6"), "5.5")
    assert [cone.name for cone in CONES] == below + above
    assert [cone.order for cone in CONES] == list(range(13 + 9 + 1 + 14 + 1))


def test_the_leading_0_matters() -> None:
    assert hotter("6", "06")
    assert hotter("1", "01")
    assert hotter("04", "06")
    assert not hotter("06", "06")
    assert cone_order("6") - cone_order("06") == 13  # 05.5 05 04 03 02 01 1 2 3 4 5 5.5 6


@pytest.mark.parametrize("written", ["6", " 6 ", "cone 6", "Cone 6", "^6", "Δ6", "△ 6"])
def test_a_cone_as_people_write_it(written: str) -> None:
    assert cone_named(written).name == "6"


def test_a_half_cone_as_people_write_it() -> None:
    assert cone_named("5½").name == cone_named("5 1/2").name == "5.5"
    assert cone_named("05.5").is_half


@pytest.mark.parametrize("written", ["", "cone", "15", "0", "00", "6.5", "006", "-6", "six"])
def test_a_name_that_is_no_cone(written: str) -> None:
    with pytest.raises(UnknownCone, match="is not a cone") as caught:
        cone_order(written)
    assert caught.value.name == written


def test_choices_for_a_form() -> None:
    choices = cone_choices()
    assert choices[0] == ("022", "cone 022")
    assert ("6", "cone 6") in choices
    assert len(choices) == 38


@pytest.mark.parametrize(
    ("cone", "rate_f_per_h", "printed_f"),
    [
        ("6", 27, 2165),  # Clayart, L. E., 7 Nov 2006
        ("6", 108, 2232),
        ("6", 270, 2269),
        ("7", 108, 2262),  # the reseller's copy in °F
        ("5", 108, 2167),  # and community.ceramicartsdaily.org, Dec 2020
        ("10", 27, 2284),  # bigceramicstore.com
        ("10", 108, 2345),
        ("10", 270, 2381),
        ("06", 108, 1828),
        ("06", 270, 1855),
        ("022", 270, 1094),
    ],
)
def test_the_chart_in_fahrenheit(cone: str, rate_f_per_h: float, printed_f: int) -> None:
    # Kept in whole °C, so half a degree C (0.9 °F) is what rounding may cost.
    c = cone_temperature(cone, rate_c_per_h=rate_f_per_h / 1.8)
    assert c_to_f(c) == pytest.approx(printed_f, abs=0.9 + 0.01)


@pytest.mark.parametrize(
    ("cone", "rate", "printed_c"),
    [("06", 60, 995), ("06", 150, 1011), ("6", 60, 1220), ("6", 150, 1241), ("10", 150, 1303)],
)
def test_large_cones(cone: str, rate: float, printed_c: int) -> None:
    # ccg.co.nz product pages; 06 and 6 also L. Krakowski, Clayart, 28 Feb 2006 (1823/1852,
    # 2228/2266 °F); 10 also glacures.fr.
    assert cone_temperature(cone, rate_c_per_h=rate, make="large") == printed_c


def test_both_units_of_the_chart_agree() -> None:
    compared = 0
    for cone in CONES:
        fahrenheit = {(c.make, c.rate_per_h): c for c in cone.cells if c.unit == "F"}
        for cell in (c for c in cone.cells if c.unit == "C"):
            twin = fahrenheit[cell.make, round(rate_c_to_f(cell.rate_per_h))]
            if "D" in (cell.grade, twin.grade):
                continue
            assert abs(c_to_f(cell.temperature) - twin.temperature) <= 0.9 + 1e-9, (cone, cell)
            compared += 1
    assert compared > 120


def test_hotter_cones_and_faster_rates_need_more_degrees() -> None:
    for rate in (15, 60, 150):
        column = [
            cell.temperature
            for cone in CONES
            for cell in cone.celsius_cells()
            if cell.rate_per_h == rate
        ]
        assert column == sorted(column)
        assert len(set(column)) == len(column)


def test_neighbours_keep_their_order_at_any_rate() -> None:
    # From 019 up every line has its corners at 15, 60 and 150, so five rates prove all of 7-600.
    ladder = CONES[cone_order("010") :]
    for rate in (7, 15, 60, 150, 600):
        temps = [cone_temperature(cone.name, rate_c_per_h=rate) for cone in ladder]
        assert all(cooler < warmer for cooler, warmer in pairwise(temps)), rate


@given(st.floats(1, 1000), st.sampled_from([cone.name for cone in CONES]))
def test_rate_and_temperature_undo_each_other(rate: float, name: str) -> None:
    line = cone_named(name).bending_line()
    assert line.rate(line.temperature(rate)) == pytest.approx(rate, rel=1e-9)


def test_between_two_cells_the_line_is_straight_over_the_logarithm() -> None:
    # Cone 6: 1222 °C at 60, 1243 °C at 150; the geometric middle is 94.87 °C/h.
    assert cone_temperature("6", rate_c_per_h=math.sqrt(60 * 150)) == pytest.approx(
        (1222 + 1243) / 2
    )


def test_beyond_the_chart_a_cone_s_line_neither_lies_flat_nor_runs_away() -> None:
    # 022 rises 4 °C from 60 to 150 °C/h, 4.4 an e-fold: held at 8. 014 rises by 35: held at 30.
    flat, steep = (cone_named(name).bending_line() for name in ("022", "014"))
    assert (flat.slopes[0], flat.slopes[-1]) == (8, 8)
    assert (steep.slopes[0], steep.slopes[-1]) == (30, 30)
    fast = cone_temperature("022", rate_c_per_h=600) - cone_temperature("022", rate_c_per_h=150)
    assert fast == pytest.approx(8 * math.log(600 / 150))
    slow = cone_temperature("014", rate_c_per_h=15) - cone_temperature("014", rate_c_per_h=7.5)
    assert slow == pytest.approx(30 * math.log(2))


@pytest.mark.parametrize("rate", [0, -60, 6.9, 601, math.nan, math.inf])
def test_a_rate_without_an_answer(rate: float) -> None:
    with pytest.raises(NoCell, match="known for 7 to 600"):
        cone_temperature("6", rate_c_per_h=rate)


@pytest.mark.parametrize("name", ["14", "5.5", "022"])
def test_a_large_cone_that_the_chart_lacks(name: str) -> None:
    with pytest.raises(NoCell, match=f"no usable large cone {name}"):
        cone_temperature(name, make="large")


def test_what_is_from_memory_is_told() -> None:
    assert not from_memory("6")
    assert from_memory("11")
    assert from_memory("07", rate_c_per_h=15)
    assert from_memory("07", rate_c_per_h=30)  # between 15 (memory) and 60 (read)
    assert not from_memory("07", rate_c_per_h=100)
    assert from_memory("07", rate_c_per_h=300)
    assert not from_memory("6", rate_c_per_h=300)


def test_values_are_checked_when_made() -> None:
    with pytest.raises(ValueError, match="grade of A to D"):
        Cell(make="large", unit="C", rate_per_h=60, temperature=1220, grade="E")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="unknown make"):
        Cell(make="tiny", unit="C", rate_per_h=60, temperature=1220, grade="A")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="above 0"):
        Cell(make="large", unit="C", rate_per_h=0, temperature=1220, grade="A")
    with pytest.raises(ValueError, match="two points"):
        BendingLine(ln_rates=(4.0,), temps_c=(1222.0,))
    with pytest.raises(ValueError, match="hotter when it is heated faster"):
        BendingLine(ln_rates=(4.0, 5.0), temps_c=(1388.0, 1366.0))
