"""The noise of a meter's readings on a course that moves."""

from __future__ import annotations

import numpy as np

from benchtui.watch.place.track import Track

LOOKED_AT = 48
"""Readings that the noise is taken from."""
SPREAD_OF_THIRD = 0.6745 * 20.0**0.5
"""Median size of the third difference of independent readings of unit deviation."""


def noise_of(track: Track, asof_ns: int) -> float:
    """Standard deviation of a reading from third differences, which a smooth course does not touch.

    0 while there are fewer than eight readings.
    """
    values = track.segment.history.values(asof_ns, LOOKED_AT)
    if len(values) < 8:
        return 0.0
    third = np.abs(np.diff(np.array(values), 3))
    middle: float = np.sort(third)[len(third) // 2].item()
    return middle / SPREAD_OF_THIRD
