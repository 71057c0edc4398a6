"""Which pot goes to which person, so that nobody gets a line twice and few go without?

People come in the order of their turns. An answer is judged in this order:

1. Who gets a pot: the person whose turn is first, then the second, and so on. Nobody later ever
   costs somebody earlier the pot (rejected: the greatest number served whatever their turns).
2. Then the lowest sum of ``cost`` over the pairs: pots set aside for the month before others, a
   form that is new to the person before one they have, firsts before seconds, pots that are here
   before pots that are still to be made.
3. Then the good ones are spread: seconds go to those who had the fewest, and of what is left the
   more valuable pots to those whose pots so far were worth the least (rejected: the same people
   are sent the big bowls year after year).
4. What a sale still asks for is left alone: such a pot is barred like one that is not wished for.
5. The same question always has the same answer.

Method: the Hungarian method, adding one person at a time along a shortest augmenting path. Such a
path may give somebody another pot but never none, so the first law holds by construction, and
the sum stays the lowest for the people served so far.
Source: H. W. Kuhn, 'The Hungarian method for the assignment problem', Naval Research Logistics
Quarterly 2 (1955); that the people served grow without anybody dropping out: J. Edmonds and
D. R. Fulkerson, 'Transversals and matroid partition', J. Res. NBS 69B (1965).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class BadPick(ValueError):
    """The question itself is wrong; ``causes`` says where, one sentence each."""

    def __init__(self, *causes: str) -> None:
        self.causes = causes
        super().__init__("; ".join(causes))


class Bar(StrEnum):
    """Why one pot may not go to one person."""

    HAD_LINE = "had_line"
    PLEASE_NO = "please_no"
    NO_GLAZE = "no_glaze"
    SECOND = "second"
    FOR_SALE = "for_sale"


MOST_POUNDS = 100_000
HERE, SECONDS = 10**15, 10**12
"""What one of ``cost`` and one more second weigh beside a penny of spread."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Wisher:
    """A person whose turn it is: what they had, what they would rather not have.

    ``had_seconds`` counts the seconds among it; ``had_pounds`` is what a pot sent to them was worth
    on average, in whole pounds (or whole units of the studio's currency).
    """

    key: str
    had_lines: frozenset[str] = frozenset()
    had_forms: frozenset[str] = frozenset()
    please_no: frozenset[str] = frozenset()
    no_glazes: frozenset[str] = frozenset()
    takes_seconds: bool = False
    had_seconds: int = 0
    had_pounds: int = 0

    def __post_init__(self) -> None:
        if not self.key:
            raise BadPick("a person needs a key")
        if self.had_seconds < 0 or not 0 <= self.had_pounds <= MOST_POUNDS:
            raise BadPick(f"person {self.key}: seconds and pounds had are 0 or more")


@dataclass(frozen=True, kw_only=True, slots=True)
class Pot:
    """A free pot. ``wanted`` says that it is of a line set aside for this month.

    ``for_sale``: a sale asks for it. ``to_make``: it is not there yet. ``pounds`` is its price.
    """

    key: str
    line_key: str
    form_key: str
    glaze_keys: frozenset[str] = frozenset()
    is_second: bool = False
    wanted: bool = True
    for_sale: bool = False
    to_make: bool = False
    pounds: int = 0

    def __post_init__(self) -> None:
        if not (self.key and self.line_key and self.form_key):
            raise BadPick("a pot needs a key, a line and a form")
        if not 0 <= self.pounds <= MOST_POUNDS:
            raise BadPick(f"pot {self.key}: a price is 0 to {MOST_POUNDS}")


@dataclass(frozen=True, kw_only=True, slots=True)
class Without:
    """A person for whom there is no pot: how many of all pots are barred, and why.

    ``bars`` holds (why, how many); ``elsewhere`` counts the pots they might have had that went
    to people before them.
    """

    wisher_key: str
    bars: tuple[tuple[Bar, int], ...]
    elsewhere: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Picks:
    """The answer: (person key, pot key) in the order of turns, who goes without, and the sums.

    ``cost`` is the sum of the second law, ``weight`` that of the second and third together.
    """

    pairs: tuple[tuple[str, str], ...]
    without: tuple[Without, ...]
    cost: int
    weight: int


def bar(*, wisher: Wisher, pot: Pot) -> Bar | None:
    """Why this pot may not go to this person; None when it may."""
    if pot.form_key in wisher.please_no:
        return Bar.PLEASE_NO
    if pot.glaze_keys & wisher.no_glazes:
        return Bar.NO_GLAZE
    if pot.line_key in wisher.had_lines:
        return Bar.HAD_LINE
    if pot.is_second and not wisher.takes_seconds:
        return Bar.SECOND
    if pot.for_sale:
        return Bar.FOR_SALE
    return None


def cost(*, wisher: Wisher, pot: Pot) -> int:
    """How unlucky an allowed pair is, summed.

    Still to be made 8, not set aside 4, a form they have 2, a second 1.
    """
    return (
        (8 if pot.to_make else 0)
        + (0 if pot.wanted else 4)
        + (2 if pot.form_key in wisher.had_forms else 0)
        + (1 if pot.is_second else 0)
    )


