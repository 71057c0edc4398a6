"""The check digit of postal items against published identifiers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.craft.post import BadTracking, check_digit, looks_like_s10, read_tracking

# (identifier, sum of digit x weight, sum mod 11, where it is printed)
PUBLISHED = [
    ("RR473124829GB", 200, 2, "the usual worked example of UPU S10, in its encyclopaedia entry"),
    ("EE471108151FR", 164, 10, "a barcode documentation wiki's page on UPU S10"),
    ("RB167995284IT", 216, 7, "a database tool's page on S10 sample data"),
    ("LL572405406US", 159, 5, "a database tool's page on S10 sample data"),
    ("EB000717618HK", 113, 3, "an open-source S10 package's tests"),
    ("EB000717581HK", 153, 10, "an open-source S10 package's tests"),
    ("EB000717595HK", 160, 6, "an open-source S10 package's tests"),
    ("EB761294038HK", 168, 3, "an open-source S10 package's tests"),
    ("EB966331020HK", 166, 1, "an open-source S10 package's tests: 10 becomes 0"),
]


@pytest.mark.parametrize(("number", "total", "rest", "source"), PUBLISHED)
def test_published_identifiers(number: str, total: int, rest: int, source: str) -> None:
    d = [int(digit) for digit in number[2:10]]
    by_hand = 8 * d[0] + 6 * d[1] + 4 * d[2] + 2 * d[3] + 3 * d[4] + 5 * d[5] + 9 * d[6] + 7 * d[7]
    assert (by_hand, by_hand % 11) == (total, rest)
    assert check_digit(number[2:10]) == int(number[10])
    assert read_tracking(number).number == number
    assert read_tracking(number).is_checked


def test_eleven_becomes_five() -> None:
    # worked out here: sums 0 and 11, both 0 mod 11, 11 - 0 = 11 -> 5
    assert check_digit("00000000") == 5
    assert 2 * 1 + 9 * 1 == 11
    assert check_digit("00010010") == 5


def test_a_published_wrong_digit_is_named() -> None:
    # an open-source S10 package's tests: sum 185, 185 mod 11 = 9, 11 - 9 = 2, printed 8
    with pytest.raises(BadTracking) as wrong:
        read_tracking("EB900717618HK")
    assert wrong.value.sentence == (
        "EB900717618HK is mistyped somewhere: its check digit is 8, but the eight digits before it"
        " ask for 2. Compare it with the receipt, digit by digit."
    )


@pytest.mark.parametrize(
    "typed",
    ["rr 473 124 829 gb", "RR47 3124 829GB", " RR-473124829-GB\n", "RR\u00a0473\u2011124829GB"],
)
def test_blanks_dashes_and_small_letters_change_nothing(typed: str) -> None:
    read = read_tracking(typed)
    assert read.number == "RR473124829GB"
    assert read.spaced == "RR 473 124 829 GB"
    assert looks_like_s10(typed)


def test_another_carriers_number_is_kept_unchecked() -> None:
    read = read_tracking("1z 999 aa1 0123456784")
    assert (read.number, read.is_checked, read.spaced) == (
        "1Z999AA10123456784",
        False,
        "1Z999AA10123456784",
    )


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("  ", "Type the tracking number, or leave it for later."),
        ("SR473124829GB", "begins with S, which the standard keeps back"),
        ("RR47312O829GB", "nearly an S10 number, but has a letter among its nine digits"),
        ("RR473124829GB!", "letters and digits only, not !"),
        ("X" * 36, "36 characters are more than any tracking number has"),
    ],
)
def test_what_cannot_be_kept(typed: str, sentence: str) -> None:
    with pytest.raises(BadTracking, match=sentence):
        read_tracking(typed)


@pytest.mark.parametrize("serial", ["1234567", "123456789", "1234567a", "", "１２３４５６７８"])
def test_a_serial_number_is_eight_digits(serial: str) -> None:
    with pytest.raises(ValueError, match="eight digits"):
        check_digit(serial)


@given(st.integers(0, 99_999_999), st.integers(0, 7), st.integers(1, 9))
def test_one_wrong_digit_is_nearly_always_seen(serial: int, place: int, off: int) -> None:
    """A weight prime to 11 moves the sum, so the rest changes; only 0 and 5 are shared digits."""
    text = f"{serial:08}"
    other = text[:place] + str((int(text[place]) + off) % 10) + text[place + 1 :]
    if check_digit(text) not in (0, 5):
        assert check_digit(other) != check_digit(text)
