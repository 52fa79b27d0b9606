"""Exact answers about so many out of so many: intervals, comparisons of two, none in n.

Sources: Clopper and Pearson 1934 (Biometrika 26, 404); Fisher 1935; two-sided p-values by adding all
outcomes no more likely than the one seen, as statistics packages do. Trials must be independent and alike:
not for faults in one burst (count the burst once). Exact intervals are never too narrow, at the price of
being somewhat wide. Cost: under 1 ms for counts up to some thousands.
"""

from __future__ import annotations

from math import ceil, comb, exp, lgamma, log, log1p
from typing import Literal, TypeAlias

from .quantile import beta_quantile
from .special import beta_i

Side: TypeAlias = Literal["less", "greater", "two-sided"]


def binomial_interval(k: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Clopper-Pearson bounds of a probability, from k of n; each bound errs with at most half the risk."""
    _check(k, n)
    half = 0.5 * (1.0 - confidence)
    low = 0.0 if k == 0 else beta_quantile(half, k, n - k + 1.0)
    high = 1.0 if k == n else 1.0 - beta_quantile(half, n - k, k + 1.0)
    return low, high


def binomial_upper(k: int, n: int, confidence: float = 0.95) -> float:
    """The one-sided upper bound of a probability, from k of n; from none in n: 1 - (1 - confidence)**(1/n).

    About 3/n for none in n at 95 % (the "rule of three", Hanley and Lippman-Hand 1983).
    """
    _check(k, n)
    return 1.0 if k == n else 1.0 - beta_quantile(1.0 - confidence, n - k, k + 1.0)


def binomial_test(k: int, n: int, p: float, side: Side = "two-sided") -> float:
    """P-value of k of n where the probability is said to be p."""
    _check(k, n)
    if not 0.0 <= p <= 1.0:
        raise ValueError(f"a probability lies in 0..1, not {p!r}")
    if side == "greater":
        return 1.0 if k == 0 else beta_i(k, n - k + 1.0, p)
    if side == "less":
        return 1.0 if k == n else beta_i(n - k, k + 1.0, 1.0 - p)
    if p in (0.0, 1.0):
        return float(k == n * p)
    chances = [
        exp(lgamma(n + 1) - lgamma(i + 1) - lgamma(n - i + 1) + i * log(p) + (n - i) * log1p(-p))
        for i in range(n + 1)
    ]
    return min(1.0, sum(c for c in chances if c <= chances[k] * (1.0 + 1e-7)))


def fisher(table: tuple[tuple[int, int], tuple[int, int]], side: Side = "two-sided") -> float:
    """Fisher's exact p-value of a 2 x 2 table ((a, b), (c, d)), in whole numbers throughout.

    "greater": a is as great or greater than chance gives with these margins; rows are conditions, columns
    outcomes.
    """
    (a, b), (c, d) = table
    if min(a, b, c, d) < 0:
        raise ValueError(f"counts are not negative: {table!r}")
    first, second, column = a + b, c + d, a + c
    low, high = max(0, column - second), min(first, column)
    ways = [comb(first, low) * comb(second, column - low)]
    for x in range(low, high):
        ways.append(ways[-1] * (first - x) * (column - x) // ((x + 1) * (second - column + x + 1)))
    seen = ways[a - low]
    if side == "greater":
        chosen = sum(ways[a - low :])
    elif side == "less":
        chosen = sum(ways[: a - low + 1])
    else:
        chosen = sum(w for w in ways if w <= seen)
    return chosen / sum(ways)


def trials_needed(rate: float, confidence: float = 0.95) -> int:
    """Trials without one failure that are needed to tell that it fails in less than `rate` of them."""
    if not 0.0 < rate < 1.0:
        raise ValueError(f"a rate of failures between 0 and 1, not {rate!r}")
    return ceil(log(1.0 - confidence) / log1p(-rate) * (1.0 - 1e-12))


def clean_trials_needed(failed: int, trials: int, confidence: float = 0.95) -> int | None:
    """Trials without one failure after a repair, to tell (Fisher, one-sided, one look) that it fails less
    often.

    `failed` of `trials` failed before. None where no number is enough: a single failure, or none, before.
    """
    _check(failed, trials)
    risk = 1.0 - confidence

    def p(clean: int) -> float:
        return fisher(((failed, trials - failed), (0, clean)), "greater")

    if failed == 0:
        return None
    enough = 1
    while p(enough) > risk:
        enough *= 2
        if enough > 1 << 20:
            return None
    lower = enough // 2
    while enough - lower > 1:
        middle = (enough + lower) // 2
        lower, enough = (middle, enough) if p(middle) > risk else (lower, middle)
    return enough


def _check(k: int, n: int) -> None:
    if not 0 <= k <= n or n < 1:
        raise ValueError(f"k of n needs 0 <= k <= n, n > 0, not {k!r} of {n!r}")
