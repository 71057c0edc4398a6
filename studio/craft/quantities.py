"""How is a temperature, a rate or a length read from a person and shown to one?

Everything is kept in metric: degrees Celsius, degrees Celsius an hour, millimetres. A studio may
work in degrees Fahrenheit and inches; then text is turned at the door, here and nowhere else.

Laws (a rejected example each):

1. A temperature has a zero to shift, an interval has none: 60 °C/h is 108 °F/h, not 140 °F/h.
2. A unit that is written wins over the studio's own ("2232 F" in a Celsius studio is 1222.2 °C).
3. What can be read in two ways is not read at all ("1,222" may be 1222 or 1.222).
4. A number that no kiln or shelf can have is refused with the number in the sentence.
"""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Final, Literal

TemperatureUnit = Literal["C", "F"]
LengthUnit = Literal["mm", "in"]

MM_PER_INCH: Final = 25.4
LOWEST_C: Final = -50.0
HIGHEST_C: Final = 1500.0
HIGHEST_C_PER_H: Final = 2000.0
LONGEST_MM: Final = 5000.0

_NUMBER = r"[+-]?\d+(?:[.,]\d+)?"
_TEMPERATURE = re.compile(
    rf"(?P<number>{_NUMBER})\s*(?:°|º|deg(?:rees?)?\.?)?\s*(?P<unit>[CF])?", re.IGNORECASE
)
_LENGTH = re.compile(
    rf"(?:(?P<number>{_NUMBER})(?:[\s-]+(?P<top>\d+)\s*/\s*(?P<bottom>\d+))?"
    r"|(?P<top_alone>\d+)\s*/\s*(?P<bottom_alone>\d+))"
    r"\s*(?P<unit>mm|cm|inch(?:es)?|in\.?|\"|''|″)?",
    re.IGNORECASE,
)
_TWO_WAYS = re.compile(r"[+-]?\d{1,3},\d{3}(?!\d)")


_PER_HOUR = re.compile(r"\s*(?:/\s*h(?:r|our)?|per\s+hour|an\s+hour)$", re.IGNORECASE)


class BadQuantity(ValueError):
    """A text that is no temperature, rate or length; ``text`` is what was typed."""

    def __init__(self, sentence: str, *, text: str) -> None:
        self.sentence = sentence
        self.text = text
        super().__init__(sentence)


def c_to_f(c: float) -> float:
    """A temperature in degrees Fahrenheit. [°C] -> [°F]; any value. Source: definition."""
    return c * 9 / 5 + 32


def f_to_c(f: float) -> float:
    """A temperature in degrees Celsius. [°F] -> [°C]; any value. Source: definition."""
    return (f - 32) * 5 / 9


def rate_c_to_f(rate: float) -> float:
    """A rate (an interval, so no 32). [°C/h] -> [°F/h]; any value. Source: definition."""
    return rate * 9 / 5


def rate_f_to_c(rate: float) -> float:
    """A rate (an interval, so no 32). [°F/h] -> [°C/h]; any value. Source: definition."""
    return rate * 5 / 9


def mm_to_in(mm: float) -> float:
    """A length in inches. [mm] -> [in]; any value. Source: the inch is 25.4 mm by definition."""
    return mm / MM_PER_INCH


def in_to_mm(inches: float) -> float:
    """A length in millimetres. [in] -> [mm]; any value. Source: the inch is 25.4 mm."""
    return inches * MM_PER_INCH


def nearest(value: float) -> int:
    """The nearest whole number, halves away from zero (as people round, unlike ``round``)."""
    return math.floor(value + 0.5) if value >= 0 else -math.floor(-value + 0.5)


def show_temperature(c: float, *, unit: TemperatureUnit) -> str:
    """A temperature as the studio reads it, to the whole degree: '1222 °C' or '2232 °F'.

    ``c`` [°C]; any finite value.
    """
    return f"{nearest(c if unit == 'C' else c_to_f(c))} °{unit}"


def show_rate(c_per_h: float, *, unit: TemperatureUnit) -> str:
    """A rate as the studio reads it, to the whole degree an hour: '60 °C/h' or '108 °F/h'.

    ``c_per_h`` [°C/h]; any finite value.
    """
    return f"{nearest(c_per_h if unit == 'C' else rate_c_to_f(c_per_h))} °{unit}/h"


def show_length(mm: float, *, unit: LengthUnit) -> str:
    """A length as the studio reads it: '95 mm', or to the nearest sixteenth '3 3/4 in'.

    ``mm`` [mm]; any finite value. A sixteenth is 1.6 mm, too coarse to be typed back: fill a
    form's field by ``entry_length``.
    """
    if unit == "mm":
        return f"{nearest(mm)} mm"
    sixteenths = nearest(mm_to_in(abs(mm)) * 16)
    sign = "-" if mm < 0 and sixteenths else ""
    whole, part = divmod(sixteenths, 16)
    if not part:
        return f"{sign}{whole} in"
    common = math.gcd(part, 16)
    fraction = f"{part // common}/{16 // common}"
    return f"{sign}{whole} {fraction} in" if whole else f"{sign}{fraction} in"


def entry_temperature(c: float, *, unit: TemperatureUnit) -> str:
    """The bare number for a form's field, to a tenth: read back it is within 0.06 °C.

    ``c`` [°C]; any finite value.
    """
    return f"{c if unit == 'C' else c_to_f(c):.1f}".removesuffix(".0")


