"""Slow drift: a straight line, how sure its slope is, and a slope that wild readings do not bend.

Sources: least squares as in the NIST/SEMATECH e-Handbook 1.4.2.7; sds for residuals that are alike by the
effective number of readings, Santer and others 2000 (J. Geophys. Res. 105, 7337); Theil 1950 and Sen 1968
(J. Am. Stat. Assoc. 63, 1379) for the median of all slopes and its interval. A slope is told of a stretch
that is straight and free of steps: check the residuals first. Where readings are alike over longer than a
few (thermal wander), even the corrected sd is too small. Cost, measured: 20 us and 3 ns a reading (`line`),
n * n / 2 * 100 ns (`theil_sen`, up to 1,500 readings: thin out beyond).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from benchtui.model.readings import Floats

from .dependence import effective, lag1
from .quantile import normal_quantile, t_quantile, t_two_sided

MOST = 1500
"""Readings that `theil_sen` takes at most."""


@dataclass(frozen=True, slots=True)
class Line:
    """A least-squares straight line. Unit of the readings, per unit of the times."""

    slope: float
    sd: float
    """Of the slope, for independent residuals."""
    centre: float
    """The mean of the times."""
    level: float
    """The line at `centre`: the mean of the readings."""
    spread: float
    """Residual standard deviation."""
    count: int
    lag1: float
    """Lag-1 autocorrelation of the residuals, for evenly spaced readings."""
    effective: float
    """Independent readings that they are worth, 1 .. count."""
    corrected_sd: float
    """Of the slope, allowing for residuals that are alike; infinite where they are worth no more than 2."""

    @property
    def t(self) -> float:
        """Slope over its sd for independent residuals: overstated where they are alike."""
        return self.slope / self.sd if self.sd > 0.0 else inf if self.slope else 0.0

    @property
    def corrected_t(self) -> float:
        """Slope over its corrected sd: the one to judge by."""
        return self.slope / self.corrected_sd if self.corrected_sd > 0.0 else inf if self.slope else 0.0

    @property
    def p(self) -> float:
        """Two-sided p-value of no drift, allowing for residuals that are alike; 1 where it cannot be told."""
        if self.effective <= 2.0:
            return 1.0
        t = self.corrected_t
        return t_two_sided(t, self.effective - 2.0) if abs(t) < inf else 0.0

    def interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Bounds of the slope, allowing for residuals that are alike."""
        if self.effective <= 2.0:
            return -inf, inf
        half = t_quantile(0.5 + 0.5 * confidence, self.effective - 2.0) * self.corrected_sd
        return self.slope - half, self.slope + half

    def value(self, t: float) -> float:
        """The line at a time."""
        return self.level + self.slope * (t - self.centre)


def line(t: Floats, y: Floats, resolution: float = 0.0) -> Line:
    """The straight line through readings; residual sd floored at resolution / sqrt(12) for the slope's sds.

    At least 3 readings, not all at one time, else ValueError.
    """
    n = len(t)
    if n < 3:
        raise ValueError(f"a line and its sd need 3 readings, not {n}")
    centre, level = float(np.mean(t)), float(np.mean(y))
    x, away = t - centre, y - level
    x = x - np.mean(x)
    power = float(x @ x)
    if not power > 0.0:
        raise ValueError("the readings are all of one time")
    slope = float(x @ away) / power
    residual = away - slope * x
    residual = residual - np.mean(residual)
    rss = float(residual @ residual)
    r = lag1(residual)
    worth = effective(n, r)
    spread = sqrt(rss / (n - 2))
    least = n * resolution**2 / 12.0
    sd = sqrt(max(rss, least) / (n - 2) / power)
    corrected = sqrt(max(rss, least) / (worth - 2.0) / power) if worth > 2.0 else inf
    return Line(slope, sd, centre, level, spread, n, r, worth, corrected)


@dataclass(frozen=True, slots=True)
class RobustSlope:
    """Median of the slopes of all pairs of readings, with its interval."""

    slope: float
    low: float
    high: float
    level: float
    """Median of reading - slope * time: the line at time 0."""


def theil_sen(t: Floats, y: Floats, confidence: float = 0.95, likeness: float = 0.0) -> RobustSlope:
    """The Theil-Sen slope: right with up to 29 % wild readings, at any times.

    `likeness`, the lag-1 autocorrelation of the residuals, widens the interval as for fewer readings. Ties
    (a quantised, quiet meter) are allowed for as by Sen. Raises ValueError for fewer than 2 different times
    or more than MOST readings.
    """
    n = len(t)
    if n > MOST:
        raise ValueError(f"at most {MOST} readings: thin them out, {n} are too many")
    first, second = np.triu_indices(n, 1)
    run = t[second] - t[first]
    apart = run != 0.0
    slopes = np.sort((y[second] - y[first])[apart] / run[apart])
    if not len(slopes):
        raise ValueError("the readings are all of one time")
    slope = float(np.median(slopes))
    variance = (n * (n - 1.0) * (2.0 * n + 5.0) / 18.0 - _ties(y) - _ties(t)) * n / effective(n, likeness)
    wide = normal_quantile(0.5 + 0.5 * confidence) * sqrt(max(0.0, variance))
    below = round(0.5 * (len(slopes) - wide)) - 1
    above = round(0.5 * (len(slopes) + wide))
    low = float(slopes[below]) if below >= 0 else -inf
    high = float(slopes[above]) if above < len(slopes) else inf
    return RobustSlope(slope, low, high, float(np.median(y - slope * t)))


def _ties(values: Floats) -> float:
    """What equal values take from the variance of Kendall's score (Sen 1968, 2.6)."""
    ties = np.unique(values, return_counts=True)[1].astype(np.float64)
    return float(np.sum(ties * (ties - 1.0) * (2.0 * ties + 5.0))) / 18.0
