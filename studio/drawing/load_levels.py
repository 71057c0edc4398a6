"""Where does each piece of a load stand, on each level seen from above?

Pure geometry in millimetres; a template draws it on a page, ``load_pages`` on paper. The
back of the kiln is at the top and the front, where one stands, at the bottom. It must read in black
and white: each sort of ware has its own hatch, a free place is dashed and empty, a place that is
kept has a dot, posts are black, the thermocouple is a cross in its ring of air.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from studio.craft.kiln_load import KilnRoom, Level, Part, Ware

Point = tuple[float, float]
Put = Callable[[Point], Point]
"""From the kiln's middle to the drawing."""
Segment = tuple[float, float, float, float]
"""A straight line: x1, y1, x2, y2."""

MARGIN: Final = 12.0
TEXT: Final = 26.0
"""Height of the numbers [mm of the kiln]."""
_HATCH_STEP: Final = 11.0
_HATCHES: Final[tuple[tuple[float, ...], ...]] = (
    (), (45,), (135,), (0,), (90,), (45, 135), (0, 90), (22,), (112,),
)  # fmt: skip
"""The directions of the lines of each hatch, against x [degrees]; the first is plain."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """One piece as it is to be drawn."""

    number: int
    ware: Ware
    x_mm: float
    y_mm: float
    turn_deg: float = 0.0
    tier: int = 0
    hatch: int = 0
    words: str = ""
    href: str = ""
    is_free: bool = False
    is_kept: bool = False
    tile_over_mm: int = 0


@dataclass(frozen=True, kw_only=True, slots=True)
class Shape:
    """A circle (``radius`` over 0) or a closed line of corners."""

    x: float
    y: float
    radius: float = 0.0
    corners: tuple[Point, ...] = ()

    @property
    def points(self) -> str:
        """The corners as SVG takes them."""
        return " ".join(f"{x:g},{y:g}" for x, y in self.corners)


@dataclass(frozen=True, kw_only=True, slots=True)
class Mark:
    """A place: its outline, the lines of its hatch and the number over them."""

    label: str
    x: float
    y: float
    shapes: tuple[Shape, ...]
    hatch: tuple[Segment, ...]
    words: str
    href: str
    is_free: bool
    is_kept: bool
    tile: Shape | None

    @property
    def least(self) -> float:
        """How wide its body is where it is narrowest [mm]."""
        body = self.shapes[-1]
        if body.radius:
            return 2 * body.radius
        first, second, third = body.corners[:3]
        return min(math.dist(first, second), math.dist(second, third))

    @property
    def text_y(self) -> float:
        """Baseline of the number."""
        return round(self.y + TEXT * 0.36, 1)

    @property
    def plate(self) -> tuple[float, float, float, float]:
        """The white ground of the number: x, y, width, height."""
        width = TEXT * (0.56 * len(self.label) + 0.4)
        return (round(self.x - width / 2, 1), round(self.y - TEXT * 0.56, 1), round(width, 1), 29.0)

    @property
    def pin_x(self) -> float:
        """Where the dot of a kept place stands."""
        return round(self.x + TEXT * (0.28 * len(self.label) + 0.2), 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class LevelPicture:
    """One level seen from above."""

    number: int
    title: str
    desc: str
    width: float
    height: float
    wall: Shape
    shelf: Shape
    seam: Segment | None
    posts: tuple[Shape, ...]
    probe: Shape | None
    marks: tuple[Mark, ...]
    text_size: float = TEXT

    @property
    def uid(self) -> str:
        """An id of its own on a page that shows every level."""
        return f"level-{self.number}-drawing"


def kiln_corners(room: KilnRoom, less_mm: float) -> tuple[Point, ...]:
    """The inside of a kiln less a margin, as corners; () for a round one."""
    if room.sides == 0:
        return ()
    if room.sides == 4:
        x, y = room.width_mm / 2 - less_mm, room.across_y_mm / 2 - less_mm
        return ((x, y), (-x, y), (-x, -y), (x, -y))
    radius = (room.width_mm / 2 - less_mm) / math.cos(math.pi / room.sides)
    turns = [(2 * k + 1) * math.pi / room.sides for k in range(room.sides)]
    return tuple((radius * math.cos(turn), radius * math.sin(turn)) for turn in turns)


def level_picture(
    *, room: KilnRoom, level: Level, standing: Sequence[Standing], title: str, desc: str
) -> LevelPicture:
    """Draw one level and what stands on it."""
    reach_x, reach_y = _reach(room)
    width, height = 2 * (reach_x + MARGIN), 2 * (reach_y + MARGIN)

    def put(point: Point) -> Point:
        return round(point[0] + width / 2, 1), round(height / 2 - point[1], 1)

    shelf = _shelf(room, level.part)
    seam = None
    if level.part != "whole":
        seam = (*put((0, reach_y)), *put((0, -reach_y)))
    probe = None
    if room.probe and level.base_mm - level.thickness_mm <= room.probe.height_mm <= (
        level.base_mm + level.clear_mm + level.thickness_mm
    ):
        at = put((room.probe.x_mm, room.probe.y_mm))
        probe = Shape(x=at[0], y=at[1], radius=room.probe.clear_mm)
    return LevelPicture(
        number=level.number,
        title=title,
        desc=desc,
        width=round(width, 1),
        height=round(height, 1),
        wall=_drawn(kiln_corners(room, 0), room.width_mm / 2, put),
        shelf=_drawn(shelf, room.width_mm / 2 - room.shelf_gap_mm, put),
        seam=seam,
        posts=tuple(
            Shape(x=at[0], y=at[1], radius=room.post_across_mm / 2)
            for at in (put(post) for post in level.posts)
        ),
        probe=probe,
        marks=tuple(_marks(standing, put)),
    )


def _reach(room: KilnRoom) -> Point:
    corners = kiln_corners(room, 0) or (
        (room.width_mm / 2, room.width_mm / 2),
        (-room.width_mm / 2, -room.width_mm / 2),
    )
    return max(abs(x) for x, _ in corners), max(abs(y) for _, y in corners)


def _shelf(room: KilnRoom, part: Part) -> tuple[Point, ...]:
    """The shelf of a level; half a round one is given corners too."""
    corners = kiln_corners(room, room.shelf_gap_mm)
    if part == "whole":
        return corners
    if not corners:
        radius = room.width_mm / 2 - room.shelf_gap_mm
        turns = [math.tau * k / 96 for k in range(96)]
        corners = tuple((radius * math.cos(turn), radius * math.sin(turn)) for turn in turns)
    side = -1.0 if part == "left" else 1.0
    return _cut(corners, side=side, at=side * room.seam_mm / 2)


def _cut(corners: Sequence[Point], *, side: float, at: float) -> tuple[Point, ...]:
    """The part of a convex outline on one side of an upright line."""
    kept: list[Point] = []
    for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if (x1 - at) * side >= 0:
            kept.append((x1, y1))
        if (x1 - at) * (x2 - at) < 0:
            kept.append((at, y1 + (y2 - y1) * (at - x1) / (x2 - x1)))
    return tuple(kept)


def _drawn(corners: Sequence[Point], radius: float, put: Put) -> Shape:
    middle = put((0.0, 0.0))
    if not corners:
        return Shape(x=middle[0], y=middle[1], radius=radius)
    return Shape(x=middle[0], y=middle[1], corners=tuple(put(c) for c in corners))


def _marks(standing: Sequence[Standing], put: Put) -> Iterable[Mark]:
    """One mark a place; a stack of bisque is one mark with the numbers of all its pieces."""
    stacks: dict[tuple[float, float], list[Standing]] = {}
    for one in standing:
        stacks.setdefault((one.x_mm, one.y_mm), []).append(one)
    for (x_mm, y_mm), some in stacks.items():
        first = min(some, key=lambda one: one.tier)
        x, y = put((x_mm, y_mm))
        shapes = _outline(first, x, y)
        numbers = sorted(one.number for one in some)
        label = str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]}-{numbers[-1]}"
        free = all(one.is_free for one in some)
        tile = None
        if first.tile_over_mm:
            tile = Shape(x=x, y=y, radius=first.ware.across_mm / 2 + first.tile_over_mm)
        lines = () if free else tuple(_hatched(shapes, _HATCHES[first.hatch % len(_HATCHES)]))
        yield Mark(
            label=label,
            x=x,
            y=y,
            shapes=shapes,
            hatch=lines,
            words="; ".join(dict.fromkeys(one.words for one in some)),
            href=first.href,
            is_free=free,
            is_kept=any(one.is_kept for one in some),
            tile=tile,
        )


def _outline(one: Standing, x: float, y: float) -> tuple[Shape, ...]:
    """A body, and its handle before it so that the body lies over it."""
    ware, turn = one.ware, math.radians(one.turn_deg)
    along, across = (math.cos(turn), -math.sin(turn)), (math.sin(turn), math.cos(turn))

    def corner(out: float, aside: float) -> Point:
        return (
            round(x + out * along[0] + aside * across[0], 1),
            round(y + out * along[1] + aside * across[1], 1),
        )

    if ware.shape == "oblong":
        out, aside = ware.length_mm / 2, ware.width_mm / 2
        four = ((out, aside), (-out, aside), (-out, -aside), (out, -aside))
        return (Shape(x=x, y=y, corners=tuple(corner(*end) for end in four)),)
    body = Shape(x=x, y=y, radius=ware.width_mm / 2)
    if ware.shape != "handled":
        return (body,)
    out, aside = ware.width_mm / 2 + ware.handle_mm, ware.handle_width_mm / 2
    blunt = min(aside, ware.handle_mm / 2) * 0.6
    ends = (
        (0.0, aside), (out - blunt, aside), (out, aside - blunt),
        (out, blunt - aside), (out - blunt, -aside), (0.0, -aside),
    )  # fmt: skip
    return (Shape(x=x, y=y, corners=tuple(corner(*end) for end in ends)), body)


def _hatched(shapes: Sequence[Shape], turns: Sequence[float]) -> Iterable[Segment]:
    """The lines of a hatch within the body, which is the last shape."""
    body = shapes[-1]
    reach = body.radius or max(math.dist((body.x, body.y), corner) for corner in body.corners)
    steps = int(reach / _HATCH_STEP)
    for turn in turns:
        way = (math.cos(math.radians(turn)), math.sin(math.radians(turn)))
        for step in range(-steps, steps + 1):
            aside = step * _HATCH_STEP
            foot = (body.x - aside * way[1], body.y + aside * way[0])
            ends = _within(body, foot, way, aside)
            if ends is not None:
                yield (
                    round(foot[0] + ends[0] * way[0], 1),
                    round(foot[1] + ends[0] * way[1], 1),
                    round(foot[0] + ends[1] * way[0], 1),
                    round(foot[1] + ends[1] * way[1], 1),
                )


def _within(body: Shape, foot: Point, way: Point, aside: float) -> tuple[float, float] | None:
    """Where a line enters and leaves a circle or a convex outline."""
    if body.radius:
        half = math.sqrt(max(body.radius**2 - aside**2, 0.0))
        return (-half, half) if half else None
    crossed = []
    for a, b in zip(body.corners, [*body.corners[1:], body.corners[0]], strict=True):
        side = (b[0] - a[0], b[1] - a[1])
        cross = way[0] * side[1] - way[1] * side[0]
        if abs(cross) < 1e-9:
            continue
        to = (a[0] - foot[0], a[1] - foot[1])
        part = (to[0] * way[1] - to[1] * way[0]) / cross
        if 0 <= part <= 1:
            crossed.append((to[0] * side[1] - to[1] * side[0]) / cross)
    return (min(crossed), max(crossed)) if len(crossed) > 1 else None


def ranges(numbers: Iterable[int]) -> str:
    """'1-4, 7, 9-10': numbers as a person writes them."""
    found: list[list[int]] = []
    for number in sorted(numbers):
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in found)
