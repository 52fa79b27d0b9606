"""What anyone would say of where a point settles: the chart, the last reading, general curve fits.

Fits are least squares of y = S + B1 exp(-t / T1) (+ B2 exp(-t / T2)) over a grid of time constants, the
linear parts solved exactly, S kept to what a set can have; their 95 % bounds are those that independent
residuals give, the grid's other fits counted in as far as they explain the readings as well (profile
likelihood).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from benchtui.model.readings import Floats

from .asking import Told

Guess = tuple[float, float | None, float | None]
"""Value and 95 % bounds; None where the method gives none."""
TAUS_S = np.geomspace(1.0, 60.0, 16)
MOST = 200
"""So many readings are fitted, spread evenly over the run."""
HIGHEST = 2.0
"""Nothing settles higher than this many times what has been read."""
BOUND = 3.84
"""A fit is as good as the best where -2 ln of the likelihood is up by less: chi-squared, one degree, 95 %."""


def chart(told: Told) -> Guess | None:
    """The chart's nominal value scaled by the mains, where it is measured."""
    return None if told.nominal is None else (told.nominal * (told.mains or 1.0), None, None)


def last(told: Told) -> Guess | None:
    """The last reading."""
    return (float(told.x[-1]), None, None) if len(told.x) else None


def one(told: Told) -> Guess | None:
    """One exponential, from the highest reading on where the course has turned there."""
    t, x = told.t, told.x
    top = int(np.argmax(np.abs(x))) if len(x) else 0
    if len(x) - top >= 6:
        t, x = t[top:], x[top:]
    return _fitted(t, x, [(tau,) for tau in TAUS_S.tolist()])


def two(told: Told) -> Guess | None:
    """Two exponentials over all of the run."""
    return _fitted(told.t, told.x, list(combinations(TAUS_S.tolist(), 2)))


def _fitted(t: Floats, x: Floats, taus: Sequence[tuple[float, ...]]) -> Guess | None:
    free = 2 * len(taus[0]) + 1
    if len(x) < free + 2:
        return None
    few = np.unique(np.linspace(0, len(x) - 1, MOST).round().astype(int))
    t, x = t[few] - t[0], x[few]
    found = []
    for row in taus:
        columns = np.stack((np.ones(len(t)), *(np.exp(-t / tau) for tau in row)), axis=1)
        solved, *_ = np.linalg.lstsq(columns, x, rcond=None)
        if not 0.0 <= float(solved[0]) * np.sign(x[-1]) <= HIGHEST * float(np.abs(x).max()):
            continue
        off = x - columns @ solved
        found.append((float(off @ off), float(solved[0]), columns))
    if not found:
        return None
    least, value, _ = min(found, key=lambda f: f[0])
    variance = max(least / (len(t) - free), 1e-12)
    low = high = value
    for squares, settled, columns in found:
        spare = BOUND - (squares - least) / variance
        if spare > 0:
            sd = (variance * float(np.linalg.pinv(columns.T @ columns)[0, 0])) ** 0.5
            low, high = min(low, settled - spare**0.5 * sd), max(high, settled + spare**0.5 * sd)
    return value, low, high


METHODS = {"chart x mains": chart, "last reading": last, "one exponential": one, "two exponentials": two}
