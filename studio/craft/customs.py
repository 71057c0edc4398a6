"""Which customs form does a parcel abroad need, and what stands on it?

Laws (a rejected example each):

1. Nothing is declared as worth nothing or weighing nothing (a mug "0.00, a gift" is refused).
2. The lines add up to the totals, in grams and in pence, or there is no form.
3. The smaller form holds up to both limits and no further: 300.00 SDR and 2,000 g exactly still
   take CN 22, a penny or a gram more takes CN 23.
4. Kind of item is a choice; "gift" is never it by itself, because a supporter paid.
5. Limits, rate and headings are values handed in: they move, and each stands in the studio's own
   settings with its source and its day.

Sources: forms CN 22 and CN 23 as the Universal Postal Union lays them out (CN 23 reprinted in OECD,
"Misuse of Small Parcels for Trade in Counterfeit Goods", 2018, Annex A); tariff headings 6911, 6912
and 6913 of the Harmonized System, World Customs Organization, chapter 69.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final, Literal

Form = Literal["CN 22", "CN 23"]
Body = Literal["porcelain", "stoneware", "earthenware"]

BODIES: Final[tuple[Body, ...]] = ("stoneware", "porcelain", "earthenware")

KINDS: Final[dict[str, str]] = {
    "goods": "sale of goods",
    "gift": "gift",
    "sample": "commercial sample",
    "documents": "documents",
    "returned": "returned goods",
    "other": "other",
}
"""The kinds of item that both forms print, as the UPU names them."""

HEADINGS: Final[dict[str, str]] = {
    "6911.10": "table and kitchen ware of porcelain or china",
    "6912.00": "table, kitchen and other household ware, not of porcelain",
    "6913.10": "ornaments of porcelain or china",
    "6913.90": "ornaments, not of porcelain",
}
"""The six digits that all countries share; many ask for more after them."""


class BadDeclaration(ValueError):
    """A declaration that must not be printed; ``sentence`` says what is missing."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True, kw_only=True, slots=True)
class Contents:
    """Things of one kind in the parcel. Weights [g] and values [pence] are of all of them."""

    description: str
    count: int
    net_weight_g: int
    value_pence: int
    heading: str
    origin: str

    def __post_init__(self) -> None:
        what = self.description or "a line without words"
        if len(self.description.split()) < 3:
            raise BadDeclaration(
                f"“{self.description}” tells a customs officer too little. Say what it is made of"
                " and what it is for, such as “handmade glazed stoneware mug, for drinks”."
            )
        if self.count < 1:
            raise BadDeclaration(f"{what}: the number of pieces is missing.")
        if self.net_weight_g < 1:
            raise BadDeclaration(
                f"{what}: the weight is missing. Write the form's fired weight first."
            )
        if self.value_pence < 1:
            raise BadDeclaration(
                f"{what}: the value is missing. Declare what it would sell for or what it cost to"
                " make, never nothing."
            )
        if self.heading not in HEADINGS:
            raise BadDeclaration(
                f"{what}: {self.heading or 'no heading'} is not one of {', '.join(HEADINGS)}."
            )
        if len(self.origin) != 2 or not self.origin.isalpha():
            raise BadDeclaration(f"{what}: the country it was made in is missing.")


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """Up to where the smaller form holds, and what one SDR was worth on a day [currency units]."""

    sdr: Decimal
    weight_g: int
    rate: Decimal | None
    parcel_post: bool = False

    def __post_init__(self) -> None:
        if self.sdr <= 0 or self.weight_g <= 0:
            raise ValueError("limits are above 0")
        if self.rate is not None and self.rate <= 0:
            raise ValueError("what one SDR is worth is above 0")


@dataclass(frozen=True, kw_only=True, slots=True)
class Declaration:
    """What one parcel declares. Its totals are the sums of its lines."""

    lines: tuple[Contents, ...]
    gross_weight_g: int
    kind: str
    form: Form
    why: str

    def __post_init__(self) -> None:
        if not self.lines:
            raise BadDeclaration("There is nothing in the parcel to declare.")
        if self.kind not in KINDS:
            raise BadDeclaration("Choose the kind of item; ask the post office when in doubt.")
        if self.gross_weight_g <= self.net_weight_g:
            raise BadDeclaration(
                f"The parcel weighs {self.gross_weight_g} g, and what is in it {self.net_weight_g}"
                " g already: one of the weights is wrong."
            )

    @property
    def net_weight_g(self) -> int:
        """What all the contents weigh [g]."""
        return sum(line.net_weight_g for line in self.lines)

    @property
    def value_pence(self) -> int:
        """What all the contents are worth [pence]."""
        return sum(line.value_pence for line in self.lines)

    @property
    def count(self) -> int:
        """How many pieces there are."""
        return sum(line.count for line in self.lines)