def entry_rate(c_per_h: float, *, unit: TemperatureUnit) -> str:
    """The bare number for a form's field, to a tenth of a degree an hour.

    ``c_per_h`` [°C/h]; any finite value.
    """
    return f"{c_per_h if unit == 'C' else rate_c_to_f(c_per_h):.1f}".removesuffix(".0")


def entry_length(mm: float, *, unit: LengthUnit) -> str:
    """The bare number for a form's field; in inches to a hundredth, so whole mm come back whole.

    ``mm`` [mm]; any finite value.
    """
    if unit == "mm":
        return f"{mm:.1f}".removesuffix(".0")
    return f"{mm_to_in(mm):.2f}".rstrip("0").removesuffix(".")


def read_temperature(text: str, *, unit: TemperatureUnit) -> float:
    """The temperature that a person typed: '1222', '2232 F', '1222°C', '1222,5'. -> [°C]

    ``unit`` is meant where none is written. Range: -50 to 1500 °C.

    Raises ``BadQuantity`` with a sentence.
    """
    match = _TEMPERATURE.fullmatch(_tidy(text, what="a temperature", example="1222 or 2232 F"))
    if match is None:
        raise BadQuantity(
            f"“{text.strip()}” is not a temperature. Write a number, such as 1222 or 2232 F.",
            text=text,
        )
    number = _number(match["number"])
    written = (match["unit"] or unit).upper()
    c = number if written == "C" else f_to_c(number)
    if not LOWEST_C <= c <= HIGHEST_C:
        raise BadQuantity(
            f"{match['number']} °{written} is outside what a kiln can have"
            f" ({show_temperature(LOWEST_C, unit=unit)} to"
            f" {show_temperature(HIGHEST_C, unit=unit)}).",
            text=text,
        )
    return c


def read_rate(text: str, *, unit: TemperatureUnit) -> float:
    """The rate that a person typed: '60', '108 F/h', '60 °C/h'. -> [°C/h]

    ``unit`` is meant where none is written. Range: more than 0, to 2000 °C/h. Up or down alike: a
    lower target makes it a cooling.

    Raises ``BadQuantity`` with a sentence.
    """
    example = "60 or 108 F/h"
    plain = _PER_HOUR.sub("", _tidy(text, what="a rate", example=example))
    match = _TEMPERATURE.fullmatch(plain)
    if match is None:
        raise BadQuantity(
            f"“{text.strip()}” is not a rate. Write a number, such as {example}.", text=text
        )
    number = _number(match["number"])
    written = (match["unit"] or unit).upper()
    rate = number if written == "C" else rate_f_to_c(number)
    if not 0 < rate <= HIGHEST_C_PER_H:
        raise BadQuantity(
            f"{match['number']} °{written}/h is no rate of a kiln (more than 0, to"
            f" {show_rate(HIGHEST_C_PER_H, unit=unit)}).",
            text=text,
        )
    return rate


def read_length(text: str, *, unit: LengthUnit) -> float:
    """The length that a person typed: '95', '9,5 cm', '3 3/4 in', '3¾"'. -> [mm]

    ``unit`` is meant where none is written. Range: 0 to 5000 mm.

    Raises ``BadQuantity`` with a sentence.
    """
    example = "95 mm or 3 3/4 in"
    match = _LENGTH.fullmatch(_tidy(text, what="a length", example=example))
    if match is None:
        raise BadQuantity(
            f"“{text.strip()}” is not a length. Write a number, such as {example}.", text=text
        )
    number = _number(match["number"] or "0")
    top, bottom = match["top"] or match["top_alone"], match["bottom"] or match["bottom_alone"]
    if top is not None:
        if int(bottom) == 0:
            raise BadQuantity(f"“{text.strip()}” divides by 0. Write {example}.", text=text)
        number += int(top) / int(bottom)
    mm = number * _mm_per(match["unit"], unit)
    # The end of the range as shown in sixteenths lies up to 0.8 mm beyond it and must be typable.
    if not 0 <= mm < LONGEST_MM + 1 or (match["number"] or "").startswith("-"):
        raise BadQuantity(
            f"“{text.strip()}” is outside what is measured here"
            f" (0 to {show_length(LONGEST_MM, unit=unit)}).",
            text=text,
        )
    return mm


def _tidy(text: str, *, what: str, example: str) -> str:
    """Trimmed, one kind of space and minus, '¾' as ' 3/4'; refuses what reads two ways."""
    spaced = "".join(f" {unicodedata.normalize('NFKC', c)}" if _is_fraction(c) else c for c in text)
    plain = " ".join(spaced.replace("⁄", "/").replace("−", "-").split())
    if not plain:
        raise BadQuantity(f"Write {what}, such as {example}.", text=text)
    if _TWO_WAYS.match(plain):
        raise BadQuantity(
            f"“{text.strip()}” can be read in two ways. Write it without the comma.", text=text
        )
    return plain


def _is_fraction(character: str) -> bool:
    return unicodedata.decomposition(character).startswith("<fraction>")


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _mm_per(written: str | None, unit: LengthUnit) -> float:
    match (written or unit).lower():
        case "mm":
            return 1.0
        case "cm":
            return 10.0
        case _:
            return MM_PER_INCH
