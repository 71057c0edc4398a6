"""What room does a shelf have seen from above, and what outline does a piece need on it?

All gaps are dealt with once, here: a footprint is its piece grown by the air it keeps, and a
region is its shelf grown by the air of an ordinary piece. After that "no two overlap, all lie
inside" is the only rule. A piece that keeps more air than an ordinary one also keeps that much
more from the shelf's edge.

Outlines are unions of discs; an oblong is a rectangle with rounded corners and is measured as
one. A handle is covered by discs that hold the whole strap, so that it is never drawn too small.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from studio.craft.kiln_load import KilnRoom, Level, LoadRules, Part, Ware

Floats = npt.NDArray[np.float64]

_ROUND_SIDES: Final = 256
"""A circle's rim is reckoned as the polygon of this many sides that stands round it."""
_POST_FROM_EDGE_MM: Final = 2.0


@dataclass(frozen=True, eq=False, slots=True)
class Region:
    """A convex region: ``normals`` (m, 2) and ``reach`` (m,) of its straight sides, and the
    ``radius`` of a round one (inf elsewhere); ``stones`` (k, 3) stand in it: x, y, radius."""

    normals: Floats
    reach: Floats
    radius: float
    stones: Floats

    @classmethod
    def regular(cls, *, sides: int, across: float) -> Region:
        """A regular shape, ``across`` its flats; the first flat faces along x."""
        angles = 2 * math.pi * np.arange(sides) / sides
        normals = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        return cls(normals, np.full(sides, across / 2), math.inf, np.zeros((0, 3)))

    @classmethod
    def box(cls, *, width: float, depth: float) -> Region:
        """A rectangle round the middle."""
        normals = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
        reach = np.array([width, width, depth, depth]) / 2
        return cls(normals, reach, math.inf, np.zeros((0, 3)))

    @classmethod
    def round(cls, *, radius: float) -> Region:
        """A disc round the middle."""
        return cls(np.zeros((0, 2)), np.zeros(0), radius, np.zeros((0, 3)))

    def cut(self, *, normal: tuple[float, float], reach: float) -> Region:
        """What of it lies on one side of a line."""
        return replace(
            self,
            normals=np.concatenate([self.normals, [normal]]),
            reach=np.concatenate([self.reach, [reach]]),
        )

    def grown(self, by: float) -> Region:
        """The region with its rim moved out; stones stay."""
        return replace(self, reach=self.reach + by, radius=self.radius + by)

    def with_stones(self, stones: list[tuple[float, float, float]]) -> Region:
        """The region with discs that nothing may stand on."""
        return replace(self, stones=np.concatenate([self.stones, np.array(stones).reshape(-1, 3)]))

    @property
    def half_size(self) -> float:
        """Half the side of a square round it."""
        if math.isfinite(self.radius):
            return self.radius
        corners = self.corners(0.0)
        return float(np.abs(corners).max()) if len(corners) else 0.0

    @property
    def middle(self) -> Floats:
        """About the middle of it: of a half not that of the kiln."""
        if self.reach.min(initial=math.inf) > self.half_size / 4:
            return np.zeros(2)
        return np.asarray(self.corners(0.0).mean(axis=0))

    def slack(self, points: Floats, radius: float | Floats) -> Floats:
        """The least room (..., ) of discs at ``points`` (..., 2) to rim and stones; < 0: over."""
        least = np.full(points.shape[:-1], np.inf)
        if len(self.normals):
            least = (self.reach - points @ self.normals.T).min(axis=-1) - radius
        if math.isfinite(self.radius):
            out = np.hypot(points[..., 0], points[..., 1])
            least = np.minimum(least, self.radius - out - radius)
        for x, y, wide in self.stones:
            away = np.hypot(points[..., 0] - x, points[..., 1] - y)
            least = np.minimum(least, away - wide - radius)
        return least

    def corners(self, inset: float) -> Floats:
        """The corners (c, 2) of the region drawn in by ``inset``; none when nothing is left."""
        if math.isfinite(self.radius):
            if self.radius <= inset:
                return np.zeros((0, 2))
            angles = 2 * math.pi * (np.arange(_ROUND_SIDES) + 0.5) / _ROUND_SIDES
            out = (self.radius - inset) / math.cos(math.pi / _ROUND_SIDES)
            shape = out * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        else:
            far = 4 * float(self.reach.max(initial=1.0)) + 1
            shape = np.array([[-far, -far], [far, -far], [far, far], [-far, far]])
        for normal, side in zip(self.normals, self.reach - inset, strict=True):
            shape = _clipped(shape, normal, float(side))
            if len(shape) < 3:
                return np.zeros((0, 2))
        return shape

    def area_and_rim(self, inset: float) -> tuple[float, float]:
        """Area and rim of the region drawn in, stones ignored; never less than the truth."""
        corners = self.corners(inset)
        if len(corners) < 3:
            return 0.0, 0.0
        ahead = np.roll(corners, -1, axis=0)
        cross = corners[:, 0] * ahead[:, 1] - ahead[:, 0] * corners[:, 1]
        return abs(float(cross.sum())) / 2, float(np.hypot(*(ahead - corners).T).sum())


