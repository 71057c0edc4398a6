"""How deep do outlines on a shelf cut into one another, and which way would they move apart?

Overlap is energy: half the square of the depth to which two outlines, or an outline and the rim,
cut into one another. Its slope says where each piece is pushed and how it is turned.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from studio.craft.shelf import Floats, Footprint, Region

_TINY: Final = 1e-12


@dataclass(frozen=True, slots=True)
class Push:
    """An energy, its slope, and where it was asked for each piece's share of it."""

    energy: float
    slope: Floats
    shares: Floats | None = None


class Overlap:
    """The energy of pieces on a region. A state is (x..., y..., turn x lever...), flat.

    The first ``held`` pieces do not move, and what they cut into among themselves is let be.
    ``cost``: the steps of a budget that one reckoning counts for; many discs take longer.
    """

    def __init__(self, region: Region, shapes: Sequence[Footprint], *, held: int = 0) -> None:
        self.region = region
        self.held = held
        self.count = len(shapes)
        self.turning = any(shape.turns for shape in shapes)
        discs = [np.array(shape.discs) for shape in shapes]
        every = np.concatenate(discs)
        self._piece = np.repeat(np.arange(self.count), [len(d) for d in discs])
        self._x, self._y, self._r = every.T
        self.cost = 1 + len(every) ** 2 // 3000
        self.levers = np.array([shape.radius for shape in shapes])
        self.bodies = np.array([max(r for _, _, r in shape.discs) for shape in shapes])
        sums = self._r[:, None] + self._r[None, :]
        sums[self._piece[:, None] == self._piece[None, :]] = 0.0
        self._is_split = len(every) > self.count
        self._moves = self._piece >= held
        sums[~self._moves[:, None] & ~self._moves[None, :]] = 0.0
        self._sums2 = np.triu(sums, 1) ** 2
        self._oblong = np.array([k for k, shape in enumerate(shapes) if shape.core], dtype=int)
        self._cores = np.array([shape.core for shape in shapes if shape.core]).reshape(-1, 3)
        pairs = self._oblong[:, None] != self._piece[None, :]
        pairs &= (self._oblong >= held)[:, None] | self._moves[None, :]
        stones = np.repeat((self._oblong >= held)[:, None], len(region.stones), axis=1)
        self._minds = np.concatenate([pairs, stones], axis=1)

    def state(self, poses: Floats) -> Floats:
        """The flat state of poses (n, 3)."""
        x, y, turn = poses.T
        return np.concatenate([x, y, turn * self.levers] if self.turning else [x, y])

    def poses(self, state: Floats) -> Floats:
        """The poses (n, 3) of a flat state."""
        x, y = state[: self.count], state[self.count : 2 * self.count]
        turn = state[2 * self.count :] / self.levers if self.turning else np.zeros(self.count)
        return np.stack([x, y, turn], axis=1)

    def push(self, state: Floats, *, is_shared: bool = False) -> Push:
        """The energy of a state and its slope; ``is_shared``: and the pieces' shares."""
        n, discs, piece, r = self.count, len(self._r), self._piece, self._r
        x, y = state[:n], state[n : 2 * n]
        if self._is_split:
            x, y = x[piece], y[piece]
        if self.turning:
            turn = state[2 * n :] / self.levers
            c, s = np.cos(turn)[piece], np.sin(turn)[piece]
            off_x, off_y = c * self._x - s * self._y, s * self._x + c * self._y
            x, y = x + off_x, y + off_y
        dx, dy = x[:, None] - x, y[:, None] - y
        near2 = dx * dx
        near2 += dy * dy
        hits = np.flatnonzero(near2 < self._sums2)
        i, j = hits // discs, hits % discs
        away = np.sqrt(near2.ravel()[hits]) + _TINY
        deep = r[i] + r[j] - away
        force = deep / away
        fx, fy = force * dx.ravel()[hits], force * dy.ravel()[hits]
        gx = _sum_by(j, fx, discs) - _sum_by(i, fx, discs)
        gy = _sum_by(j, fy, discs) - _sum_by(i, fy, discs)
        own = self._rim_push(x, y, gx, gy)
        if self.held:
            own *= self._moves
        energy = float(deep.dot(deep)) / 2 + float(own.sum())
        more = self._oblong_push(state, x, y, gx, gy) if len(self._oblong) else None
        slope = [gx, gy]
        if self._is_split:
            slope = [_sum_by(piece, gx, n), _sum_by(piece, gy, n)]
        if self.turning:
            slope.append(_sum_by(piece, off_x * gy - off_y * gx, n) / self.levers)
        if more:
            energy += more.energy
            at = self._oblong
            for k in range(3):
                slope[k][at] += more.slope[k] / (self.levers[at] if k == 2 else 1.0)
        for part in slope if self.held else ():
            part[: self.held] = 0.0
        push = Push(energy, np.concatenate(slope))
        if is_shared:
            half = deep * deep / 2
            each = _sum_by(i, half, discs) + _sum_by(j, half, discs) + own
            shares = _sum_by(piece, each, n)
            if more and more.shares is not None:
                shares[self._oblong] += more.shares
            push = replace(push, shares=shares)
        return push

    def _rim_push(self, x: Floats, y: Floats, gx: Floats, gy: Floats) -> Floats:
        """Each disc's energy at rim and stones; adds its slope to ``gx`` and ``gy``."""
        region, r = self.region, self._r
        own = np.zeros(len(r))
        if len(region.normals):
            deep = x[:, None] * region.normals[:, 0] + y[:, None] * region.normals[:, 1]
            deep += r[:, None] - region.reach
            np.maximum(deep, 0, out=deep)
            gx += deep @ region.normals[:, 0]
            gy += deep @ region.normals[:, 1]
            own += np.einsum("ij,ij->i", deep, deep) / 2
        if math.isfinite(region.radius):
            out = np.sqrt(x * x + y * y) + _TINY
            over = np.maximum(out + r - region.radius, 0)
            gx += over / out * x
            gy += over / out * y
            own += over * over / 2
        if len(region.stones):
            ux, uy = x[:, None] - region.stones[:, 0], y[:, None] - region.stones[:, 1]
            away = np.sqrt(ux * ux + uy * uy) + _TINY
            into = np.maximum(region.stones[:, 2] + r[:, None] - away, 0)
            force = into / away
            gx -= np.einsum("ij,ij->i", force, ux)
            gy -= np.einsum("ij,ij->i", force, uy)
            own += np.einsum("ij,ij->i", into, into) / 2
        return own

    def _oblong_push(self, state: Floats, x: Floats, y: Floats, gx: Floats, gy: Floats) -> Push:
        """What discs and stones push on the oblongs; adds the discs' slope to ``gx``, ``gy``."""
        n, at = self.count, self._oblong
        stones = self.region.stones
        px, py = np.concatenate([x, stones[:, 0]]), np.concatenate([y, stones[:, 1]])
        r = np.concatenate([self._r, stones[:, 2]])
        turn = state[2 * n :][at] / self.levers[at]
        c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
        rel_x, rel_y = px - state[at][:, None], py - state[n + at][:, None]
        u, v = c * rel_x + s * rel_y, c * rel_y - s * rel_x
        qu = np.abs(u) - self._cores[:, 0, None]
        qv = np.abs(v) - self._cores[:, 1, None]
        within = (qu <= 0) & (qv <= 0)
        ou, ov = np.maximum(qu, 0), np.maximum(qv, 0)
        out = np.sqrt(ou * ou + ov * ov)
        deep = self._cores[:, 2, None] + r - np.where(within, np.maximum(qu, qv), out)
        np.maximum(deep, 0, out=deep)
        deep[~self._minds] = 0.0
        size = np.maximum(out, _TINY)
        nu = np.where(within, qu >= qv, ou / size) * np.sign(u)
        nv = np.where(within, qu < qv, ov / size) * np.sign(v)
        nx, ny = c * nu - s * nv, s * nu + c * nv
        gx -= (deep * nx).sum(axis=0)[: len(x)]
        gy -= (deep * ny).sum(axis=0)[: len(x)]
        half = (deep * deep).sum(axis=1) / 2
        turning = (deep * (rel_x * ny - rel_y * nx)).sum(axis=1)
        slope = np.stack([(deep * nx).sum(axis=1), (deep * ny).sum(axis=1), turning])
        return Push(float(half.sum()), slope, half)


def _sum_by(index: npt.NDArray[np.intp], weights: Floats, count: int) -> Floats:
    # Without hits it would count in integers.
    return np.asarray(np.bincount(index, weights, count), dtype=np.float64)
