"""Are temperatures, rates and lengths turned and read without a slip?

Sources: the scales' definition (an interval of 1 °C is 1.8 °F) and the inch of 25.4 mm; the pairs
of rates are the headings of the cone chart itself, 15/60/150 °C/h beside 27/108/270 °F/h
("Temperature Equivalents for Orton Pyrometric Cones", 2016).
"""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from studio.craft.quantities import (
    BadQuantity,
    LengthUnit,
    TemperatureUnit,
    c_to_f,
    entry_length,
    entry_rate,
    entry_temperature,
    f_to_c,
    in_to_mm,
    mm_to_in,
    rate_c_to_f,
    rate_f_to_c,
    read_length,
    read_rate,
    read_temperature,
    show_length,
    show_rate,
    show_temperature,
)


@pytest.mark.parametrize(("c", "f"), [(100, 212), (0, 32), (-40, -40), (1222, 2231.6)])
def test_a_temperature_has_a_zero_to_shift(c: float, f: float) -> None:
    assert c_to_f(c) == pytest.approx(f)
    assert f_to_c(f) == pytest.approx(c)


@pytest.mark.parametrize(("c_per_h", "f_per_h"), [(15, 27), (60, 108), (150, 270)])
def test_a_rate_has_none(c_per_h: float, f_per_h: float) -> None:
    assert rate_c_to_f(c_per_h) == pytest.approx(f_per_h)
    assert rate_f_to_c(f_per_h) == pytest.approx(c_per_h)


def test_an_interval_of_100_f_is_56_c() -> None:
    assert rate_f_to_c(100) == pytest.approx(100 / 1.8)
    assert round(rate_f_to_c(100), 1) == 55.6


def test_cone_7_at_108_f_an_hour() -> None:
    assert round(f_to_c(2262), 1) == 1238.9


@given(st.floats(-300, 3000))
def test_there_and_back(value: float) -> None:
    assert f_to_c(c_to_f(value)) == pytest.approx(value, abs=1e-9)
    assert rate_f_to_c(rate_c_to_f(value)) == pytest.approx(value, abs=1e-9)
    assert in_to_mm(mm_to_in(value)) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(
    ("c", "unit", "shown"),
    [
        (1222, "C", "1222 °C"),
        (1222, "F", "2232 °F"),
        (1238.9, "F", "2262 °F"),
        (22.5, "C", "23 °C"),
    ],
)
def test_show_temperature(c: float, unit: TemperatureUnit, shown: str) -> None:
    assert show_temperature(c, unit=unit) == shown


def test_show_rate() -> None:
    assert show_rate(60, unit="C") == "60 °C/h"
    assert show_rate(60, unit="F") == "108 °F/h"
    assert show_rate(-55.5556, unit="F") == "-100 °F/h"


@pytest.mark.parametrize(
    ("mm", "unit", "shown"),
    [
        (95, "mm", "95 mm"),
        (95, "in", "3 3/4 in"),  # 95 / 25.4 = 3.740 = 59.84 sixteenths
        (6.35, "in", "1/4 in"),
        (444.5, "in", "17 1/2 in"),
        (25.4, "in", "1 in"),
        (0, "in", "0 in"),
        (25.3, "in", "1 in"),  # rounds up into the next whole inch
        (15.875, "in", "5/8 in"),
    ],
)
def test_show_length(mm: float, unit: LengthUnit, shown: str) -> None:
    assert show_length(mm, unit=unit) == shown