def area_bound(region: Region, radius: float) -> int:
    """No packing stands more discs of ``radius`` in a convex region than this.

    Of points that are d apart or more in a convex region of area A and rim P there are at most
    2 A / (sqrt 3 d²) + P / (2 d) + 1. Source: H. Groemer, "Über die Einlagerung von Kreisen in
    einen konvexen Bereich", Mathematische Zeitschrift 73, 1960; N. Oler, "An inequality in the
    geometry of numbers", Acta Mathematica 105, 1961 (from memory).
    """
    area, rim = region.area_and_rim(radius)
    if area <= 0:
        return int(float(region.slack(np.zeros(2), radius)) >= -1e-9)
    apart = 2 * radius
    return math.floor(2 / math.sqrt(3) * area / apart**2 + rim / (2 * apart) + 1 + 1e-9)


@dataclass(frozen=True, slots=True)
class Footprint:
    """An outline with its air, about the middle of the circle round it, turned by 0.

    ``discs`` (x, y, radius) lie within the outline and, save for an oblong, are the whole of it.
    ``core`` of an oblong: half its length and half its width less the corners, and the corners'
    radius with the air. ``shift``: from the middle to the body's middle, along -x.
    """

    discs: tuple[tuple[float, float, float], ...]
    radius: float
    core: tuple[float, float, float] | None = None
    shift: float = 0.0

    @property
    def turns(self) -> bool:
        """Whether a turn changes it."""
        return len(self.discs) > 1

    @property
    def area(self) -> float:
        """Its area, a little less for a handle's strap."""
        if self.core:
            along, over, round_by = self.core
            return 4 * along * over + 4 * (along + over) * round_by + math.pi * round_by**2
        x, _, body = self.discs[0]
        strap = self.discs[1:]
        stands_out = max((a + r for a, _, r in strap), default=x + body) - (x + body)
        return math.pi * body**2 + 2 * stands_out * (strap[0][2] if strap else 0.0)


def disc(radius: float) -> Footprint:
    """A round footprint."""
    return Footprint(discs=((0.0, 0.0, radius),), radius=radius)


def oblong(*, length: float, width: float, corner: float, air: float) -> Footprint:
    """A rectangle with rounded corners, its length along x."""
    along, over = length / 2 - corner, width / 2 - corner
    round_by = corner + air
    discs = [(sx * along, sy * over, round_by) for sx in (1, -1) for sy in (1, -1)]
    # Discs along the middle keep two crossing oblongs and a pot within one from being overlooked.
    spine = max(length - width, 0.0) / 2
    steps = max(1, math.ceil(2 * spine / max(width / 2, 1.0)))
    wide = width / 2 + air
    middle = [(-spine + 2 * spine * k / steps, 0.0, wide) for k in range(steps + 1)]
    return Footprint(
        discs=tuple(middle + discs),
        radius=math.hypot(along, over) + round_by,
        core=(along, over, round_by),
    )


def handled(*, body: float, stands_out: float, strap: float, air: float) -> Footprint:
    """A round body of diameter ``body`` and a strap with a round end along +x."""
    middle = -stands_out / 2
    half = strap / 2
    tip = (body + stands_out) / 2
    edge = middle + body / 2
    # Discs a step apart that hold the whole strap between them are wider than it by a little.
    step = 0.8 * half
    wide = math.hypot(half, step / 2)
    first, last = tip - wide, edge - half
    count = max(1, math.ceil((first - last) / step)) if first > last else 0
    at = [first - step * k for k in range(count + 1)]
    strap_discs = [(x, 0.0, wide + air) for x in at if x > middle]
    return Footprint(
        discs=((middle, 0.0, body / 2 + air), *strap_discs),
        radius=tip + air,
        shift=stands_out / 2,
    )


@lru_cache(maxsize=1024)
def footprint(ware: Ware, rules: LoadRules) -> Footprint:
    """The outline that a kind of piece needs under these rules."""
    air = rules.air_mm(ware)
    tile = float(rules.tile_over_mm) if rules.on_tile(ware) else 0.0
    if ware.shape == "oblong":
        return oblong(
            length=ware.length_mm + 2 * tile,
            width=ware.width_mm + 2 * tile,
            corner=ware.corner_mm + tile,
            air=air,
        )
    if ware.shape == "handled" and (rules.handles == "interlock"):
        return handled(
            body=ware.width_mm + 2 * tile,
            stands_out=max(ware.handle_mm - tile, 1.0),
            strap=ware.handle_width_mm,
            air=air,
        )
    return replace(disc(ware.across_mm / 2 + tile + air), shift=ware.handle_mm / 2)


