"""How load valves come to conduct: a delay, then a rise of its own length, foot and shoulder, in two groups.

g(t) = 1 - (1 - u^a)^b with u = (t - t0) / T held between 0 and 1: nothing before t0, all after t0 + T; `a`
shapes the foot, `b` the shoulder (the cumulative distribution of Kumaraswamy 1980). It stands for heaters
that warm, cathodes whose emission grows with the temperature and valves that then carry what the circuit
lets them: from "sharp at the end" (b near 1) to "slow at the end". Large valves wake after small ones: a
part p of the load follows g, the rest the same with all of its start later by a factor l:
c(t) = p g(t) + (1 - p) g(t - (l - 1) t0). A shape is (ln t0, ln T, ln a, ln b, logit p, ln (l - 1)).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from benchtui.model.readings import Floats, Ints

DIMENSIONS = 6
SPREAD_OVER = 25.0
"""Weights are spread over at least so many shapes, in effect."""

ROWS = 40
"""Of a course: between two of them it goes straight."""
EVEN = 0.6
"""Part of what was drawn that must count, in effect."""


@dataclass(frozen=True, slots=True, eq=False)
class Bell:
    """A normal distribution over shapes."""

    mean: Floats
    root: Floats
    """Lower triangular; the covariance is root @ root.T."""

    @staticmethod
    def apart(mean: tuple[float, ...], sd: tuple[float, ...]) -> Bell:
        """With independent coordinates."""
        return Bell(np.array(mean, dtype=np.float64), np.diag(np.array(sd, dtype=np.float64)))

    @staticmethod
    def like(points: Floats, weight: Floats, wider: float, least: Floats) -> Bell:
        """With the mean and covariance of weighted points, made wider."""
        w = weight / weight.sum()
        mean = w @ points
        off = points - mean
        covariance = wider * wider * (off.T * w) @ off + np.diag(least * least)
        return Bell(mean, np.linalg.cholesky(covariance))

    def wider(self, sd: tuple[float, ...]) -> Bell:
        """With this much added to each coordinate, independently."""
        covariance = self.root @ self.root.T + np.diag(np.array(sd, dtype=np.float64) ** 2)
        root: Floats = np.linalg.cholesky(covariance).astype(np.float64)
        return Bell(self.mean, root)

    def draw(self, many: int, skip: int = 0) -> Floats:
        """So many points, spread evenly: always the same ones."""
        points: Floats = self.mean + even_normals(skip + many)[skip:] @ self.root.T
        return points

    def log_density(self, points: Floats) -> Floats:
        """Up to the constant that all such distributions share."""
        z = np.linalg.solve(self.root, (points - self.mean).T)
        density: Floats = -0.5 * (z * z).sum(axis=0) - float(np.log(np.diag(self.root)).sum())
        return density


def flatness(share: Floats) -> float:
    """The power, at most 1, at which weights (given as logarithms) are spread over enough shapes.

    Few shapes with all the weight would be chance: the best of those that were tried, none of them right.
    """
    share = share - share.max()
    flat = 1.0
    for _ in range(40):
        weight = np.exp(flat * share)
        if weight.sum() ** 2 >= SPREAD_OVER * (weight @ weight):
            break
        flat *= 0.8
    return flat


def is_even(weight: Floats) -> bool:
    """Whether weights are so even that what was drawn stands for what is sought."""
    return float(weight.sum()) ** 2 > EVEN * len(weight) * float(weight @ weight)


def conduction(shape: Floats, t: Floats) -> Floats:
    """c at each time (a column each, or a row of its own for each shape) for each shape (a row each)."""
    start, length, a, b = (np.exp(shape[:, k, None]) for k in range(4))
    first = _share(shape)[:, None]
    lag = start * np.exp(shape[:, 5, None])
    u = (t - start) / length
    both = np.clip(np.stack((u, u - lag / length)), 0.0, 1.0)
    left = (1.0 - both**a) ** b
    c: Floats = 1.0 - first * left[0] - (1.0 - first) * left[1]
    return c


def reaches(shape: Floats, left: Floats) -> Floats:
    """When only so little (a part of the whole, 0 to 1) is left, for each shape; up to a second early."""
    start, length, a, b = (np.exp(shape[:, k]) for k in range(4))
    first = _share(shape)
    lag = start * np.exp(shape[:, 5])

    def when(r: Floats) -> Floats:
        solved: Floats = start + length * (1.0 - np.clip(r, 0.0, 1.0) ** (1.0 / b)) ** (1.0 / a)
        return solved

    late: Floats = np.where(left < 1.0 - first, lag + when(left / (1.0 - first)), start)
    return np.maximum(when(left), late)


class Courses:
    """When each of some shapes has how little left to go: to a tenth of a second, asked often."""

    def __init__(self, shape: Floats) -> None:
        start, lag = np.exp(shape[:, 0, None]), np.exp(shape[:, 0, None] + shape[:, 5, None])
        self._t = start + (np.exp(shape[:, 1, None]) + lag) * np.linspace(0.0, 1.0, ROWS)
        self._left = 1.0 - conduction(shape, self._t)

    def reaches(self, row: Ints, left: Floats) -> Floats:
        """For the shapes of these rows: when only so little of the whole (0 to 1) is left."""
        more = (self._left[row] > left[:, None]).sum(axis=1)
        to = np.clip(more, 1, ROWS - 1)
        above, below = self._left[row, to - 1], self._left[row, to]
        part = np.clip((above - left) / np.maximum(above - below, 1e-12), 0.0, 1.0)
        t: Floats = self._t[row, to - 1] + part * (self._t[row, to] - self._t[row, to - 1])
        return t


def _share(shape: Floats) -> Floats:
    share: Floats = 1.0 / (1.0 + np.exp(-shape[:, 4]))
    return share


@lru_cache(maxsize=8)
def even_normals(many: int) -> Floats:
    """Normal numbers in six columns that fill space evenly (Halton 1960, bases 2 to 13)."""
    inverse = NormalDist().inv_cdf
    rows = [[inverse(_halton(i, base)) for base in (2, 3, 5, 7, 11, 13)] for i in range(1, many + 1)]
    return np.array(rows)


def _halton(i: int, base: int) -> float:
    value, part = 0.0, 1.0
    while i:
        part /= base
        value += part * (i % base)
        i //= base
    return value