@pytest.mark.parametrize(
    ("text", "unit", "c"),
    [
        ("1222", "C", 1222),
        ("2232", "F", (2232 - 32) / 1.8),
        ("2232 F", "C", (2232 - 32) / 1.8),
        ("1222°C", "F", 1222),
        (" 1222 ° c ", "F", 1222),
        ("1222,5", "C", 1222.5),
        ("1222.5", "C", 1222.5),
        ("573 degrees C", "C", 573),
        ("−5", "C", -5),
        ("1222\u00a0°C", "C", 1222),
    ],
)
def test_read_temperature(text: str, unit: TemperatureUnit, c: float) -> None:
    assert read_temperature(text, unit=unit) == pytest.approx(c)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Write a temperature"),
        ("hot", "is not a temperature"),
        ("12 22", "is not a temperature"),
        ("nan", "is not a temperature"),
        ("1e3", "is not a temperature"),
        ("1,222", "two ways"),
        ("12222", "12222 °C is outside"),
        ("-300", "is outside"),
    ],
)
def test_a_text_that_is_no_temperature(text: str, says: str) -> None:
    with pytest.raises(BadQuantity, match=says) as caught:
        read_temperature(text, unit="C")
    assert caught.value.text == text


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [
        ("95", "mm", 95),
        ("3.75", "in", 3.75 * 25.4),
        ("3 3/4", "in", 3.75 * 25.4),
        ("3-3/4 in", "mm", 3.75 * 25.4),
        ('3¾"', "mm", 3.75 * 25.4),
        ("1/4", "in", 0.25 * 25.4),
        ("½ inch", "mm", 12.7),
        ("9,5 cm", "in", 95),
        ("0", "mm", 0),
        ("17.5 inches", "mm", 444.5),
    ],
)
def test_read_length(text: str, unit: LengthUnit, mm: float) -> None:
    assert read_length(text, unit=unit) == pytest.approx(mm)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Write a length"),
        ("wide", "is not a length"),
        ("3 3/0", "divides by 0"),
        ("1/0", "divides by 0"),
        ("-4", "is outside"),
        ("-0", "is outside"),
        ("9000", "is outside"),
        ("1,200", "two ways"),
    ],
)
def test_a_text_that_is_no_length(text: str, says: str) -> None:
    with pytest.raises(BadQuantity, match=says):
        read_length(text, unit="mm")


@given(st.integers(0, 5000), st.sampled_from(["mm", "in"]))
def test_a_length_in_a_field_comes_back_to_the_millimetre(mm: int, unit: LengthUnit) -> None:
    assert round(read_length(entry_length(mm, unit=unit), unit=unit)) == mm


@given(st.integers(-50, 1500), st.sampled_from(["C", "F"]))
def test_a_temperature_in_a_field_comes_back(c: int, unit: TemperatureUnit) -> None:
    assert read_temperature(entry_temperature(c, unit=unit), unit=unit) == pytest.approx(
        c, abs=0.06
    )


@given(st.integers(0, 5000), st.sampled_from(["mm", "in"]))
@example(5000, "in")
def test_a_shown_length_can_be_typed(mm: int, unit: LengthUnit) -> None:
    # Half a sixteenth of an inch is 0.79 mm.
    assert read_length(show_length(mm, unit=unit), unit="mm") == pytest.approx(mm, abs=0.8)


@pytest.mark.parametrize(
    ("text", "unit", "c_per_h"),
    [
        ("60", "C", 60),
        ("108", "F", 60),
        ("108 F/h", "C", 60),
        ("60 °C/h", "F", 60),
        ("270 f an hour", "C", 150),
        ("27F/hr", "C", 15),
        ("62,5", "C", 62.5),
    ],
)
def test_a_rate_is_read_without_an_offset(text: str, unit: TemperatureUnit, c_per_h: float) -> None:
    assert read_rate(text, unit=unit) == pytest.approx(c_per_h)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Write a rate"),
        ("fast", "is not a rate"),
        ("0", "no rate of a kiln"),
        ("-60", "no rate of a kiln"),
        ("2001", "no rate of a kiln"),
        ("1,222", "two ways"),
    ],
)
def test_a_text_that_is_no_rate(text: str, says: str) -> None:
    with pytest.raises(BadQuantity, match=says):
        read_rate(text, unit="C")


@given(st.integers(1, 1080))
def test_a_rate_typed_in_fahrenheit_comes_back(f_per_h: int) -> None:
    assert entry_rate(read_rate(str(f_per_h), unit="F"), unit="F") == str(f_per_h)
