"""Where on a shelf can the next piece stand if nothing is moved?

Two quick starts that the descent of ``shelf_packing`` improves upon: triangular patterns of equal
discs, turned and shifted over the shelf, and placing one piece after another where it touches
two others, the rim or a post.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from copy import copy, deepcopy
from functools import lru_cache
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from studio.craft.shelf import Floats, Footprint, Region

Way = Literal["rim", "hole", "sweep"]
"""Which free place is best: nearest the rim, tightest, or furthest to one side."""

Pose = tuple[float, float, float]
"""The middle of the circle round a piece, and its turn in radians."""

Yes = npt.NDArray[np.bool_]

_HAIR: Final = 1e-6
_ANGLES: Final = 6
_HANDLE_WAYS: Final = 6


def pattern(region: Region, radius: float, *, angles: int = 12, parts: int = 10) -> Floats:
    """The most centres (n, 2) of a triangular pattern of discs that lie in a region."""
    step = 2 * radius * (1 + 1e-9)
    half = region.half_size
    reach = int(1.2 * half / step) + 2
    i, j = (a.ravel() for a in np.mgrid[-reach : reach + 1, -reach - 1 : reach + 2])
    row = math.sqrt(3) / 2
    base = np.stack([i + j / 2, j * row], axis=1) * step
    base = base[np.hypot(base[:, 0], base[:, 1]) < 1.5 * half + 2 * step]
    shares = np.arange(parts) / parts
    shifts = np.array([(a + b / 2, b * row) for a in shares for b in shares] + [(0.5, row / 3)])
    best = np.zeros((0, 2))
    for angle in np.arange(angles) * math.pi / 3 / angles:
        c, s = math.cos(angle), math.sin(angle)
        points = (base[None] + shifts[:, None] * step) @ np.array([[c, s], [-s, c]])
        inside = region.slack(points, radius) >= -_HAIR
        most = int(inside.sum(axis=1).argmax())
        if inside[most].sum() > len(best):
            best = points[most][inside[most]]
    return best


class Stand:
    """A shelf on which pieces are set down one after another and never moved."""

    def __init__(self, region: Region, *, seed: int = 0) -> None:
        self.region = region
        self._rng = np.random.default_rng(seed)
        self._angle = float(self._rng.uniform(0, 2 * math.pi))
        self._middle = region.middle
        self._side = np.array([math.cos(self._angle), math.sin(self._angle)])
        self._discs = np.zeros((0, 3))
        self._oblongs = np.zeros((0, 6))  # x, y, turn, half length, half width, rounding
        self._free: dict[Footprint, tuple[Floats, int, int]] = {}
        self._full: set[Footprint] = set()

    def put(self, shape: Footprint, pose: Pose) -> None:
        """Set a piece down where it is known to fit."""
        x, y, turn = pose
        c, s = math.cos(turn), math.sin(turn)
        if shape.core:
            self._oblongs = np.concatenate([self._oblongs, [[x, y, turn, *shape.core]]])
        discs = [(x + c * a - s * b, y + s * a + c * b, r) for a, b, r in shape.discs]
        self._discs = np.concatenate([self._discs, discs])

    def fork(self) -> Stand:
        """The same shelf once more, to go on with apart from this one."""
        twin = copy(self)
        twin._rng = deepcopy(self._rng)
        twin._free, twin._full = dict(self._free), set(self._full)
        return twin

    def has_place(self, shape: Footprint) -> bool:
        """Whether a free place is known for a piece."""
        return shape not in self._full and len(self._poses(shape)) > 0

    def place(self, shape: Footprint, way: Way) -> Pose | None:
        """Set a piece down at the best free place that is known, or say None."""
        if shape in self._full:
            return None
        poses = self._poses(shape)
        if not len(poses):
            self._full.add(shape)
            return None
        pick = poses[int(self._key(poses, shape, way).argmin())]
        pose = (float(pick[0]), float(pick[1]), float(pick[2]))
        self.put(shape, pose)
        return pose

    def takes(self, shape: Footprint, poses: Floats) -> Yes:
        """Which poses (n, 3) of a shape lie on the shelf, clear of all that stands on it."""
        if shape.core:
            on_shelf = _on_shelf(self.region, shape, poses)
        else:
            points, radii = _discs_at(shape, poses)
            on_shelf = np.all(self.region.slack(points, radii) >= -_HAIR, axis=1)
        on_shelf[on_shelf] = self._is_free(shape, poses[on_shelf], 0, 0)
        return on_shelf

    def known(self, shape: Footprint) -> Floats:
        """Free poses (n, 3) of a shape that touch what stands there, and some more."""
        return self._poses(shape)

    def _poses(self, shape: Footprint) -> Floats:
        """The free poses (n, 3) known for a shape, brought up to what stands now."""
        known = self._free.get(shape)
        if known is None:
            poses, discs, oblongs = _first(self.region, shape, self._angle), 0, 0
        else:
            poses, discs, oblongs = known
        poses = poses[self._is_free(shape, poses, discs, oblongs)]
        if not shape.core and (discs < len(self._discs) or known is None):
            fresh = self._touching(shape, discs, oblongs)
            poses = np.concatenate([poses, fresh[self._is_free(shape, fresh, 0, 0)]])
        elif shape.core and oblongs < len(self._oblongs):
            fresh = self._beside(shape.core, oblongs)
            fresh = fresh[_on_shelf(self.region, shape, fresh)]
            poses = np.concatenate([poses, fresh[self._is_free(shape, fresh, 0, 0)]])
        self._free[shape] = (poses, len(self._discs), len(self._oblongs))
        return poses

    def _touching(self, shape: Footprint, discs: int, oblongs: int) -> Floats:
        """Where a body touches one of the newer discs or oblongs, and one thing more."""
        radius = shape.discs[0][2]
        new = self._discs[discs:]
        others = np.concatenate([self._discs, self.region.stones])
        points = [_at_rim(self.region, new, radius), _at_two(new, others, radius)]
        points += [_along(oblong, radius) for oblong in self._oblongs[oblongs:]]
        bodies = np.concatenate(points)
        bodies = bodies[self.region.slack(bodies, radius) >= -_HAIR]
        # The body first: most places are taken, whichever way a handle points.
        bodies = bodies[_are_clear(bodies[:, None], np.array([radius]), self._discs)]
        return _inside(self.region, shape, self._angle, bodies)

    def _beside(self, core: tuple[float, float, float], oblongs: int) -> Floats:
        """Poses of an oblong in line with the newer oblongs and touching them."""
        poses = []
        for x, y, turn, along, over, by in self._oblongs[oblongs:]:
            c, s = math.cos(turn), math.sin(turn)
            for quarter in (0, 1):
                mine = core[:2] if quarter == 0 else (core[1], core[0])
                right = (along + by + mine[0] + core[2]) * (1 + 1e-9)
                up = (over + by + mine[1] + core[2]) * (1 + 1e-9)
                for dx, dy in ((right, 0), (-right, 0), (0, up), (0, -up)):
                    poses.append(
                        (x + c * dx - s * dy, y + s * dx + c * dy, turn + quarter * math.pi / 2)
                    )
        return np.array(poses).reshape(-1, 3)

    def _is_free(self, shape: Footprint, poses: Floats, discs: int, oblongs: int) -> Yes:
        """Which poses keep clear of what was set down after the first so many."""
        free: Yes = np.ones(len(poses), dtype=bool)
        if not len(poses):
            return free
        points, radii = _discs_at(shape, poses)
        new = self._discs[discs:]
        if shape.core and len(new):
            away = _from_core(poses[:, None], shape.core, new[None, :, :2])
            free = np.all(away >= new[:, 2] - _HAIR, axis=1)
        elif len(new):
            free = _are_clear(points, radii, new)
        if oblongs < len(self._oblongs):
            solid = self._oblongs[oblongs:]
            away = _from_core(solid, tuple(solid[:, 3:].T), points[:, :, None])
            free = free & np.all(away >= radii[:, None] - _HAIR, axis=(1, 2))
        return free

    def _key(self, poses: Floats, shape: Footprint, way: Way) -> Floats:
        """What is least at the best pose."""
        points, radius = poses[:, :2], shape.radius
        if way == "rim":
            away = points - self._middle
            out = np.hypot(away[:, 0], away[:, 1])
            return -out + self._rng.normal(0, 0.02 * radius, len(points))
        if way == "sweep":
            return np.asarray(points @ self._side)
        gaps = [self.region.reach - points @ self.region.normals.T - radius]
        if math.isfinite(self.region.radius):
            out = np.hypot(points[:, 0], points[:, 1])
            gaps.append((self.region.radius - out - radius)[:, None])
        stand = np.concatenate([self._discs, self.region.stones])
        away = np.hypot(points[:, None, 0] - stand[:, 0], points[:, None, 1] - stand[:, 1])
        gaps.append(away - stand[:, 2] - radius)
        every = np.sort(np.concatenate(gaps, axis=1), axis=1)
        third = every[:, min(2, every.shape[1] - 1)]
        return np.asarray(third + 1e-3 * radius * self._rng.random(len(points)))


@lru_cache(maxsize=512)
def _first(region: Region, shape: Footprint, angle: float) -> Floats:
    """Poses on the empty shelf."""
    if shape.core:
        poses = _oblong_poses(region, shape)
        return poses[_on_shelf(region, shape, poses)]
    radius = shape.discs[0][2]
    points = [region.corners(radius), np.zeros((1, 2))]
    if math.isfinite(region.radius):
        angles = np.arange(12) * math.pi / 6
        ring = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        points.append(ring * max(region.radius - radius, 0.0))
    stones = region.stones
    points += [_at_rim(region, stones, radius), _at_two(stones, stones, radius)]
    half = region.half_size
    points.append(np.random.default_rng(0).uniform(-half, half, (32, 2)))
    return _inside(region, shape, angle, np.concatenate(points))


def _inside(region: Region, shape: Footprint, angle: float, bodies: Floats) -> Floats:
    """The poses that have their body at one of these points and lie on the shelf."""
    offset = shape.discs[0][0]
    if not shape.turns:
        return _posed(bodies)[region.slack(bodies, shape.radius) >= -_HAIR]
    poses = [
        np.concatenate(
            [
                bodies - [offset * math.cos(turn), offset * math.sin(turn)],
                np.full((len(bodies), 1), turn),
            ],
            axis=1,
        )
        for turn in angle + np.arange(_HANDLE_WAYS) * 2 * math.pi / _HANDLE_WAYS
    ]
    every = np.concatenate(poses)
    points, radii = _discs_at(shape, every)
    return every[np.all(region.slack(points, radii) >= -_HAIR, axis=1)]


def _on_shelf(region: Region, shape: Footprint, poses: Floats) -> Yes:
    """Which poses of an oblong lie within the rim and clear of the stones."""
    assert shape.core
    points, radii = _discs_at(shape, poses)
    bare = Region(region.normals, region.reach, region.radius, np.zeros((0, 3)))
    fine: Yes = np.all(bare.slack(points, radii) >= -_HAIR, axis=1)
    stones = region.stones
    away = _from_core(poses[:, None], shape.core, stones[None, :, :2])
    fine &= np.all(away >= stones[:, 2] - _HAIR, axis=1)
    return fine


def set_down(
    region: Region, shapes: Sequence[Footprint], way: Way, *, seed: int = 0
) -> list[Pose | None]:
    """One shape after another on an empty shelf; None for each that found no place."""
    stand = Stand(region, seed=seed)
    return [stand.place(shape, way) for shape in shapes]


def _posed(points: Floats) -> Floats:
    return np.concatenate([points, np.zeros((len(points), 1))], axis=1)


def _discs_at(shape: Footprint, poses: Floats) -> tuple[Floats, Floats]:
    """The discs of a shape at each pose: points (n, k, 2) and radii (k,)."""
    discs = np.array(shape.discs)
    c, s = np.cos(poses[:, 2, None]), np.sin(poses[:, 2, None])
    x = poses[:, 0, None] + c * discs[:, 0] - s * discs[:, 1]
    y = poses[:, 1, None] + s * discs[:, 0] + c * discs[:, 1]
    return np.stack([x, y], axis=2), discs[:, 2]


def _are_clear(points: Floats, radii: Floats, discs: Floats) -> Yes:
    """Which of n sets of discs (n, k, 2), (k,) cut into none of ``discs`` (m, 3)."""
    dx, dy = points[..., 0, None] - discs[:, 0], points[..., 1, None] - discs[:, 1]
    apart = radii[:, None] + discs[:, 2] - _HAIR
    clear: Yes = np.all(dx * dx + dy * dy >= apart * apart, axis=(1, 2))
    return clear


def _from_core(
    poses: Floats, core: tuple[float, ...] | tuple[Floats, ...], points: Floats
) -> Floats:
    """How far ``points`` lie outside the rounded rectangle at each pose; < 0 within."""
    dx, dy = points[..., 0] - poses[..., 0], points[..., 1] - poses[..., 1]
    c, s = np.cos(poses[..., 2]), np.sin(poses[..., 2])
    along = np.abs(c * dx + s * dy) - core[0]
    over = np.abs(c * dy - s * dx) - core[1]
    outside = np.hypot(np.maximum(along, 0), np.maximum(over, 0))
    return np.asarray(outside + np.minimum(np.maximum(along, over), 0) - core[2])


def _at_two(first: Floats, second: Floats, radius: float) -> Floats:
    """The centres of discs that touch one of the first and one of the second discs."""
    if not len(first) or not len(second):
        return np.zeros((0, 2))
    ways = second[None, :, :2] - first[:, None, :2]
    length = np.hypot(ways[..., 0], ways[..., 1])
    near, far = first[:, 2, None] + radius, second[None, :, 2] + radius
    i, j = np.nonzero((length > 1e-9) & (length < near + far) & (length > np.abs(near - far)))
    length, near, far = length[i, j], near[i, 0], far[0, j]
    along = ways[i, j] / length[:, None]
    to_foot = (near**2 - far**2 + length**2) / (2 * length)
    height = np.sqrt(np.maximum(near**2 - to_foot**2, 0))[:, None]
    foot = first[i, :2] + along * to_foot[:, None]
    aside = np.stack([-along[:, 1], along[:, 0]], axis=1) * height
    return np.concatenate([foot + aside, foot - aside])


def _at_rim(region: Region, discs: Floats, radius: float) -> Floats:
    """The centres of discs that touch one of ``discs`` and the region's rim."""
    points = [np.zeros((0, 2))]
    if len(region.normals) and len(discs):
        to_side = region.reach - radius - discs[:, :2] @ region.normals.T
        apart = discs[:, 2] + radius
        i, j = np.nonzero(np.abs(to_side) < apart[:, None])
        normal = region.normals[j]
        foot = discs[i, :2] + normal * to_side[i, j][:, None]
        height = np.sqrt(np.maximum(apart[i] ** 2 - to_side[i, j] ** 2, 0))
        aside = np.stack([-normal[:, 1], normal[:, 0]], axis=1) * height[:, None]
        points += [foot + aside, foot - aside]
    if math.isfinite(region.radius) and region.radius > radius:
        points.append(_at_two(discs, np.array([[0.0, 0.0, region.radius - 2 * radius]]), radius))
    return np.concatenate(points)


