"""How is money read, shown and shared out without losing a penny?

Money is a whole number of the currency's smallest unit ("pence": pence, cents, yen). Nothing here
is ever a float.

Laws (a rejected example each):

1. An amount has no more decimals than its currency ("12.345" pounds is refused, not rounded).
2. What can be read in two ways is not read ("1,250" may be 1250 or 1.25).
3. A price, cost or payment typed by a person is not negative ("-3" is refused).
4. Parts of a cost sum to the cost (10 pence over three shares is 4 + 3 + 3).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

MOST_PENCE: Final = 2_000_000_000
"""The largest amount that is read: it fits a 32-bit column."""

_SYMBOLS: Final = {"GBP": "£", "EUR": "€", "USD": "$"}
_NO_DECIMALS: Final = re.compile("BIF|CLP|DJF|GNF|ISK|JPY|KMF|KRW|PYG|RWF|UGX|VND|VUV|XAF|XOF|XPF")
_THREE_DECIMALS: Final = re.compile("BHD|IQD|JOD|KWD|LYD|OMR|TND")
_CODE = re.compile(r"[A-Z]{3}")
_AMOUNT = re.compile(r"(?P<whole>\d+|\d{1,3}(?P<group>[,. '’])\d{3}(?:(?P=group)\d{3})*)"
                     r"(?:(?P<mark>[.,])(?P<part>\d+))?")  # fmt: skip
_TWO_WAYS = re.compile(r"\d{1,3}(?:[.,]\d{3})+")


class BadMoney(ValueError):
    """A text that is no amount; ``text`` is what was typed."""

    def __init__(self, sentence: str, *, text: str) -> None:
        self.sentence = sentence
        self.text = text
        super().__init__(sentence)


def decimals(currency: str) -> int:
    """How many decimals a currency has: 2, but 0 for the yen and 3 for the dinar.

    ``currency``: an ISO 4217 code. Raises ``ValueError`` for what is no code.
    Source: ISO 4217, minor units (from memory; checked against no copy).
    """
    if not _CODE.fullmatch(currency):
        raise ValueError(f"a currency is a code of three capitals such as GBP, not {currency!r}")
    if _NO_DECIMALS.fullmatch(currency):
        return 0
    return 3 if _THREE_DECIMALS.fullmatch(currency) else 2


def show_money(pence: int, *, currency: str) -> str:
    """An amount as people read it: '£12.50', '€12.50', '$12.50', or 'CHF 12.50'.

    ``pence`` [smallest unit of the currency]; any whole number, '-£0.05' below 0.
    Raises ``ValueError`` for what is no ISO 4217 code.
    """
    places = decimals(currency)
    whole, part = divmod(abs(pence), 10**places)
    number = f"{whole:,}.{part:0{places}}" if places else f"{whole:,}"
    sign = "-" if pence < 0 else ""
    symbol = _SYMBOLS.get(currency)
    return f"{sign}{symbol}{number}" if symbol else f"{sign}{currency} {number}"


def read_money(text: str, *, currency: str = "GBP") -> int:
    """The amount that a person typed: '12.50', '12,5', '£12', '1,250.00', 'CHF 12.50'.

    -> [smallest unit of the currency]. Range: 0 to 2,000,000,000 units.

    Raises ``BadMoney`` with a sentence; ``ValueError`` for what is no ISO 4217 code.
    """
    places = decimals(currency)
    typed = text.strip()
    plain = typed.upper().removeprefix(currency).removesuffix(currency).strip()
    if symbol := _SYMBOLS.get(currency):
        plain = plain.removeprefix(symbol).removesuffix(symbol).strip()
    example = "12.50" if places else "1250"
    if not plain:
        raise BadMoney(f"Write an amount, such as {example}.", text=text)
    if plain[0] in "-−":
        raise BadMoney(f"“{typed}” is below 0. Write an amount such as {example}.", text=text)
    if not places and _TWO_WAYS.fullmatch(plain):
        plain = re.sub(r"\D", "", plain)  # without decimals the marks can only group
    match = _AMOUNT.fullmatch(plain)
    if match is None or (match["mark"] and match["mark"] == match["group"]):
        raise BadMoney(f"“{typed}” is not an amount. Write it such as {example}.", text=text)
    part = match["part"] or ""
    if len(part) != places and _TWO_WAYS.fullmatch(plain):
        raise BadMoney(
            f"“{typed}” can be read in two ways. Write the whole part without marks"
            f" and {places} decimals, such as {example}.",
            text=text,
        )
    if len(part) > places:
        raise BadMoney(
            f"“{typed}” has {len(part)} decimals; {currency} has {places}."
            f" Write it such as {example}.",
            text=text,
        )
    digits = re.sub(r"\D", "", match["whole"]) + part.ljust(places, "0")
    pence = int(digits)
    if pence > MOST_PENCE:
        most = show_money(MOST_PENCE, currency=currency)
        raise BadMoney(f"“{typed}” is more than {most}, the most kept here.", text=text)
    return pence


def energy_cost(energy_wh: int, *, price_hundredths: int) -> int:
    """What so much energy costs, to the nearest penny, halves up. [Wh, hundredths of a penny a kWh]

    45 kWh at 28.5 pence are 1282.5, so 1283 pence. Both 0 or more. Raises ``ValueError``.
    """
    if energy_wh < 0 or price_hundredths < 0:
        raise ValueError("energy and its price are 0 or more")
    return (energy_wh * price_hundredths + 50_000) // 100_000


def split_cost(total_pence: int, shares: Sequence[int]) -> tuple[int, ...]:
    """A cost shared out by weights, to the penny: ``split_cost(10, [1, 1, 1])`` is (4, 3, 3).

    ``total_pence`` [smallest unit] 0 or more; ``shares`` whole, 0 or more, not all 0. Each part
    is its exact share rounded down, and the pence left go to the largest remainders (ties to the
    earlier), so parts sum to the total and each is less than a penny from its share.

    Raises ``ValueError``. Source: method of largest remainders (Hamilton).
    """
    if total_pence < 0:
        raise ValueError("a cost to share is 0 or more")
    if not shares or min(shares) < 0 or not any(shares):
        raise ValueError("a cost is shared over weights of 0 or more that are not all 0")
    whole = sum(shares)
    parts = [total_pence * share // whole for share in shares]
    left = total_pence - sum(parts)
    by_remainder = sorted(range(len(shares)), key=lambda i: -(total_pence * shares[i] % whole))
    for i in by_remainder[:left]:
        parts[i] += 1
    return tuple(parts)