def needs_declaration(*, origin: str, destination: str, without: Iterable[str] = ()) -> bool:
    """Whether a parcel to ``destination`` needs a form; at home and in ``without`` none does."""
    return destination != origin and destination not in set(without)


def heading_for(*, body: Body, ornament: bool) -> str:
    """The tariff heading: porcelain or not decides, and use decides; firing and glaze do not.

    Source: Harmonized System, headings 6911 (porcelain ware), 6912 (other ware), 6913 (ornaments).
    """
    if ornament:
        return "6913.10" if body == "porcelain" else "6913.90"
    return "6911.10" if body == "porcelain" else "6912.00"


def guess_body(name: str) -> Body:
    """What a body's name says of it, until the potter says it: stoneware when it says nothing."""
    plain = name.casefold()
    if "porcelain" in plain or "china" in plain.replace("china clay", ""):
        return "porcelain"
    if any(word in plain for word in ("earthenware", "terracotta", "terra cotta", "raku")):
        return "earthenware"
    return "stoneware"


def in_sdr(*, value_pence: int, units: int, rate: Decimal) -> Decimal:
    """A value [pence] in SDR, to the hundredth. ``units`` pence make one unit of the currency.

    ``rate`` is what one SDR is worth in that currency. Raises ``ValueError`` for 0 or less.
    """
    if rate <= 0:
        raise ValueError("what one SDR is worth is above 0")
    return (Decimal(value_pence) / units / rate).quantize(Decimal("0.01"), ROUND_HALF_UP)


def which_form(
    *, value_pence: int, gross_weight_g: int, units: int, limits: Limits
) -> tuple[Form, str]:
    """Which form, and why in a sentence. Without a rate the larger form is the safe one.

    Source: Universal Postal Union: CN 22 on small packets up to 300 SDR, otherwise and for postal
    parcels CN 23; national posts print 2 kg, the limit of a small packet, beside it.
    """
    if limits.parcel_post:
        return "CN 23", "Sent as a postal parcel, which always takes CN 23."
    if gross_weight_g > limits.weight_g:
        return "CN 23", f"{gross_weight_g} g is over {limits.weight_g} g."
    if limits.rate is None:
        return "CN 23", "No rate of the SDR is entered, so the fuller form is the safe one."
    # Compared unrounded: a value that only rounds down to the limit is over it.
    if Decimal(value_pence) > limits.sdr * limits.rate * units:
        value = in_sdr(value_pence=value_pence, units=units, rate=limits.rate)
        return "CN 23", f"Worth {value} SDR, over {limits.sdr.normalize():f} SDR."
    value = in_sdr(value_pence=value_pence, units=units, rate=limits.rate)
    return (
        "CN 22",
        f"Worth {value} SDR and {gross_weight_g} g, within {limits.sdr.normalize():f} SDR and"
        f" {limits.weight_g} g.",
    )


def gather(pieces: Sequence[Contents]) -> tuple[Contents, ...]:
    """Lines of the same description, heading and origin put together, in order of first use."""
    found: dict[tuple[str, str, str], Contents] = {}
    for piece in pieces:
        key = (piece.description, piece.heading, piece.origin)
        had = found.get(key)
        found[key] = (
            piece
            if had is None
            else Contents(
                description=piece.description,
                count=had.count + piece.count,
                net_weight_g=had.net_weight_g + piece.net_weight_g,
                value_pence=had.value_pence + piece.value_pence,
                heading=piece.heading,
                origin=piece.origin,
            )
        )
    return tuple(found.values())


def declare(
    *, pieces: Sequence[Contents], gross_weight_g: int, kind: str, units: int, limits: Limits
) -> Declaration:
    """The whole declaration of one parcel.

    Raises ``BadDeclaration`` when something is missing or the sums do not hold.
    """
    lines = gather(pieces)
    value = sum(line.value_pence for line in lines)
    form, why = which_form(
        value_pence=value, gross_weight_g=gross_weight_g, units=units, limits=limits
    )
    made = Declaration(lines=lines, gross_weight_g=gross_weight_g, kind=kind, form=form, why=why)
    if (made.value_pence, made.net_weight_g, made.count) != (
        sum(piece.value_pence for piece in pieces),
        sum(piece.net_weight_g for piece in pieces),
        sum(piece.count for piece in pieces),
    ):
        raise BadDeclaration("The lines do not add up to what is in the parcel.")
    return made
