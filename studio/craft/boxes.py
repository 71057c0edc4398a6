"""Which box do these pieces fit into with their padding, and what does the parcel weigh?

Laws (a rejected example each):

1. Padding stands on every side of every piece, between two of them once ("fits to the millimetre"
   is refused).
2. Pieces may be turned and stood in rows, in rows of rows, and in layers; a box that holds them
   only by a cleverer puzzle is not offered, because nobody packs one.
3. The smallest box that holds them is the best; of equal ones the lighter.
4. A box takes no more pieces than the studio says, however small they are.
5. The billable weight is the larger of scale weight and volume weight; the divisor is the carrier's
   and handed in.

Padding of 50 mm on each side is common practice (potters' packing guides, 2009 to 2016); a divisor
of 5,000 cm³/kg is common, from memory. Both are settings.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Final

MOST_MEASURED: Final = 6
"""More pieces than this are not measured: the box is chosen by hand."""

Size = tuple[int, int, int]


@dataclass(frozen=True, kw_only=True, slots=True)
class Ware:
    """A piece as a packer sees it: its widest sizes [mm] and weight [g], all 1 or more."""

    length_mm: int
    width_mm: int
    height_mm: int
    weight_g: int

    def __post_init__(self) -> None:
        if min(self.length_mm, self.width_mm, self.height_mm) < 1:
            raise ValueError("a piece has three sizes of 1 mm or more")
        if self.weight_g < 1:
            raise ValueError("a piece weighs 1 g or more")


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """A box: inside sizes [mm], wall [mm], weight with its usual fill [g].

    ``takes`` is how many pieces the studio puts in at most; None when only the measure counts.
    """

    key: str
    length_mm: int
    width_mm: int
    height_mm: int
    weight_g: int
    wall_mm: int = 4
    takes: int | None = None

    def __post_init__(self) -> None:
        if min(self.length_mm, self.width_mm, self.height_mm) < 1:
            raise ValueError(f"box {self.key} has three inside sizes of 1 mm or more")
        if self.weight_g < 1:
            raise ValueError(f"box {self.key} weighs 1 g or more")
        if self.wall_mm < 0 or (self.takes is not None and self.takes < 1):
            raise ValueError(f"box {self.key} has a wall of 0 mm or more and takes 1 or more")

    @property
    def volume_mm3(self) -> int:
        """How much room is inside [mm³]."""
        return self.length_mm * self.width_mm * self.height_mm


def block_sizes(wares: Sequence[Ware], *, padding_mm: int) -> tuple[Size, ...]:
    """The sizes [mm] of the padded blocks that these pieces can be stood into, none within another.

    1 to 6 pieces; ``padding_mm`` 0 or more. Each size is sorted, largest first. Rows of rows: each
    block is two smaller blocks side by side, in every split and every turn.

    Raises ``ValueError`` outside.
    """
    if not 1 <= len(wares) <= MOST_MEASURED:
        raise ValueError(f"1 to {MOST_MEASURED} pieces are measured, not {len(wares)}")
    if padding_mm < 0:
        raise ValueError(f"padding is 0 mm or more, not {padding_mm}")
    whole = (1 << len(wares)) - 1
    blocks: dict[int, frozenset[Size]] = {}
    for index, ware in enumerate(wares):
        # Half of the padding between two pieces stands on each; the outer half is added at the end.
        sides = (ware.length_mm, ware.width_mm, ware.height_mm)
        blocks[1 << index] = frozenset({_sorted(side + padding_mm for side in sides)})
    for mask in range(1, whole + 1):
        if mask in blocks:
            continue
        found: set[Size] = set()
        part = (mask - 1) & mask
        while part:
            rest = mask ^ part
            if part < rest:
                for one in blocks[part]:
                    for other in blocks[rest]:
                        found |= _beside(one, other)
            part = (part - 1) & mask
        blocks[mask] = _smallest(found)
    return tuple(sorted(_sorted(side + padding_mm for side in size) for size in blocks[whole]))


def fits(wares: Sequence[Ware], box: Box, *, padding_mm: int) -> bool:
    """Whether a box holds these pieces with padding on every side; more than six never do."""
    if box.takes is not None and len(wares) > box.takes:
        return False
    if not 1 <= len(wares) <= MOST_MEASURED:
        return False
    room = _sorted((box.length_mm, box.width_mm, box.height_mm))
    return any(_within(size, room) for size in block_sizes(wares, padding_mm=padding_mm))


def best_box(wares: Sequence[Ware], boxes: Sequence[Box], *, padding_mm: int) -> Box | None:
    """The smallest box that holds these pieces, of equal ones the lighter; None when none does."""
    ranked = sorted(boxes, key=lambda box: (box.volume_mm3, box.weight_g, box.key))
    return next((box for box in ranked if fits(wares, box, padding_mm=padding_mm)), None)


def parcel_weight_g(*, ware_weights_g: Sequence[int], box_weight_g: int) -> int:
    """What a packed parcel weighs [g]: the pieces and the box with its fill.

    Raises ``ValueError`` when a weight is missing (0 or less).
    """
    if min([*ware_weights_g, box_weight_g]) < 1:
        raise ValueError("every piece and the box weigh 1 g or more")
    return sum(ware_weights_g) + box_weight_g


def volume_weight_g(box: Box, *, divisor_cm3_per_kg: int) -> int:
    """What a carrier counts for the room a closed box takes [g], rounded up to the gram.

    ``divisor_cm3_per_kg`` is the carrier's, 1 or more. Raises ``ValueError`` outside.
    """
    if divisor_cm3_per_kg < 1:
        raise ValueError(f"a divisor is 1 cm³/kg or more, not {divisor_cm3_per_kg}")
    outside = [
        side + 2 * box.wall_mm for side in (box.length_mm, box.width_mm, box.height_mm)
    ]  # mm
    # mm³ / 1000 = cm³; cm³ / divisor = kg; kg x 1000 = g
    return math.ceil(outside[0] * outside[1] * outside[2] / divisor_cm3_per_kg)


def billable_weight_g(*, scale_g: int, volume_g: int) -> int:
    """The weight that is paid for [g]: the larger one."""
    return max(scale_g, volume_g)


def _sorted(sides: Iterable[int]) -> Size:
    a, b, c = sorted(sides, reverse=True)
    return a, b, c


def _beside(one: Size, other: Size) -> set[Size]:
    """Two blocks side by side along one side, the second turned every way."""
    found = set()
    for a, b, c in set(permutations(other)):
        found.add(_sorted((one[0] + a, max(one[1], b), max(one[2], c))))
        found.add(_sorted((max(one[0], a), one[1] + b, max(one[2], c))))
        found.add(_sorted((max(one[0], a), max(one[1], b), one[2] + c)))
    return found


def _within(small: Size, large: Size) -> bool:
    return all(a <= b for a, b in zip(small, large, strict=True))


def _smallest(sizes: set[Size]) -> frozenset[Size]:
    """Those that hold no other one."""
    kept: list[Size] = []
    for size in sorted(sizes, key=lambda s: (s[0] * s[1] * s[2], s)):
        if not any(_within(other, size) for other in kept):
            kept.append(size)
    return frozenset(kept)