def _along(oblong: Floats, radius: float) -> Floats:
    """Centres of discs that touch an oblong, a little apart all round it."""
    x, y, turn, along, over, by = oblong
    off = (by + radius) * (1 + 1e-9)
    points = []
    for up in (1, -1):
        for t in np.linspace(-along, along, max(2, math.ceil(2 * along / radius) + 1)):
            points.append((t, up * (over + off)))
        for t in np.linspace(-over, over, max(2, math.ceil(2 * over / radius) + 1)):
            points.append((up * (along + off), t))
    for angle in np.arange(16) * math.pi / 8 + math.pi / 16:
        c, s = math.cos(angle), math.sin(angle)
        points.append((math.copysign(along, c) + off * c, math.copysign(over, s) + off * s))
    c, s = math.cos(turn), math.sin(turn)
    local = np.array(points)
    return np.stack(
        [x + c * local[:, 0] - s * local[:, 1], y + s * local[:, 0] + c * local[:, 1]], axis=1
    )


def _oblong_poses(region: Region, shape: Footprint) -> Floats:
    """Poses of an oblong over a shelf: at the rim and on a grid, in some turns."""
    assert shape.core
    along, over, by = shape.core
    step = max((over + by) / 2, region.half_size / 25)
    half = region.half_size
    ticks = np.arange(-half, half + step, step)
    grid = np.stack([a.ravel() for a in np.meshgrid(ticks, ticks)], axis=1)
    poses = []
    for turn in np.arange(_ANGLES) * math.pi / _ANGLES:
        c, s = math.cos(turn), math.sin(turn)
        ways = region.normals
        across = along * np.abs(ways @ [c, s]) + over * np.abs(ways @ [-s, c]) + by
        room = Region(ways, region.reach - across, region.radius - shape.radius, np.zeros((0, 3)))
        corners = room.corners(0.0)
        rim = [corners]
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            pieces = math.ceil(math.dist(start, end) / step)
            rim += [start + (end - start) * k / pieces for k in range(1, pieces)]
        points = np.concatenate([np.reshape(p, (-1, 2)) for p in (*rim, grid)])
        poses.append(np.concatenate([points, np.full((len(points), 1), turn)], axis=1))
    return np.concatenate(poses)
