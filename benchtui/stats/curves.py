"""An approach to a level in one exponential or several: evaluated, fitted, continued.

level + sum of amplitude * exp(-(t - origin) / tau), or the same without a level. Least squares
(least_squares.py) from starts on a grid of time constants; linear parts of the starts solved exactly
("variable projection", Golub and Pereyra 1973). Answers follow a change of units or of zero exactly. Not
for readings with steps or dropouts in them; not for the start of a warm-up, where nothing is exponential
yet. Cost, measured: 5-15 ms a fit of 20-200 readings, 15-30 ms one of 2,000 (thin out longer stretches).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import exp, inf, log, sqrt
from typing import Any

import numpy as np

from benchtui.model.readings import Floats

from .dependence import effective, lag1
from .least_squares import Fit, fit
from .quantile import t_quantile, t_two_sided
from .root import solve

_GRID = 28
_STARTS = 3
_MOST = 60


def asymptote(t: Floats, final: float, start: float, log_rate: float) -> Floats:
    """final + (start - final) * exp(-exp(log_rate) * t): the form that statistics packages fit."""
    course: Floats = final + (start - final) * np.exp(-exp(log_rate) * np.asarray(t, dtype=np.float64))
    return course


@dataclass(frozen=True, slots=True)
class Term:
    """One exponential part; sds already widened for neighbouring readings that are alike."""

    amplitude: float
    """At the origin, in the unit of the readings."""
    amplitude_sd: float
    tau: float
    """Time constant, in the unit of the times."""
    log_tau_sd: float
    """Standard deviation of ln(tau): 0.1 is about 10 %."""
    p: float
    """Two-sided p-value of the amplitude being 0."""


@dataclass(frozen=True, slots=True, eq=False)
class Approach:
    """A fitted approach to a level."""

    origin: float
    level: float
    """0 where none was fitted."""
    level_sd: float
    """Widened for neighbouring readings that are alike; infinite where they do not determine it."""
    terms: tuple[Term, ...]
    """Quickest first."""
    fit: Fit
    """In units of its own: level, amplitude, ln(rate) and so on, times as parts of the span."""
    rss: float
    """In the unit of the readings squared."""
    count: float
    """Effective number of independent readings."""
    spread: float
    """Residual standard deviation, in the unit of the readings."""
    _span: float

    @property
    def dof(self) -> float:
        """Effective degrees of freedom, at least 1."""
        return max(1.0, self.count - len(self.fit.parameters))

    @property
    def determined(self) -> bool:
        """Converged, and every time constant known within a factor of e (95 %): else it promises nothing."""
        return self.fit.converged and all(1.96 * term.log_tau_sd < 1.0 for term in self.terms)

    def value(self, t: float) -> float:
        """The curve at a time."""
        return self.level + sum(m.amplitude * exp(-(t - self.origin) / m.tau) for m in self.terms)

    def value_sd(self, t: float) -> float:
        """Standard deviation of the curve (not of a reading) at a time, to first order."""
        if not np.isfinite(self.fit.shape).all():
            return inf
        u = (t - self.origin) / self._span
        slopes = [1.0] if len(self.fit.parameters) % 2 else []
        for place in range(len(slopes), len(self.fit.parameters), 2):
            amplitude, rate = self.fit.parameters[place], exp(self.fit.parameters[place + 1])
            slopes += [exp(-rate * u), -amplitude * rate * u * exp(-rate * u)]
        shape = float(np.array(slopes) @ self.fit.shape @ np.array(slopes))
        return sqrt(max(0.0, shape) * self.rss / self.dof)

    def level_interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Bounds of the level (t interval on the effective degrees of freedom)."""
        half = t_quantile(0.5 + 0.5 * confidence, self.dof) * self.level_sd
        return self.level - half, self.level + half

    def settles(self, band: float) -> float:
        """The time after which the curve stays within +-band of its level; the origin if it always does."""

        def away(u: float) -> float:
            return abs(sum(m.amplitude * exp(-u / m.tau) for m in self.terms)) - band

        total = sum(abs(m.amplitude) for m in self.terms)
        if total <= band:
            return self.origin
        latest = max(m.tau for m in self.terms) * log(total / band)
        grid = np.linspace(0.0, latest, 513)
        outside = [u for u in grid.tolist() if away(u) > 0.0]
        last = outside[-1] if outside else 0.0
        after = min(latest, last + latest / 512.0)
        if away(last) <= 0.0 or away(after) > 0.0:
            return self.origin + (after if outside else 0.0)
        return self.origin + solve(away, last, after)


