"""How fast a discharge goes, and whether it is one at all."""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Floats, Ints
from benchtui.watch.place.track import Track

from .cooling import Falling

LOOKED_AT_NS = 10_000_000_000
LEVEL_NS = 9_000_000_000
NOTHING, SUDDEN = 0.03, 4.0
"""A lead that fell off takes its point to less than this part in one reading, and so much quicker than before
(and than so many e-folds a second)."""
COLD_S, STOPS = 45.0, 0.4
"""By this age no valve conducts; then a point that falls with less than this part of the bleeder's rate tells
that there is no such bleeder."""


def fell_off(t_ns: Ints, x: Floats, level: float) -> bool:
    """Whether a point went to nothing in one reading, far quicker than it was falling: no discharge does."""
    size = np.abs(x)
    gone = np.flatnonzero((size[1:] < NOTHING * size[:-1]) & (size[:-1] > level))
    if not len(gone) or gone[0] < 1:
        return False
    i = int(gone[0])
    usual = np.log(max(size[i - 1], 1e-9) / size[i]) / max(t_ns[i] - t_ns[i - 1], 1)
    drop = -np.log(max(size[i + 1] / size[i], 1e-6)) / max(t_ns[i + 1] - t_ns[i], 1)
    return bool(drop > SUDDEN * max(usual, 0.0) + 1e-9 * SUDDEN)


def spacing_s(track: Track, asof_ns: int) -> float:
    """Between the newest readings, in the mean; 0 where there is but one."""
    t, _ = track.segment.history.between(asof_ns - LOOKED_AT_NS, asof_ns)
    return float(t[-1] - t[0]) * 1e-9 / (len(t) - 1) if len(t) > 1 else 0.0


def level_before(track: Track, at_ns: int) -> float:
    """The size of a point before an instant, in the median of some seconds; 0 where nobody read it."""
    t, x = track.segment.history.between(at_ns - LEVEL_NS, at_ns)
    if not len(t):
        found = track.segment.history.at(at_ns)
        return abs(found[1]) if found is not None else 0.0
    values = np.sort(np.abs(x))
    level: float = values[len(values) // 2].item()
    return level


def rate_at_last(falling: Falling) -> float:
    """How fast ln v falls, a second, once no valve conducts; endless before that can be told."""
    late = falling.t > max(COLD_S, 0.5 * falling.now_s)
    if late.sum() < 3 or float(np.ptp(falling.t[late])) < 0.3 * COLD_S:
        return float("inf")
    t, y = falling.t[late], np.log(falling.v[late])
    t = t - t.mean()
    return float(-(t @ y) / (t @ t))