@lru_cache(maxsize=256)
def shelf_region(room: KilnRoom, part: Part, gap_mm: float) -> Region:
    """Where outlines may lie on a part of a kiln, grown by the air of an ordinary piece."""
    edge = room.edge_mm
    if room.sides == 0:
        region = Region.round(radius=room.width_mm / 2 - edge)
    elif room.sides == 4:
        region = Region.box(width=room.width_mm - 2 * edge, depth=room.depth_mm - 2 * edge)
    else:
        region = Region.regular(sides=room.sides, across=room.width_mm - 2 * edge)
    if part != "whole":
        side = 1.0 if part == "left" else -1.0
        region = region.cut(normal=(side, 0.0), reach=-max(room.seam_mm, gap_mm) / 2)
    return region.grown(gap_mm / 2)


@lru_cache(maxsize=256)
def post_places(room: KilnRoom, part: Part, turned: int = 0) -> tuple[tuple[float, float], ...]:
    """Where the three posts of a shelf stand: at its rim, so that its middle lies between them.

    ``turned`` 0 or 1: one post at the back or one at the front of a whole shelf. A half has two at
    the ends of its seam and one at the wall, or one at the seam and two at the wall.
    """
    inset = room.post_across_mm / 2 + _POST_FROM_EDGE_MM
    region = shelf_region(room, part, 0.0)
    flip = -1.0 if turned else 1.0
    if part == "whole":
        if room.sides == 4:
            x, y = (mm / 2 - room.edge_mm - inset for mm in (room.width_mm, room.depth_mm))
            return tuple(_rounded(p) for p in ((0.0, flip * y), (-x, -flip * y), (x, -flip * y)))
        angles = [math.radians(a) for a in (90, 210, 330)]
        ways = [(math.cos(a), flip * math.sin(a)) for a in angles]
        return tuple(_rounded(_to_rim(region, (0.0, 0.0), way, inset)) for way in ways)
    side = -1.0 if part == "left" else 1.0
    seam = (side * (max(room.seam_mm / 2, 0.0) + inset), 0.0)
    middle = (side * room.width_mm / 4, 0.0)
    if turned:
        ways = [(side * 0.4, 1.0), (side * 0.4, -1.0)]
        outer = [_to_rim(region, middle, way, inset) for way in ways]
        return tuple(_rounded(p) for p in (seam, *outer))
    ends = [_to_rim(region, seam, (0.0, up), inset) for up in (1.0, -1.0)]
    return tuple(_rounded(p) for p in (_to_rim(region, middle, (side, 0.0), inset), *ends))


def level_region(room: KilnRoom, level: Level, gap_mm: float) -> Region:
    """The region of a level: its shelf less its posts and the thermocouple where it reaches in."""
    return _region_less(room, level.part, gap_mm, level.posts, probe_reaches(room, level))


@lru_cache(maxsize=256)
def _region_less(
    room: KilnRoom,
    part: Part,
    gap_mm: float,
    posts: tuple[tuple[float, float], ...],
    has_probe: bool,
) -> Region:
    stones = [(x, y, room.post_across_mm / 2 + gap_mm / 2) for x, y in posts]
    if room.probe and has_probe:
        probe = room.probe
        stones.append((float(probe.x_mm), float(probe.y_mm), probe.clear_mm - gap_mm / 2))
    return shelf_region(room, part, gap_mm).with_stones(stones)


def probe_reaches(room: KilnRoom, level: Level) -> bool:
    """Whether the thermocouple wants its air free on this level."""
    probe = room.probe
    if probe is None:
        return False
    low, high = level.base_mm, level.base_mm + level.clear_mm
    return low - probe.clear_mm <= probe.height_mm <= high + probe.clear_mm


def _clipped(shape: Floats, normal: Floats, reach: float) -> Floats:
    over = shape @ normal - reach
    ahead, over_ahead = np.roll(shape, -1, axis=0), np.roll(over, -1)
    kept: list[Floats] = []
    for point, after, here, there in zip(shape, ahead, over, over_ahead, strict=True):
        if here <= 0:
            kept.append(point)
        if (here < 0) != (there < 0) and here != there:
            kept.append(point + (after - point) * (here / (here - there)))
    return np.array(kept).reshape(-1, 2)


def _to_rim(
    region: Region, start: tuple[float, float], way: tuple[float, float], inset: float
) -> tuple[float, float]:
    """From ``start`` along ``way`` until a disc of radius ``inset`` meets the rim."""
    length = math.hypot(*way)
    ux, uy = way[0] / length, way[1] / length
    far = math.inf
    for (nx, ny), reach in zip(region.normals, region.reach, strict=True):
        towards = nx * ux + ny * uy
        if towards > 1e-9:
            far = min(far, (reach - inset - nx * start[0] - ny * start[1]) / towards)
    if math.isfinite(region.radius):
        along = start[0] * ux + start[1] * uy
        rest = (region.radius - inset) ** 2 - start[0] ** 2 - start[1] ** 2 + along**2
        far = min(far, -along + math.sqrt(max(rest, 0.0)))
    return start[0] + far * ux, start[1] + far * uy


def _rounded(point: tuple[float, float]) -> tuple[float, float]:
    return round(point[0], 1), round(point[1], 1)
