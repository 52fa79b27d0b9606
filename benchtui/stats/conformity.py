"""Inside, outside or undecided: decisions that allow for the meter's own uncertainty.

Sources: JCGM 106:2012 (conformance probability, clause 7; guard bands, clause 8); JCGM 100:2008, "GUM"
(combination 5.1, rectangular bounds 4.3.7, effective degrees of freedom G.4.1). Normal distributions
throughout, no prior knowledge of the true value: where a prior is known (a process with a narrow spread),
these are too cautious. All values and uncertainties in the unit of the reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Floats

from .quantile import normal_cdf, normal_quantile
from .root import solve

INSIDE, UNDECIDED, OUTSIDE = 1, 0, -1
"""Codes of a decision, as `Guard.decide_all` gives them."""
WORDS = {INSIDE: "inside", UNDECIDED: "undecided", OUTSIDE: "outside"}


def outside(
    value: float, u: float, low: float | None = None, high: float | None = None
) -> tuple[float, float]:
    """Probabilities that the true value lies below `low`, and above `high` (JCGM 106, 7.2-7.4).

    `u` is the standard uncertainty of `value`; 0 means that the value is exact. A limit itself is inside.
    """
    below = 0.0 if low is None else _tail(low - value, u)
    above = 0.0 if high is None else _tail(value - high, u)
    return below, above


def conformance(value: float, u: float, low: float | None = None, high: float | None = None) -> float:
    """Probability that the true value lies within the limits (JCGM 106, 7.2-7.4)."""
    below, above = outside(value, u, low, high)
    return max(0.0, 1.0 - below - above)


def _tail(excess: float, u: float) -> float:
    """P(true value is beyond a limit that the reading is beyond by `excess`)."""
    if u < 0.0:
        raise ValueError(f"a standard uncertainty is not negative: {u!r}")
    if u == 0.0:
        return 1.0 if excess > 0.0 else 0.0
    return normal_cdf(excess / u)


@dataclass(frozen=True, slots=True)
class Guard:
    """The regions of a decision for given limits, uncertainty and risk (JCGM 106, 8.3).

    Inside: accept_low <= value <= accept_high, where the true value is within the limits with probability
    of at least 1 - risk. Outside: value < reject_low or value > reject_high, where it is beyond that limit
    with probability of more than 1 - risk. Between them undecided.
    """

    reject_low: float
    accept_low: float
    """Greater than accept_high where the uncertainty is too great for any reading to be inside."""
    accept_high: float
    reject_high: float

    def decide(self, value: float) -> int:
        """INSIDE, UNDECIDED or OUTSIDE; UNDECIDED for a value that is not a number."""
        if self.accept_low <= value <= self.accept_high:
            return INSIDE
        return OUTSIDE if value < self.reject_low or value > self.reject_high else UNDECIDED

    def decide_all(self, values: Floats) -> NDArray[np.int8]:
        """`decide` of each value. Cost: about 1 ns a value."""
        beyond = (values < self.reject_low) | (values > self.reject_high)
        within = (values >= self.accept_low) & (values <= self.accept_high)
        return within.astype(np.int8) - beyond.astype(np.int8)


def guard(u: float, low: float | None = None, high: float | None = None, *, risk: float = 0.05) -> Guard:
    """Decision regions with guard bands of k*u, k the one-sided normal quantile of 1 - risk (JCGM 106,
    8.3.2).

    Where both limits matter at once (uncertainty not small against the tolerance) the accepted region is
    narrowed so that both tails together stay within the risk. `risk` is that of a wrong word for the worst
    true value, 0 < risk < 0.5. Raises ValueError for low > high. Cost: under 20 us; make it once for many
    values.
    """
    if not 0.0 < risk < 0.5:
        raise ValueError(f"a risk lies between 0 and 0.5: {risk!r}")
    if u < 0.0:
        raise ValueError(f"a standard uncertainty is not negative: {u!r}")
    bottom, top = -inf if low is None else low, inf if high is None else high
    if bottom > top:
        raise ValueError(f"the lower limit {bottom!r} lies above the upper limit {top!r}")
    band = -normal_quantile(risk) * u
    accept = _two_sided_band(u, top - bottom, risk) if u > 0.0 else 0.0
    return Guard(bottom - band, bottom + accept, top - accept, top + band)


def _two_sided_band(u: float, width: float, risk: float) -> float:
    """How far inside each limit a reading must lie; more than half the width where nothing is accepted."""
    band = -normal_quantile(risk) * u
    if width == inf:
        return band
    if 2.0 * normal_cdf(-0.5 * width / u) > risk:
        return max(band, 0.5 * width) + u
    if normal_cdf(-(width - band) / u) < 1e-17:
        return band

    def excess(g: float) -> float:
        return risk - normal_cdf(-g / u) - normal_cdf(-(width - g) / u)

    return solve(excess, min(band, 0.5 * width) * (1.0 - 1e-12), 0.5 * width) if excess(band) < 0.0 else band


def combine(components: Sequence[float]) -> float:
    """Root of the sum of squares of standard uncertainties of independent components (GUM 5.1.2)."""
    return hypot(*components)


def rectangular(bound: float) -> float:
    """Standard uncertainty of an error only known to lie within +-bound (GUM 4.3.7)."""
    return abs(bound) / sqrt(3.0)


def rounding(resolution: float) -> float:
    """Standard uncertainty of a reading rounded to `resolution` (GUM F.2.2.1)."""
    return abs(resolution) / sqrt(12.0)


def accuracy_bound(
    value: float,
    *,
    of_reading: float = 0.0,
    counts: float = 0.0,
    resolution: float = 0.0,
    of_full_scale: float = 0.0,
    full_scale: float = 0.0,
) -> float:
    """The greatest error that an accuracy statement allows: +-(part of reading + counts + part of full
    scale).

    Parts as fractions (0.8 % is 0.008). Common practice of data sheets; `rectangular` turns it into a
    standard uncertainty. Says nothing of a meter out of calibration, nor of loading.
    """
    return of_reading * abs(value) + counts * resolution + of_full_scale * full_scale


def effective_dof(parts: Sequence[tuple[float, float]]) -> float:
    """Welch-Satterthwaite: degrees of freedom of a combined uncertainty, from (u, dof) of each (GUM G.4.1).

    A part with infinite degrees of freedom counts in the sum only. Infinite where all are.
    """
    total = combine([u for u, _ in parts])
    spread = sum(u**4 / dof for u, dof in parts if dof != inf)
    return total**4 / spread if spread > 0.0 else inf
