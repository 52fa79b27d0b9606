"""The incomplete gamma and beta functions, in plain floats.

Source: NIST Digital Library of Mathematical Functions, https://dlmf.nist.gov: the series 8.7.1 and continued
fraction 8.9.2 for gamma, 8.17.22 for beta; continued fractions by Lentz's method (DLMF 3.10.32 ff.).
Relative error about 1e-13 for parameters up to 1e4 (checked against an outside library in the tests).
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, inf, lgamma, log, log1p

_TINY = 1e-300
_EPSILON = 1e-16


def _lentz(first: float, term: Callable[[int], tuple[float, float]], most: int) -> float:
    """first + a1/(b1 + a2/(b2 + ...)), with (a_n, b_n) = term(n)."""
    value = first if first != 0.0 else _TINY
    c, d = value, 0.0
    for n in range(1, most):
        a, b = term(n)
        d = b + a * d
        c = b + a / c
        d = 1.0 / (d if d != 0.0 else _TINY)
        c = c if c != 0.0 else _TINY
        step = c * d
        value *= step
        if abs(step - 1.0) < _EPSILON * 4:
            break
    return value


def gamma_p(a: float, x: float) -> float:
    """The regularised lower incomplete gamma function P(a, x), a > 0, x >= 0."""
    return _gamma(a, x)[0]


def gamma_q(a: float, x: float) -> float:
    """The regularised upper incomplete gamma function Q(a, x) = 1 - P(a, x), exact in the far tail."""
    return _gamma(a, x)[1]


def _gamma(a: float, x: float) -> tuple[float, float]:
    if a <= 0.0 or x < 0.0:
        raise ValueError(f"incomplete gamma needs a > 0 and x >= 0, not {a!r}, {x!r}")
    if x == 0.0:
        return 0.0, 1.0
    if x == inf:
        return 1.0, 0.0
    front = exp(a * log(x) - x - lgamma(a))
    most = 200 + int(20 * max(a, x) ** 0.5)
    if x < a + 1.0:
        term = total = 1.0 / a
        for n in range(1, most):
            term *= x / (a + n)
            total += term
            if term < total * _EPSILON:
                break
        p = min(1.0, front * total)
        return p, 1.0 - p
    q = front / _lentz(x + 1.0 - a, lambda n: (-n * (n - a), x + 2.0 * n + 1.0 - a), most)
    q = min(1.0, q)
    return 1.0 - q, q


def beta_i(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function I_x(a, b), a, b > 0, 0 <= x <= 1.

    Its complement is beta_i(b, a, 1 - x), exact in the far tail.
    """
    if a <= 0.0 or b <= 0.0 or not 0.0 <= x <= 1.0:
        raise ValueError(f"incomplete beta needs a, b > 0 and 0 <= x <= 1, not {a!r}, {b!r}, {x!r}")
    if x in (0.0, 1.0):
        return x
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - beta_i(b, a, 1.0 - x)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)) / a

    def term(n: int) -> tuple[float, float]:
        m = n // 2
        if n % 2:
            return -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)), 1.0
        return m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)), 1.0

    return min(1.0, front / _lentz(1.0, term, 200 + int(20 * max(a, b) ** 0.5)))
