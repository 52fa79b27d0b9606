"""Quantiles of a mixture of normal distributions, and its likeliest value."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats

NEGLIGIBLE = 1e-5
"""Parts of the whole that are left out."""
GROUPS = 200
"""So many normal distributions stand for all."""
PLACES = 65
"""So many values are looked at for the likeliest."""


def normal_cdf(z: Floats) -> Floats:
    """P(Z <= z), element by element; error below 1.5e-7 (Abramowitz and Stegun 7.1.26)."""
    x = np.abs(z) * 0.5**0.5
    t = 1.0 / (1.0 + 0.3275911 * x)
    series = ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t
    tail = 0.5 * series * np.exp(-x * x)
    result: Floats = np.where(z > 0, 1.0 - tail, tail)
    return result


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """A mixture of normal distributions, neighbours put together."""

    weight: Floats
    mean: Floats
    sd: Floats

    @staticmethod
    def of(weight: Floats, mean: Floats, sd: Floats) -> Mixture:
        """Of all these; weights need not add up to one."""
        keep = np.flatnonzero(weight > NEGLIGIBLE * float(weight.max()))
        order = keep[np.argsort(mean[keep], kind="stable")]
        w = weight[order] / weight[order].sum()
        group = np.minimum(np.cumsum(w) * GROUPS, GROUPS - 1).astype(np.int64)
        starts = np.flatnonzero(np.diff(group, prepend=-1))
        m, v = w * mean[order], w * (sd[order] ** 2 + mean[order] ** 2)
        w, m, v = (np.add.reduceat(a, starts) for a in (w, m, v))
        m, v = m / w, v / w
        return Mixture(w, m, np.sqrt(np.maximum(v - m * m, 1e-18)))

    def quantiles(self, parts: tuple[float, ...]) -> list[float]:
        """The values below which these parts of the mixture lie, by bisection."""
        reach = 6.0 * self.sd
        a = np.full(len(parts), float((self.mean - reach).min()))
        b = np.full(len(parts), float((self.mean + reach).max()))
        wanted = np.array(parts)
        for _ in range(22):
            middle = 0.5 * (a + b)
            below = normal_cdf((middle[:, None] - self.mean) / self.sd) @ self.weight
            a, b = np.where(below < wanted, middle, a), np.where(below < wanted, b, middle)
        found: list[float] = (0.5 * (a + b)).tolist()
        return found

    def likeliest(self, low: float, high: float, within: float) -> float:
        """The value between two others that has most of the mixture about itself; so near counts most.

        Where one of two things is likely and the other is not, it is the one, which a median, drawn towards
        the other, is not. No narrower than `within`, so that chance does not choose.
        """
        at, spread = np.linspace(low, high, PLACES), np.sqrt(self.sd**2 + within * within)
        share = self.weight / spread
        for _ in range(3):
            about = np.exp(-0.5 * ((at[:, None] - self.mean) / spread) ** 2) @ share
            best, step = float(at[np.argmax(about)]), float(at[1] - at[0])
            at = np.clip(np.linspace(best - step, best + step, 9), low, high)
        return best


def kept_below(mean: Floats, sd: Floats, bound: float) -> tuple[Floats, Floats, Floats]:
    """Normal distributions of which nothing is above a bound: what part is left, and its mean and deviation.

    Moments of the truncated normal distribution, in closed form (any textbook of statistics).
    """
    a = np.clip((bound - mean) / sd, -5.0, 8.0)
    left = np.maximum(normal_cdf(a), 1e-7)
    ratio = np.exp(-0.5 * a * a) / ((2.0 * np.pi) ** 0.5 * left)
    variance = np.clip(1.0 - ratio * (a + ratio), 0.02, 1.0)
    return left, mean - sd * ratio, sd * np.sqrt(variance)


def of_points(weight: Floats, value: Floats, parts: tuple[float, ...]) -> list[float]:
    """The same of single values with weights, between which it goes straight."""
    order = np.argsort(value, kind="stable")
    v, w = value[order], weight[order] / weight.sum()
    middle = np.cumsum(w) - 0.5 * w
    found: list[float] = np.interp(parts, middle, v).tolist()
    return found
