"""Probabilities and quantiles of the normal, gamma, chi-square, beta and Student distributions.

Scalars, from `math.erfc` and the incomplete gamma and beta functions (special.py); quantiles by solving.
Relative error: 6e-12 at worst of 2,000 random cases against an outside library. Cost, measured: 0.1 us
`normal_cdf`, 1 us `normal_quantile`, 60-250 us the others' quantiles: not for hot loops.
"""

from __future__ import annotations

from collections.abc import Callable
from math import erfc, exp, inf, log, pi, sqrt
from typing import TypeAlias

from .root import bracket_up, solve
from .special import beta_i, gamma_p, gamma_q

Call: TypeAlias = Callable[[float], float]

MAD_TO_SD = 1.482602218505602
"""1 / normal_quantile(0.75): the sd of normal data over its median absolute deviation."""


def normal_cdf(z: float) -> float:
    """P(Z <= z) of a standard normal; exact to the last digits in both tails."""
    return 0.5 * erfc(-z / sqrt(2.0))


def normal_quantile(p: float) -> float:
    """The z with P(Z <= z) = p; -inf and inf for 0 and 1.

    Abramowitz and Stegun 26.2.23 as a start, three Halley steps on `erfc`. For p near 1 use
    -normal_quantile(1 - p) with the small number known exactly.
    """
    if not 0.0 <= p <= 1.0:
        raise ValueError(f"a probability lies in 0..1, not {p!r}")
    if p in (0.0, 1.0):
        return inf if p else -inf
    tail = min(p, 1.0 - p)
    t = sqrt(-2.0 * log(tail))
    z = t - (2.515517 + 0.802853 * t + 0.010328 * t * t) / (
        1.0 + 1.432788 * t + 0.189269 * t * t + 0.001308 * t**3
    )
    for _ in range(3):
        density = exp(-0.5 * z * z) / sqrt(2.0 * pi)
        if density == 0.0:
            break
        u = (0.5 * erfc(z / sqrt(2.0)) - tail) / density
        z += u / (1.0 - 0.5 * u * z)
    return z if p > 0.5 else -z


def gamma_cdf(x: float, shape: float) -> float:
    """P(X <= x) of a gamma distribution with the given shape and scale 1."""
    return gamma_p(shape, max(0.0, x))


def gamma_quantile(p: float, shape: float) -> float:
    """The x with P(X <= x) = p of a gamma distribution with the given shape and scale 1."""
    if not 0.0 <= p <= 1.0:
        raise ValueError(f"a probability lies in 0..1, not {p!r}")
    if p in (0.0, 1.0):
        return inf if p else 0.0
    return _positive(lambda x: gamma_p(shape, x) - p, lambda x: (1.0 - p) - gamma_q(shape, x), p, shape)


def gamma_upper_quantile(q: float, shape: float) -> float:
    """The x with P(X > x) = q, for small q without the loss of 1 - q."""
    if not 0.0 <= q <= 1.0:
        raise ValueError(f"a probability lies in 0..1, not {q!r}")
    if q in (0.0, 1.0):
        return 0.0 if q else inf
    return _positive(lambda x: gamma_p(shape, x) - (1.0 - q), lambda x: q - gamma_q(shape, x), 1.0 - q, shape)


def chi2_cdf(x: float, dof: float) -> float:
    """P(X <= x) of chi-square with `dof` degrees of freedom."""
    return gamma_cdf(0.5 * x, 0.5 * dof)


def chi2_quantile(p: float, dof: float) -> float:
    """The x with P(X <= x) = p of chi-square with `dof` degrees of freedom."""
    return 2.0 * gamma_quantile(p, 0.5 * dof)


def beta_cdf(x: float, a: float, b: float) -> float:
    """P(X <= x) of a beta distribution."""
    return beta_i(a, b, min(1.0, max(0.0, x)))


def beta_quantile(p: float, a: float, b: float) -> float:
    """The x with P(X <= x) = p of a beta distribution."""
    if not 0.0 <= p <= 1.0:
        raise ValueError(f"a probability lies in 0..1, not {p!r}")
    if p in (0.0, 1.0):
        return p
    if beta_i(a, b, 0.5) < p:
        return 1.0 - _unit(lambda y: _lack(1.0 - p, p, b, a, y))
    return _unit(lambda x: _lack(p, 1.0 - p, a, b, x))


def _lack(p: float, rest: float, a: float, b: float, x: float) -> float:
    """p - P(X <= x), from whichever tail is known better."""
    return p - beta_i(a, b, x) if p <= 0.5 else beta_i(b, a, 1.0 - x) - rest


def t_cdf(t: float, dof: float) -> float:
    """P(T <= t) of Student's t."""
    tail = 0.5 * beta_i(0.5 * dof, 0.5, dof / (dof + t * t))
    return tail if t < 0.0 else 1.0 - tail


def t_two_sided(t: float, dof: float) -> float:
    """P(|T| >= |t|): the p-value of a two-sided t test."""
    return beta_i(0.5 * dof, 0.5, dof / (dof + t * t))


def t_quantile(p: float, dof: float) -> float:
    """The t with P(T <= t) = p of Student's t."""
    if not 0.0 <= p <= 1.0:
        raise ValueError(f"a probability lies in 0..1, not {p!r}")
    if p in (0.0, 1.0):
        return inf if p else -inf
    if p == 0.5:
        return 0.0
    tail = min(p, 1.0 - p)

    def excess(t: float) -> float:
        if tail < 0.25:
            return 2.0 * tail - t_two_sided(t, dof)
        return beta_i(0.5, 0.5 * dof, t * t / (dof + t * t)) - (1.0 - 2.0 * tail)

    t = solve(excess, 0.0, bracket_up(excess, 1.0))
    return t if p > 0.5 else -t


def _positive(low_form: Call, high_form: Call, p: float, shape: float) -> float:
    """A zero on x > 0 of an increasing function given in two forms: exact in the lower, in the upper tail."""
    form = low_form if p < 0.5 else high_form
    high = bracket_up(form, max(shape, 1e-3))
    low = high
    while form(low) > 0.0:
        low *= 0.25
        if low < 1e-300:
            return 0.0
    return solve(form, low, high)


def _unit(form: Call) -> float:
    """A zero on 0 < x <= 1/2 (or a little beyond) of a decreasing function, small x to full relative
    accuracy.
    """
    low = high = 0.75
    while form(low) < 0.0:
        high = low
        low *= 0.25
        if low < 1e-300:
            return 0.0
    return solve(form, low, high) if low < high else high
