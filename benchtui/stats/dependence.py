"""Neighbouring readings that are alike, and how few independent ones they are worth.

Sources: first-order autoregression as the usual approximation; effective number n (1 - r) / (1 + r), as in
Santer and others 2000 (J. Geophys. Res. 105, 7337). For evenly spaced readings; right for a memory of a few
readings, too hopeful for one that fades more slowly than a first-order one. Cost: a few ns a reading.
"""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Floats


def lag1(values: Floats) -> float:
    """Lag-1 autocorrelation about the mean, as textbooks define it; 0 for fewer than 3 readings or equal
    ones.

    Too low by about (1 + 3 r) / n for short stretches: see `unbiased`.
    """
    if len(values) < 3:
        return 0.0
    away = values - np.mean(values)
    power = float(away @ away)
    return float(away[1:] @ away[:-1]) / power if power > 0.0 else 0.0


def unbiased(r: float, count: int, levels: int = 1) -> float:
    """A lag-1 autocorrelation freed of most of the bias that fitting means to short stretches leaves.

    Adds (1 + 3 r) / count for each mean (Kendall 1954, Biometrika 41, 403). Never beyond 1.
    """
    return min(1.0, r + levels * (1.0 + 3.0 * r) / count)


def effective(count: int, r: float) -> float:
    """Independent readings that `count` readings with lag-1 autocorrelation `r` are worth, 1 .. count.

    A negative r is taken as 0: alternating readings would promise more than there are.
    """
    r = min(max(r, 0.0), 1.0)
    return max(1.0, count * (1.0 - r) / (1.0 + r))
