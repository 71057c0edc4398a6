"""What is a kiln from inside, what is to go into it, and what is a whole load?

The words that the packer, its referee and the drawn load sheet share. Everything is in whole
millimetres, as the ware goes into the kiln. A place is seen from above: (0, 0) is the middle of
the kiln, x to the right, y to the back; a turn runs against the clock from x. Heights are counted
from the kiln's floor.

How a kiln is built up, from the floor: whole shelves on posts; over the topmost of them the two
halves may go on apart, each with half shelves at its own heights up to the lid. A kiln of halves
alone is split from its floor. A split level is two levels; nothing stands across their seam.
Gaps of 3 to 6 mm between glazed pots, touching bisque, three posts a shelf, pots kept from walls,
lid and thermocouple are common practice, no source.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from typing import Final, Literal, get_args

Part = Literal["whole", "left", "right"]
ShelfKind = Literal["whole", "half"]
Shape = Literal["round", "handled", "oblong"]
Stacks = Literal["no", "rim_to_rim", "nested"]

TALLEST_MM: Final = 3000
POSTS_A_SHELF: Final = 3
PROBE_TOUCH_MM: Final = 10
"""How far the thermocouple keeps from shelves and posts. Common practice, no source."""


class BadKiln(ValueError):
    """Sizes, counts or words that cannot be; the sentence says which."""


def _within(what: str, number: int, least: int, most: int) -> None:
    if not least <= number <= most:
        raise BadKiln(f"{what} is {least} to {most}, not {number}.")


def _one_of(what: str, word: str, words: object) -> None:
    if word not in get_args(words):
        raise BadKiln(f"{what} is {', '.join(get_args(words))}, not {word!r}.")


@dataclass(frozen=True, kw_only=True, slots=True)
class ShelfStock:
    """``count`` shelves of a kind and thickness [mm]; a half covers half the kiln."""

    kind: ShelfKind
    thickness_mm: int = 16
    count: int = 1

    def __post_init__(self) -> None:
        _one_of("A shelf", self.kind, ShelfKind)
        _within("A shelf's thickness", self.thickness_mm, 3, 60)
        _within("The count of shelves", self.count, 0, 40)


@dataclass(frozen=True, kw_only=True, slots=True)
class PostStock:
    """``sets`` of three posts of one height [mm]; two may be stacked for a taller level."""

    height_mm: int
    sets: int = 1

    def __post_init__(self) -> None:
        _within("A post's height", self.height_mm, 10, 600)
        _within("The count of post sets", self.sets, 0, 60)


@dataclass(frozen=True, kw_only=True, slots=True)
class Probe:
    """Where the thermocouple ends, and the air it wants."""

    x_mm: int
    y_mm: int
    height_mm: int
    clear_mm: int = 50

    def __post_init__(self) -> None:
        _within("A thermocouple's height", self.height_mm, 0, TALLEST_MM)
        _within("The air round a thermocouple", self.clear_mm, 0, 300)


@dataclass(frozen=True, kw_only=True, slots=True)
class KilnRoom:
    """A kiln's inside and its furniture.

    ``sides`` 0 for round, 4 for a box, 5 to 16 for a regular shape; ``width_mm`` across the flats
    (or the diameter), ``depth_mm`` of a box front to back (0 elsewhere). ``shelf_gap_mm`` between
    a shelf's edge and the wall, ``wall_mm`` between ware and the wall; ware stays over its shelf.
    ``lid_mm`` is kept free under the lid, ``floor_post_mm`` are the posts under the lowest shelf,
    ``seam_mm`` the gap between two halves. ``post_across_mm`` is the circle round a post.
    """

    sides: int
    width_mm: int
    height_mm: int
    depth_mm: int = 0
    shelf_gap_mm: int = 13
    wall_mm: int = 13
    lid_mm: int = 25
    floor_post_mm: int = 13
    seam_mm: int = 6
    post_across_mm: int = 32
    shelves: tuple[ShelfStock, ...] = (ShelfStock(kind="whole", count=5),)
    posts: tuple[PostStock, ...] = ()
    probe: Probe | None = None

    def __post_init__(self) -> None:
        if self.sides not in (0, 4) and not 5 <= self.sides <= 16:
            raise BadKiln(f"A kiln is round (0), a box (4) or has 5 to 16 sides, not {self.sides}.")
        _within("A kiln's inside width", self.width_mm, 100, TALLEST_MM)
        _within("A kiln's inside height", self.height_mm, 50, TALLEST_MM)
        if self.sides == 4:
            _within("A box kiln's inside depth", self.depth_mm, 100, TALLEST_MM)
        elif self.depth_mm:
            raise BadKiln("Only a box kiln has a depth of its own.")
        _within("The gap between shelf and wall", self.shelf_gap_mm, 0, 200)
        _within("The clearance to the wall", self.wall_mm, 0, 200)
        _within("The clearance under the lid", self.lid_mm, 0, 500)
        _within("A floor post", self.floor_post_mm, 0, 300)
        _within("The seam between half shelves", self.seam_mm, 0, 100)
        _within("The width of a post", self.post_across_mm, 5, 150)
        if 2 * self.edge_mm + 2 * self.post_across_mm > min(self.width_mm, self.across_y_mm):
            raise BadKiln("The clearances and posts leave no shelf in this kiln.")
        if not any(stock.count for stock in self.shelves):
            raise BadKiln("A kiln has at least one shelf.")

    @property
    def across_y_mm(self) -> int:
        """Front to back of a box; else the width."""
        return self.depth_mm if self.sides == 4 else self.width_mm

    @property
    def edge_mm(self) -> int:
        """How far from the wall ware stays: it keeps off the wall and over its shelf."""
        return max(self.shelf_gap_mm, self.wall_mm)

    def thicknesses_mm(self, kind: ShelfKind) -> tuple[int, ...]:
        """The shelves of a kind that the kiln owns, thinnest first [mm]."""
        return tuple(
            sorted(s.thickness_mm for s in self.shelves if s.kind == kind for _ in range(s.count))
        )

    @property
    def tallest_mm(self) -> int:
        """The tallest ware it can take at all: over one shelf, up to the lid's clearance [mm]."""
        under_mm = self.floor_post_mm + min(s.thickness_mm for s in self.shelves if s.count)
        return max(self.height_mm - self.lid_mm - under_mm, 0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Ware:
    """One kind of piece by its outline from above and its height.

    ``round``: ``width_mm`` its widest diameter. ``handled``: a round body of ``width_mm`` whose
    handle stands out ``handle_mm`` and is ``handle_width_mm`` wide, with a round end. ``oblong``:
    ``width_mm`` x ``length_mm`` (length at least the width), corners of radius ``corner_mm``.
    ``is_runny``: its coats may run. In bisque a piece may carry others of its kind: ``stacks``
    rim to rim (each adds its whole height) or nested (each adds ``nest_step_mm``), ``stack_most``
    pieces high in all.
    """

    key: str
    shape: Shape = "round"
    width_mm: int
    height_mm: int
    length_mm: int = 0
    corner_mm: int = 0
    handle_mm: int = 0
    handle_width_mm: int = 0
    is_runny: bool = False
    stacks: Stacks = "no"
    stack_most: int = 1
    nest_step_mm: int = 0

    def __post_init__(self) -> None:
        if not self.key:
            raise BadKiln("A kind of ware has a name.")
        _one_of("The outline", self.shape, Shape)
        _one_of("The way to stack", self.stacks, Stacks)
        _within(f"The width of {self.key}", self.width_mm, 5, 2000)
        _within(f"The height of {self.key}", self.height_mm, 1, 2000)
        if self.shape == "handled":
            _within(f"The handle of {self.key}", self.handle_mm, 1, 400)
            _within(f"The handle's width of {self.key}", self.handle_width_mm, 2, self.width_mm)
        elif self.handle_mm or self.handle_width_mm:
            raise BadKiln(f"{self.key}: only handled ware has a handle.")
        if self.shape == "oblong":
            _within(f"The length of {self.key}", self.length_mm, self.width_mm, 2000)
            _within(f"The corners of {self.key}", self.corner_mm, 0, self.width_mm // 2)
        elif self.length_mm or self.corner_mm:
            raise BadKiln(f"{self.key}: only oblong ware has a length and corners.")
        _within(f"The stack of {self.key}", self.stack_most, 1, 50)
        if self.stacks == "no" and self.stack_most != 1:
            raise BadKiln(f"{self.key}: ware that does not stack stands one high.")
        if self.stacks == "nested":
            _within(f"The nesting step of {self.key}", self.nest_step_mm, 1, self.height_mm)
        elif self.nest_step_mm:
            raise BadKiln(f"{self.key}: only nested ware has a nesting step.")

    @property
    def across_mm(self) -> float:
        """The circle round the whole outline [mm]."""
        if self.shape == "oblong":
            core = math.hypot(
                self.width_mm - 2 * self.corner_mm, self.length_mm - 2 * self.corner_mm
            )
            return core + 2 * self.corner_mm
        return float(self.width_mm + self.handle_mm)

    def stack_height_mm(self, pieces: int) -> int:
        """How tall ``pieces`` of it stand on one another, 1 to ``stack_most`` [mm]."""
        _within(f"A stack of {self.key}", pieces, 1, self.stack_most)
        step = self.nest_step_mm if self.stacks == "nested" else self.height_mm
        return self.height_mm + (pieces - 1) * step


@dataclass(frozen=True, kw_only=True, slots=True)
class Pin:
    """The place a piece is to keep: the number of its level, its middle, its turn."""

    level: int
    x_mm: float
    y_mm: float
    turn_deg: float = 0.0

    def __post_init__(self) -> None:
        _within("A level", self.level, 1, 40)


@dataclass(frozen=True, kw_only=True, slots=True)
class Lot:
    """``count`` pieces of a kind, alike in everything, and what one of them is worth loading.

    ``pinned``: places that some of them keep; at most ``count``.
    """

    ware: Ware
    count: int
    value: int = 1
    pinned: tuple[Pin, ...] = ()

    def __post_init__(self) -> None:
        _within(f"The count of {self.ware.key}", self.count, 0, 2000)
        _within(f"The value of {self.ware.key}", self.value, 0, 1_000_000)
        if len(self.pinned) > self.count:
            raise BadKiln(f"More {self.ware.key} are pinned than there are.")


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadRules:
    """How close ware may stand.

    Two ordinary pieces stand ``gap_mm`` apart, two runny ones ``runny_gap_mm``, one of each the
    mean of both; a post counts as an ordinary piece.
    ``over_mm`` is kept between ware and the shelf over it. ``handles``: ``clear`` gives handled
    ware the circle round its handle, ``interlock`` lets handles stand between other pots.
    ``runny``: ``low`` lets no runny piece stand over one that is not, on any part of the kiln,
    save pinned ones; ``catch_tile`` stands it on a tile ``tile_over_mm`` wider all round and
    ``tile_mm`` thick; ``anywhere`` does nothing. ``cone_packs`` and ``test_tiles`` get room too.
    """

    kind: Literal["glaze", "bisque"] = "glaze"
    gap_mm: int = 6
    runny_gap_mm: int = 12
    over_mm: int = 6
    handles: Literal["clear", "interlock"] = "clear"
    runny: Literal["low", "catch_tile", "anywhere"] = "low"
    tile_over_mm: int = 12
    tile_mm: int = 10
    cone_packs: int = 1
    test_tiles: int = 1

    def __post_init__(self) -> None:
        _one_of("A firing", self.kind, Literal["glaze", "bisque"])
        _one_of("The room of handles", self.handles, Literal["clear", "interlock"])
        _one_of("The way with runny ware", self.runny, Literal["low", "catch_tile", "anywhere"])
        _within("A gap", self.gap_mm, 0, 200)
        _within("The room over ware", self.over_mm, 0, 200)
        _within("A catch tile's edge", self.tile_over_mm, 0, 200)
        _within("A catch tile's thickness", self.tile_mm, 0, 200)
        if not self.gap_mm <= self.runny_gap_mm <= 200:
            raise BadKiln("Runny ware keeps at least the gap of other ware, 200 mm at most.")
        _within("The count of cone packs", self.cone_packs, 0, 10)
        _within("The count of test tiles", self.test_tiles, 0, 20)

    def minds_runny(self, ware: Ware) -> bool:
        """Whether a piece may run in this firing; nothing runs in bisque."""
        return ware.is_runny and self.kind == "glaze"

    def on_tile(self, ware: Ware) -> bool:
        """Whether a piece stands on a catch tile."""
        return self.minds_runny(ware) and self.runny == "catch_tile"

    def air_mm(self, ware: Ware) -> float:
        """Half of the gap that a piece keeps [mm]."""
        return (self.runny_gap_mm if self.minds_runny(ware) else self.gap_mm) / 2

    def pieces_high(self, ware: Ware, clear_mm: int) -> int:
        """How many of a kind stand on one another under ``clear_mm``; 0 when not even one does."""
        tile_mm = self.tile_mm if self.on_tile(ware) else 0
        most = ware.stack_most if self.kind == "bisque" else 1
        room_mm = clear_mm - tile_mm
        return next((n for n in range(most, 0, -1) if ware.stack_height_mm(n) <= room_mm), 0)


CONE_PACK: Final = Ware(
    key="cone pack", shape="oblong", width_mm=35, length_mm=100, corner_mm=5, height_mm=80
)
TEST_TILE: Final = Ware(
    key="test tile", shape="oblong", width_mm=50, length_mm=60, corner_mm=2, height_mm=100
)
"""Three large cones on their pat, and a tile on its own foot. Common practice, no source."""


def glaze_rules() -> LoadRules:
    """Glazed ware, 6 mm apart, runny ware 12 mm and low. Common practice, no source."""
    return LoadRules()


def bisque_rules() -> LoadRules:
    """Bisque: pieces may touch and carry one another. Common practice, no source."""
    near = LoadRules(kind="bisque", gap_mm=0, runny_gap_mm=0, test_tiles=0)
    return replace(near, handles="interlock", runny="anywhere")


@dataclass(frozen=True, kw_only=True, slots=True)
class Level:
    """A storey of the load: what its ware stands on and what stands between the ware.

    ``number`` from the bottom, 1 up, its own in the whole load; ``part`` of the kiln it covers,
    ``shelf`` it lies on: both parts of a split level may lie on one whole shelf. ``base_mm`` the
    shelf's upper face, ``clear_mm`` the tallest ware it takes. ``posts`` stand on it and hold the
    shelf over it, ``post_mm`` is stacked in each; both are empty where only the lid is over it.
    """

    number: int
    part: Part
    shelf: ShelfKind
    base_mm: int
    thickness_mm: int
    clear_mm: int
    post_mm: tuple[int, ...] = ()
    posts: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Spot:
    """Where one piece stands: the middle of its body (not of its handle) and its turn.

    A handle points, and an oblong's length lies, along ``turn_deg``. ``tier`` 0 is on the shelf,
    1 on the piece of tier 0 at the same place. In bisque one of another form may stand in it.
    """

    ware_key: str
    level: int
    x_mm: float
    y_mm: float
    turn_deg: float = 0.0
    tier: int = 0


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadPlan:
    """A whole load: its levels from the bottom, every piece's place, and what found none.

    Cone packs and test tiles are spots too, under the keys of ``CONE_PACK`` and ``TEST_TILE``.
    """

    levels: tuple[Level, ...]
    spots: tuple[Spot, ...]
    left_out: tuple[tuple[str, int], ...] = ()

    def on(self, level: int) -> tuple[Spot, ...]:
        """The pieces on a level."""
        return tuple(spot for spot in self.spots if spot.level == level)

    def standing(self) -> Counter[str]:
        """How many pieces of each kind stand in it, cones and tiles too."""
        return Counter(spot.ware_key for spot in self.spots)


def with_cones(lots: tuple[Lot, ...], rules: LoadRules) -> tuple[Lot, ...]:
    """The lots and the cones and tiles that the rules ask for, worth more than all.

    Raises ``BadKiln`` when a kind comes twice or bears the name of cones or tiles.
    """
    for key, times in Counter(lot.ware.key for lot in lots).items():
        if times > 1:
            raise BadKiln(f"{key} comes in two lots; say it once.")
        if key in (CONE_PACK.key, TEST_TILE.key):
            raise BadKiln(f"{key} is asked for by the rules, not as a lot.")
    value = min(1_000_000, 1 + sum(lot.count * lot.value for lot in lots))
    extra = ((CONE_PACK, rules.cone_packs), (TEST_TILE, rules.test_tiles))
    return (*lots, *(Lot(ware=ware, count=n, value=value) for ware, n in extra if n))
