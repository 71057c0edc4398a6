"""What does it cost that pieces are whole, and a day or a load holds only so many whole ones?

A day of 131 minutes and vases of 35, mugs of 18 and cups of 9 fill at most 126 of them. For a
solution with split pieces this module finds a price a piece by which no day (or load) of whole
pieces is worth as much as the split ones claim to be. The price is a whole number and the worth
of the best day is counted exactly, so the limit that follows holds for every plan.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

from studio.craft.backplan_short import Knapsack, Rows, Smaller
from studio.craft.backplan_short_solve import solved

FINE = 2520
"""Prices are whole parts of one: of so many, which most small fractions divide."""

FILLINGS = 40
"""Whole fillings looked at for one price at most."""

MOST_ROOM = 5_000
"""Larger boxes lose next to nothing to whole pieces."""

POINTS = 3
"""Boxes alike looked at in one round, the fullest first; a limit found holds for all of them."""


def best_filling(*, sizes: Sequence[int], prices: Sequence[int], room: int) -> list[int]:
    """The whole counts of things of these sizes that fit the room and are worth most."""
    best, last = [0] * (room + 1), [-1] * (room + 1)
    for there in range(1, room + 1):
        best[there] = best[there - 1]
        for i, size in enumerate(sizes):
            if size <= there and best[there - size] + prices[i] > best[there]:
                best[there], last[there] = best[there - size] + prices[i], i
    counts, there = [0] * len(sizes), room
    while there > 0:
        if last[there] < 0:
            there -= 1
        else:
            counts[last[there]] += 1
            there -= sizes[last[there]]
    return counts


def worth(*, counts: Sequence[float], prices: Sequence[int]) -> float:
    """What counts are worth at these prices."""
    return sum(n * price for n, price in zip(counts, prices, strict=True))


def prices_for(
    *,
    sizes: Sequence[int],
    claims: Sequence[float],
    boxes: Sequence[tuple[int, float]],
    fillings: dict[int, list[list[int]]],
) -> list[int]:
    """Prices by which claimed counts are worth more than whole boxes can be; none: there are none.

    ``boxes`` are (room, how many); ``fillings`` remembers whole fillings by room between calls.
    """
    for _ in range(FILLINGS):
        rows = Rows()
        price = [rows.column(1.0) for _ in sizes]
        rows.price.update((column, -claim) for column, claim in zip(price, claims, strict=True))
        for room, n in boxes:
            rows.price[most := rows.column(math.inf)] = n
            for counts in fillings.setdefault(room, []):
                terms = [(float(count), price[i]) for i, count in enumerate(counts) if count]
                rows.say([*terms, (-1.0, most)], high=0.0)
        found = solved(rows=rows, seconds=1.0)
        if found is None or found.least > -1e-6:
            return []
        prices = [int(FINE * found.values[column] + 0.01) for column in price]
        new, can = False, 0.0
        for room, n in boxes:
            counts = best_filling(sizes=sizes, prices=prices, room=room)
            can += n * worth(counts=counts, prices=prices)
            if counts not in fillings[room]:
                fillings[room].append(counts)
                new = True
        if not new:
            more = worth(counts=claims, prices=prices) - can
            return prices if more > 1e-4 * FINE else []
    return []


class Wholes:
    """Adds limits of whole pieces to a smaller question, round by round."""

    def __init__(self, small: Smaller) -> None:
        self.small = small
        self.alike: defaultdict[tuple[tuple[int, ...], tuple[int, ...]], list[Knapsack]]
        self.alike = defaultdict(list)
        for one in small.knapsacks:
            rooms = tuple(room for room, _ in one.boxes)
            if max(rooms) <= MOST_ROOM:
                self.alike[tuple(sorted(one.sizes)), rooms].append(one)
        self.fillings: defaultdict[tuple[int, ...], dict[int, list[list[int]]]] = defaultdict(dict)

    def round(self, values: Sequence[float]) -> bool:
        """Add limits that these values break; False: they break none."""
        new = False
        for (sizes, rooms), knapsacks in self.alike.items():
            claims = [
                [sum(values[column] for column in one.sizes[size]) for size in sizes]
                for one in knapsacks
            ]
            boxes = [
                [1.0 if on is None else values[on] for _, on in one.boxes] for one in knapsacks
            ]
            full = sorted(
                range(len(knapsacks)),
                key=lambda i: -sum(n * z for n, z in zip(claims[i], sizes, strict=True)),
            )
            points = [([sum(one) for one in zip(*claims, strict=True)],
                       [sum(one) for one in zip(*boxes, strict=True)])]  # fmt: skip
            points += [(claims[i], boxes[i]) for i in full[:POINTS]]
            told: set[tuple[int, ...]] = set()
            for claim, n in points:
                prices = prices_for(
                    sizes=sizes,
                    claims=claim,
                    boxes=list(zip(rooms, n, strict=True)),
                    fillings=self.fillings[sizes],
                )
                if prices and tuple(prices) not in told:
                    told.add(tuple(prices))
                    self._say(sizes, prices, knapsacks)
                    new = True
        return new

    def _say(self, sizes: tuple[int, ...], prices: list[int], knapsacks: list[Knapsack]) -> None:
        rooms = {room for one in knapsacks for room, _ in one.boxes}
        most = {
            room: worth(counts=best_filling(sizes=sizes, prices=prices, room=room), prices=prices)
            for room in rooms
        }
        for one in knapsacks:
            terms = [
                (float(price), column)
                for size, price in zip(sizes, prices, strict=True)
                for column in one.sizes[size]
                if price
            ]
            terms += [(-most[room], on) for room, on in one.boxes if on is not None]
            there = sum(most[room] for room, on in one.boxes if on is None)
            self.small.rows.say(terms, high=there)
