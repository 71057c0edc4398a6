"""Can all of these outlines stand on one shelf, and how many of one kind can?

Overlap is energy (``shelf_overlap``). A limited-memory quasi-Newton descent (Nocedal's two-loop
recursion) lets a crowded shelf settle; where it jams, the piece in the worst place hops into the
roomiest hole and the descent begins again. A descent that ends without overlap is a packing.

Deterministic by seed as long as the steps of the budget run out before its seconds do.

Sources: D. C. Liu and J. Nocedal, "On the limited memory BFGS method for large scale
optimization", Mathematical Programming 45, 1989; hops after W. Huang and T. Ye, "Quasi-physical
global optimization method for solving the equal circle packing problem", Science China 54, 2011
(both from memory).
"""

from __future__ import annotations

import math
import time
from collections import deque
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from studio.craft.shelf import Floats, Footprint, Region, area_bound
from studio.craft.shelf_overlap import Overlap, Push
from studio.craft.shelf_patterns import Pose, Way, pattern, set_down

_TOUCHING: Final = 1e-8
"""The energy, in squares of the mean radius, under which outlines only touch."""
_TINY: Final = 1e-12
_JAMMED_AFTER: Final = 12


class Budget:
    """Steps (energies reckoned) that may be spent, with a clock as the outer limit."""

    def __init__(
        self,
        *,
        steps: int,
        seconds: float,
        over: Budget | None = None,
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        self.steps, self._clock, self._over = steps, clock, over
        self.ends_at = clock() + seconds

    def spend(self, steps: int = 1) -> None:
        """Take steps from this budget and those it is a part of."""
        self.steps -= steps
        if self._over:
            self._over.spend(steps)

    def part(self, share: float) -> Budget:
        """A budget within this one: a share of what is left of it."""
        seconds = max(0.0, self.ends_at - self._clock()) * share
        steps = max(0, int(self.steps * share))
        return Budget(steps=steps, seconds=seconds, over=self, clock=self._clock)

    @property
    def is_late(self) -> bool:
        """Whether its seconds are over."""
        return self._clock() >= self.ends_at

    @property
    def is_spent(self) -> bool:
        """Whether nothing is left of it."""
        if self.steps <= 0 or self.is_late:
            return True
        return self._over is not None and self._over.is_spent


def settle(
    overlap: Overlap, state: Floats, *, enough: float, budget: Budget, most: int = 150
) -> tuple[Floats, Push]:
    """Let a state slide down until it does not overlap, jams, or the budget is spent."""
    now = overlap.push(state)
    budget.spend(overlap.cost)
    memory: deque[tuple[Floats, Floats, float]] = deque(maxlen=7)
    before = deque([now.energy], maxlen=6)
    for turn in range(1, most + 1):
        if now.energy <= enough:
            break
        way = _newton_way(now.slope, memory)
        fall = -float(now.slope.dot(way))
        if fall >= 0:
            memory.clear()
            way, fall = now.slope.copy(), -float(now.slope.dot(now.slope))
        for stride in (1.0, 0.4, 0.16, 0.064, 0.0256, 0.01):
            there = overlap.push(state - stride * way)
            budget.spend(overlap.cost)
            if there.energy <= now.energy + 1e-4 * stride * fall:
                break
        else:
            break
        moved, bent = -stride * way, there.slope - now.slope
        if (curve := float(moved.dot(bent))) > _TINY * float(bent.dot(bent)):
            memory.append((moved, bent, 1 / curve))
        state, now = state + moved, there
        is_stuck = turn >= 25 and turn % 5 == 0 and now.energy > 0.97 * before[0]
        before.append(now.energy)
        if is_stuck or (turn % 10 == 0 and budget.is_spent):
            break
    return state, now


def _newton_way(slope: Floats, memory: deque[tuple[Floats, Floats, float]]) -> Floats:
    way = slope.copy()
    weights = []
    for moved, bent, scale in reversed(memory):
        weights.append(scale * float(moved.dot(way)))
        way -= weights[-1] * bent
    if memory:
        moved, bent, _ = memory[-1]
        way *= float(moved.dot(bent)) / float(bent.dot(bent))
    else:
        way *= 0.5
    for (moved, bent, scale), weight in zip(memory, reversed(weights), strict=True):
        way += (weight - scale * float(bent.dot(way))) * moved
    return way


def fit(
    region: Region,
    shapes: Sequence[Footprint],
    *,
    starts: Sequence[Floats] = (),
    budget: Budget,
    seed: int = 0,
    hops: float = 0.85,
    held: Floats | None = None,
) -> Floats | None:
    """Poses (n, 3) at which all shapes stand, or None when none were found: no proof of anything.

    ``starts``: poses to begin at; ``hops`` the share of hops against fresh starts; ``held``: the
    poses of the first shapes, which do not move.
    """
    rng = np.random.default_rng(seed)
    fixed = np.zeros((0, 3)) if held is None else held
    overlap = Overlap(region, shapes, held=len(fixed))
    if len(fixed) == len(shapes):
        return fixed
    enough = _TOUCHING * float(overlap.bodies.mean()) ** 2
    best: tuple[Floats, Push] | None = None
    waiting, jams, is_first = list(starts), 0, True
    while is_first or not budget.is_spent:
        is_first = False
        if waiting:
            poses = waiting.pop(0)
        elif best and rng.random() < hops:
            poses = _hopped(overlap, best[0], rng)
        else:
            poses = _scattered(region, overlap, rng)
        poses = np.concatenate([fixed, poses[len(fixed) :]])
        state, push = settle(overlap, overlap.state(poses), enough=enough, budget=budget)
        if push.energy <= enough:
            return overlap.poses(state)
        jams += 1
        if best is None or push.energy < best[1].energy or jams > _JAMMED_AFTER:
            best, jams = (state, push), 0
    return None


def roomiest(
    region: Region, points: Floats, radii: Floats, rng: np.random.Generator, tries: int = 200
) -> Floats:
    """Of some points in a region the one with the most room among discs (n, 2), (n,)."""
    half = region.half_size
    picks = rng.uniform(-half, half, (tries, 2))
    space = region.slack(picks, 0.0)
    if len(points):
        away = np.hypot(picks[:, None, 0] - points[:, 0], picks[:, None, 1] - points[:, 1])
        space = np.minimum(space, (away - radii).min(axis=1))
    return np.asarray(picks[int(space.argmax())])


def most_of(
    region: Region, shape: Footprint, *, budget: Budget, seed: int = 0, hops: float = 0.85
) -> Floats:
    """The most pieces of one kind found to stand on an empty shelf: their poses (n, 3)."""
    poses = quick_most(region, shape, seeds=2)
    bound = area_bound(region, max(r for _, _, r in shape.discs)) if not shape.core else 10**6
    while len(poses) < bound and not budget.is_spent:
        count = len(poses) + 1
        start = with_one_more(region, [shape] * (count - 1), poses, shape, seed)
        found = fit(
            region, [shape] * count, starts=[start], budget=budget, seed=seed + count, hops=hops
        )
        if found is None:
            break
        poses = found
    return poses


def quick_most(region: Region, shape: Footprint, *, seeds: int = 1) -> Floats:
    """The most of one kind by patterns and by setting down: a quick, low count (n, 3)."""
    best = np.zeros((0, 3))
    if not shape.turns:
        centres = pattern(region, shape.radius)
        best = np.concatenate([centres, np.zeros((len(centres), 1))], axis=1)
    ways: tuple[Way, ...] = ("rim", "hole", "sweep")
    for way in ways:
        for seed in range(seeds):
            stood = _fill_with(region, shape, way, seed)
            if len(stood) > len(best):
                best = stood
    return best


def with_one_more(
    region: Region, shapes: Sequence[Footprint], poses: Floats, more: Footprint, seed: int
) -> Floats:
    """Poses to begin at: those known, and a roomy hole for one piece more."""
    rng = np.random.default_rng(seed)
    radii = np.array([max(r for _, _, r in shape.discs) for shape in shapes])
    x, y = roomiest(region, poses[:, :2], radii, rng)
    turn = rng.uniform(0, 2 * math.pi) if more.turns else 0.0
    return np.concatenate([poses, [[x, y, turn]]])


def _fill_with(region: Region, shape: Footprint, way: Way, seed: int) -> Floats:
    area, _ = region.area_and_rim(0.0)
    stood: list[Pose] = []
    most = int(area / shape.area) + 2
    for pose in set_down(region, [shape] * most, way, seed=seed):
        if pose is None:
            break
        stood.append(pose)
    return np.array(stood).reshape(-1, 3)


def _hopped(overlap: Overlap, state: Floats, rng: np.random.Generator) -> Floats:
    """One piece, most often the one in the worst place, moved into a hole; or two exchanged."""
    count, bodies, held = overlap.count, overlap.bodies, overlap.held
    poses, luck = overlap.poses(state), rng.random()
    worst = int(rng.integers(held, count))
    if luck < 0.5:
        shares = overlap.push(state, is_shared=True).shares
        assert shares is not None
        worst = int(shares[held:].argmax()) + held
    if luck > 0.8 and np.ptp(bodies) > 1e-6 * bodies.max():
        other = int(rng.integers(held, count))
        poses[[worst, other], :2] = poses[[other, worst], :2]
    else:
        rest = np.arange(count) != worst
        poses[worst, :2] = roomiest(overlap.region, poses[rest, :2], bodies[rest], rng)
        poses[worst, 2] = rng.uniform(0, 2 * math.pi)
    poses[:, :2] += rng.normal(0, 0.05 * bodies.mean(), (count, 2))
    return poses


def _scattered(region: Region, overlap: Overlap, rng: np.random.Generator) -> Floats:
    """Poses anywhere in the region."""
    half, count = region.half_size, overlap.count
    picks = rng.uniform(-half, half, (12 * count, 2))
    inside = picks[region.slack(picks, 0.9 * float(overlap.bodies.min())) >= 0]
    points = np.concatenate([inside, 0.3 * picks])[:count]
    return np.concatenate([points, rng.uniform(0, 2 * math.pi, (count, 1))], axis=1)
