"""Is this a tracking identifier that the post could have printed, and if not, what is wrong in it?

Laws (a rejected example each):

1. Blanks, dashes and small letters are the typist's; they change nothing ("rr 473 124 829 gb").
2. A wrong check digit is named with the right one, and nothing is put right in silence
   ("EB900717618HK": the digits before it ask for 2).
3. 10 becomes 0 and 11 becomes 5, the two values that are no digit.
4. What does not look like an S10 identifier is no error of the post: other carriers have others.

Source: Universal Postal Union, standard S10, "Identification of postal items - 13-character
identifier" (1996, now in its twelfth version): two letters of the service, eight digits, a check
digit with the weights 8 6 4 2 3 5 9 7, and the two letters of the country (ISO 3166-1).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

WEIGHTS: Final = (8, 6, 4, 2, 3, 5, 9, 7)
RESERVED: Final = frozenset("JKSTW")
"""First letters that the standard keeps back: no item carries them."""
MOST_CHARACTERS: Final = 35
"""How long any carrier's number may be here; our own choice, longer than any we know."""

_SHAPE = re.compile(r"([A-Z]{2})([0-9]{8})([0-9])([A-Z]{2})")
_OTHER = re.compile(r"[A-Z0-9]+")


class BadTracking(ValueError):
    """A number that cannot be kept; ``sentence`` says which part of it is wrong and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True, kw_only=True, slots=True)
class Tracking:
    """A number as it is kept; ``is_checked`` when it is an S10 identifier whose digit is right."""

    number: str
    is_checked: bool

    @property
    def spaced(self) -> str:
        """The number as people read it aloud: RR 473 124 829 GB."""
        if not self.is_checked:
            return self.number
        n = self.number
        return f"{n[:2]} {n[2:5]} {n[5:8]} {n[8:11]} {n[11:]}"


def check_digit(serial: str) -> int:
    """The check digit of eight digits, 0 to 9.

    Raises ``ValueError`` for anything but eight digits. Source: see the module.
    """
    if not re.fullmatch(r"[0-9]{8}", serial):
        raise ValueError(f"an S10 serial number is eight digits, not {serial!r}")
    total = sum(weight * int(digit) for weight, digit in zip(WEIGHTS, serial, strict=True))
    return {10: 0, 11: 5}.get(11 - total % 11, 11 - total % 11)


def looks_like_s10(text: str) -> bool:
    """Whether a typed number has the thirteen characters of an S10 identifier."""
    return _SHAPE.fullmatch(_plain(text)) is not None


def read_tracking(text: str) -> Tracking:
    """The tracking number a person typed or pasted, without its blanks, in capitals.

    An S10 identifier is checked; another carrier's number of letters and digits is kept as it is,
    with ``is_checked`` False.

    Raises ``BadTracking`` with a sentence: a wrong check digit, a service that does not exist,
    thirteen characters that are nearly S10, signs that no number has, or too many of them.
    """
    plain = _plain(text)
    if not plain:
        raise BadTracking("Type the tracking number, or leave it for later.")
    if len(plain) > MOST_CHARACTERS:
        raise BadTracking(
            f"{len(plain)} characters are more than any tracking number has. Paste only the number."
        )
    found = _SHAPE.fullmatch(plain)
    if found is not None:
        service, serial, digit, _ = found.groups()
        right = check_digit(serial)
        if int(digit) != right:
            raise BadTracking(
                f"{plain} is mistyped somewhere: its check digit is {digit}, but the eight digits"
                f" before it ask for {right}. Compare it with the receipt, digit by digit."
            )
        if service[0] in RESERVED:
            raise BadTracking(
                f"{plain} begins with {service[0]}, which the standard keeps back: no item carries"
                " it. Compare its first letters with the receipt."
            )
        return Tracking(number=plain, is_checked=True)
    odd = "".join(dict.fromkeys(re.sub(r"[A-Z0-9]", "", plain)))
    if odd:
        raise BadTracking(f"A tracking number has letters and digits only, not {odd}.")
    assert _OTHER.fullmatch(plain)
    if len(plain) == 13 and plain[:2].isalpha() and plain[-2:].isalpha():
        raise BadTracking(
            f"{plain} is nearly an S10 number, but has a letter among its nine digits. O and 0,"
            " I and 1 are easily mixed up: compare it with the receipt."
        )
    return Tracking(number=plain, is_checked=False)


def _plain(text: str) -> str:
    return re.sub(r"[\s\-\u2010-\u2015\u00a0]", "", text).upper()