def weigh(*, wisher: Wisher, pot: Pot) -> int:
    """``cost`` first, then a second for one who had seconds, then value for one who had value.

    The sum over pairs of what somebody had times what they are given is the least when those who
    had the least are given the most (the rearrangement inequality: G. H. Hardy, J. E. Littlewood,
    G. Polya, "Inequalities", 1934, theorem 368).
    """
    return (
        HERE * cost(wisher=wisher, pot=pot)
        + SECONDS * (wisher.had_seconds if pot.is_second else 0)
        + wisher.had_pounds * pot.pounds
    )


def pick(*, wishers: Sequence[Wisher], pots: Sequence[Pot]) -> Picks:
    """Give each person at most one pot by the laws above.

    ``wishers`` stand in the order of their turns, up to some hundreds; ``pots`` up to some
    thousands, in the order in which equal ones should go out.

    Raises: BadPick when a key comes twice.
    """
    _refuse_twice("person", [wisher.key for wisher in wishers])
    _refuse_twice("pot", [pot.key for pot in pots])
    prices = [
        [
            None if bar(wisher=wisher, pot=pot) is not None else weigh(wisher=wisher, pot=pot)
            for pot in pots
        ]
        for wisher in wishers
    ]
    seat = _assign(prices, width=len(pots))
    pairs: list[tuple[str, str]] = []
    without: list[Without] = []
    total = weight = 0
    for row, wisher in enumerate(wishers):
        column = seat[row]
        price = None if column is None else prices[row][column]
        if column is None or price is None:
            without.append(_without(wisher, pots))
        else:
            pairs.append((wisher.key, pots[column].key))
            total += cost(wisher=wisher, pot=pots[column])
            weight += price
    return Picks(pairs=tuple(pairs), without=tuple(without), cost=total, weight=weight)


def _without(wisher: Wisher, pots: Sequence[Pot]) -> Without:
    reasons = Counter(bar(wisher=wisher, pot=pot) for pot in pots)
    elsewhere = reasons.pop(None, 0)
    bars = tuple((why, reasons[why]) for why in Bar if reasons[why])
    return Without(wisher_key=wisher.key, bars=bars, elsewhere=elsewhere)


def _refuse_twice(word: str, keys: Sequence[str]) -> None:
    twice = sorted(key for key, times in Counter(keys).items() if times > 1)
    if twice:
        raise BadPick(*(f"{word} {key} comes twice" for key in twice))


def _assign(prices: Sequence[Sequence[int | None]], *, width: int) -> list[int | None]:
    """The column of each row, or None. Rows are added in order and keep a seat once they have one.

    ``row_price`` and ``column_price`` are the dual values: a pair's reduced price
    ``prices[r][c] - row_price[r] - column_price[c]`` is never negative, and zero when seated.
    """
    row_price = [0] * len(prices)
    column_price = [0] * width
    seated: list[int | None] = [None] * width  # the row that sits in a column
    for new_row in range(len(prices)):
        best: list[int | None] = [None] * width  # the shortest way to each column so far
        via = [-1] * width  # the column that this way came from
        done: list[int] = []
        open_columns = set(range(width))
        row, came_from, so_far = new_row, -1, 0
        while True:
            for column in sorted(open_columns):
                price = prices[row][column]
                if price is None:
                    continue
                way = so_far + price - row_price[row] - column_price[column]
                known = best[column]
                if known is None or way < known:
                    best[column], via[column] = way, came_from
            reached = [(best[c], c) for c in open_columns if best[c] is not None]
            if not reached:
                break  # no pot is left for this person, whoever gives one up
            so_far, came_from = min((way, c) for way, c in reached if way is not None)
            open_columns.discard(came_from)
            sitting = seated[came_from]
            if sitting is None:
                _reprice(new_row, so_far, done, best, seated, row_price, column_price)
                _move_along(new_row, came_from, via, seated)
                break
            done.append(came_from)
            row = sitting
    seat: list[int | None] = [None] * len(prices)
    for column, sitter in enumerate(seated):
        if sitter is not None:
            seat[sitter] = column
    return seat


def _reprice(
    new_row: int,
    so_far: int,
    done: Sequence[int],
    best: Sequence[int | None],
    seated: Sequence[int | None],
    row_price: list[int],
    column_price: list[int],
) -> None:
    """Keep every reduced price at zero or more, and at zero along the path found."""
    row_price[new_row] += so_far
    for column in done:
        way, sitter = best[column], seated[column]
        if way is not None and sitter is not None:
            row_price[sitter] += so_far - way
            column_price[column] -= so_far - way


def _move_along(new_row: int, column: int, via: Sequence[int], seated: list[int | None]) -> None:
    """Give up seats backwards along the path, so that the new row gets one."""
    while column != -1:
        before = via[column]
        seated[column] = new_row if before == -1 else seated[before]
        column = before