def fit_approach(
    t: Floats,
    y: Floats,
    terms: int,
    *,
    level: bool = True,
    origin: float | None = None,
    resolution: float = 0.0,
) -> Approach:
    """The least-squares curve with this many exponential terms (0, 1, 2 or 3) and, if wished, a level.

    Times rising, any unit; `origin`, where amplitudes are meant, is the first time unless given. The residual
    sd is floored at resolution / sqrt(12). Raises ValueError for fewer readings than parameters + 1, or all
    at one time.
    """
    t, y = np.asarray(t, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if len(t) < 2 * terms + level + 1 or terms + level < 1:
        raise ValueError(f"{terms} terms need more than {2 * terms + level} readings, not {len(t)}")
    zero = float(t[0]) if origin is None else origin
    span = float(t[-1] - t[0])
    if not span > 0.0:
        raise ValueError("the readings are all of one time")
    middle = float(np.median(y)) if level else 0.0
    scale = float(np.max(np.abs(y - middle))) or 1.0
    u, v = (t - zero) / span, (y - middle) / scale
    best = _best(u, v, terms, level)
    return _approach(best, zero, span, middle, scale, terms, level, resolution)


def _best(u: Floats, v: Floats, terms: int, level: bool) -> Fit:
    """The best of the fits from several starts."""

    def model(x: Any, b: Any) -> Any:
        total = b[0] * np.ones_like(x) if level else np.zeros_like(x)
        for place in range(int(level), len(b), 2):
            total = total + b[place] * np.exp(-np.exp(b[place + 1]) * x)
        return total

    fits = [fit(model, u, v, start, most=_MOST, patient=False) for start in _starts(u, v, terms, level)]
    done = [f for f in fits if f.converged] or fits
    return min(done, key=lambda f: f.rss)


def _starts(u: Floats, v: Floats, terms: int, level: bool) -> list[Floats]:
    """The best combinations of time constants on a grid, their linear parts solved."""
    step = float(np.min(np.diff(u)[np.diff(u) > 0.0], initial=1.0))
    log_rates = np.linspace(log(0.03), log(3.0 / step), _GRID)
    shapes = np.exp(-np.exp(log_rates)[None, :] * (u - u[0])[:, None])
    columns = np.column_stack((np.ones(len(u)), shapes)) if level else shapes
    gram, target = columns.T @ columns, columns.T @ v
    picks = list(combinations(range(_GRID), terms))
    rows = np.array([[0] * level + [place + level for place in pick] for pick in picks])
    systems = gram[rows[:, :, None], rows[:, None, :]]
    systems = systems + 1e-9 * np.eye(rows.shape[1]) * len(u)
    linear = np.linalg.solve(systems, target[rows][:, :, None])[:, :, 0]
    loss = -np.einsum("ij,ij->i", linear, 2.0 * target[rows] - np.einsum("ijk,ik->ij", systems, linear))
    starts: list[Floats] = []
    taken: list[tuple[int, ...]] = []
    for place in np.argsort(loss, kind="stable"):
        pick = picks[place]
        if any(max(abs(a - b) for a, b in zip(pick, other, strict=True)) < 3 for other in taken if pick):
            continue
        taken.append(pick)
        start = list(linear[place][: int(level)])
        for rate, amplitude in zip(log_rates[list(pick)], linear[place][int(level) :], strict=True):
            start += [amplitude * exp(min(50.0, exp(rate) * float(u[0]))), rate]
        starts.append(np.array(start))
        if len(starts) == _STARTS:
            break
    return starts


def _approach(
    best: Fit,
    zero: float,
    span: float,
    middle: float,
    scale: float,
    terms: int,
    level: bool,
    resolution: float,
) -> Approach:
    """The fit in the units of the readings, its sds widened for readings that are alike."""
    n, p = len(best.residuals), len(best.parameters)
    count = effective(n, lag1(best.residuals))
    dof = max(1.0, count - p)
    rss = max(best.rss, n * (resolution / scale) ** 2 / 12.0, n * 1e-30)
    sds = [sqrt(x * rss / dof) for x in np.diag(best.shape).tolist()]
    parts = []
    for place in range(int(level), p, 2):
        amplitude, log_rate = best.parameters[place : place + 2].tolist()
        sd, rate_sd = sds[place : place + 2]
        chance = t_two_sided(amplitude / sd, dof) if sd < inf else 1.0
        parts.append(Term(amplitude * scale, sd * scale, span * exp(-log_rate), rate_sd, chance))
    parts.sort(key=lambda part: part.tau)
    base = middle + scale * float(best.parameters[0]) if level else 0.0
    spread = sqrt(rss / max(1, n - p)) * scale
    return Approach(
        zero, base, scale * sds[0] if level else 0.0, tuple(parts), best, rss * scale**2, count, spread, span
    )
