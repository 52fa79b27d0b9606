"""Which of several fitted curves do the readings support: information criteria.

Sources: Akaike 1974 with the small-sample term of Hurvich and Tsai 1989 (Biometrika 76, 297), AICc; Schwarz
1978 (Ann. Stat. 6, 461), BIC; for least squares with an unknown sd. Both are free of units. Only
differences between fits of the same readings mean anything: the lowest is preferred, by less than 2 it is
hardly preferred (Burnham and Anderson 2002).
"""

from __future__ import annotations

from math import inf, log


def aicc(rss: float, count: float, parameters: int) -> float:
    """count ln(rss / count) + 2 K + 2 K (K + 1) / (count - K - 1), K counting the sd too; inf for too few
    readings.

    `count` may be an effective number where neighbouring readings are alike (then give rss as
    count * rss / readings).
    """
    k = parameters + 1
    if count - k - 1 <= 0.0:
        return inf
    return count * _log(rss / count) + 2.0 * k + 2.0 * k * (k + 1) / (count - k - 1)


def bic(rss: float, count: float, parameters: int) -> float:
    """count ln(rss / count) + K ln(count), K counting the sd too; inf for too few readings."""
    k = parameters + 1
    return count * _log(rss / count) + k * log(count) if count > k else inf


def _log(mean_square: float) -> float:
    return log(mean_square) if mean_square > 0.0 else -inf
