"""Is money read and shown to the penny, and is a cost shared out without a rest?"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.craft.money import BadMoney, decimals, energy_cost, read_money, show_money, split_cost


@pytest.mark.parametrize(
    ("pence", "currency", "shown"),
    [
        (1250, "GBP", "£12.50"),
        (1250, "EUR", "€12.50"),
        (1250, "USD", "$12.50"),
        (1250, "CHF", "CHF 12.50"),
        (1250, "JPY", "JPY 1,250"),
        (12505, "KWD", "KWD 12.505"),
        (0, "GBP", "£0.00"),
        (5, "GBP", "£0.05"),
        (-5, "GBP", "-£0.05"),
        (123456789, "GBP", "£1,234,567.89"),
    ],
)
def test_show_money(pence: int, currency: str, shown: str) -> None:
    assert show_money(pence, currency=currency) == shown


@pytest.mark.parametrize(
    ("text", "pence"),
    [
        ("12.50", 1250),
        ("12,50", 1250),
        ("12.5", 1250),
        ("12", 1200),
        (" £12.50 ", 1250),
        ("£ 0.05", 5),
        ("0", 0),
        ("1,250.00", 125000),
        ("1.250,00", 125000),
        ("1 250", 125000),
        ("1,234,567.89", 123456789),
        ("gbp 3", 300),
        ("1250", 125000),
    ],
)
def test_read_money(text: str, pence: int) -> None:
    assert read_money(text) == pence


def test_read_other_currencies() -> None:
    assert read_money("12,50 €", currency="EUR") == 1250
    assert read_money("CHF 12.50", currency="CHF") == 1250
    assert read_money("1250", currency="JPY") == 1250
    assert read_money("12.345", currency="KWD") == 12345


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Write an amount"),
        ("£", "Write an amount"),
        ("-3", "below 0"),
        ("−3", "below 0"),
        ("12.345", "two ways"),
        ("1,250", "two ways"),
        ("1,234,567", "two ways"),
        ("1234.567", "has 3 decimals; GBP has 2"),
        ("12.3456", "has 4 decimals"),
        ("1,250,00", "is not an amount"),
        ("1,25,000.00", "is not an amount"),
        ("twelve", "is not an amount"),
        ("€12", "is not an amount"),
        ("12.50.", "is not an amount"),
        ("1e3", "is not an amount"),
        ("20000000.01", "more than £20,000,000.00"),
    ],
)
def test_a_text_that_is_no_amount(text: str, says: str) -> None:
    with pytest.raises(BadMoney, match=says) as caught:
        read_money(text)
    assert caught.value.text == text


def test_no_decimals_where_the_currency_has_none() -> None:
    with pytest.raises(BadMoney, match="JPY has 0"):
        read_money("12.5", currency="JPY")


def test_a_currency_is_a_code() -> None:
    with pytest.raises(ValueError, match="three capitals"):
        decimals("pounds")


@given(st.integers(0, 2_000_000_000), st.sampled_from(["GBP", "EUR", "USD", "CHF", "SEK", "JPY"]))
def test_what_is_shown_can_be_typed(pence: int, currency: str) -> None:
    assert read_money(show_money(pence, currency=currency), currency=currency) == pence


def test_energy_cost() -> None:
    # 45 kWh x 28.5 p = 1282.5 p, halves up; 1 Wh at 28.5 p a kWh is 0.0285 p.
    assert energy_cost(45_000, price_hundredths=2850) == 1283
    assert energy_cost(1, price_hundredths=2850) == 0
    assert energy_cost(0, price_hundredths=2850) == 0
    with pytest.raises(ValueError, match="0 or more"):
        energy_cost(-1, price_hundredths=2850)


def test_split_cost() -> None:
    assert split_cost(10, [1, 1, 1]) == (4, 3, 3)
    assert split_cost(100, [0, 1]) == (0, 100)
    assert split_cost(0, [1, 2]) == (0, 0)
    # 100 x 1/6, 2/6, 3/6 = 16.67, 33.33, 50: down to 16 + 33 + 50 = 99; the first has most left.
    assert split_cost(100, [1, 2, 3]) == (17, 33, 50)


@given(
    st.integers(0, 10**9),
    st.lists(st.integers(0, 1000), min_size=1, max_size=40).filter(any),
)
def test_parts_sum_to_the_cost_and_are_within_a_penny(total: int, shares: list[int]) -> None:
    parts = split_cost(total, shares)
    assert sum(parts) == total
    for part, share in zip(parts, shares, strict=True):
        assert abs(part * sum(shares) - total * share) < sum(shares)
        assert share or not part


@pytest.mark.parametrize(("total", "shares"), [(-1, [1]), (5, []), (5, [0, 0]), (5, [2, -1])])
def test_a_cost_that_cannot_be_shared(total: int, shares: list[int]) -> None:
    with pytest.raises(ValueError, match="a cost"):
        split_cost(total, shares)
