"""The eye on how finely a meter is read: a needle to its divisions, however many digits are written."""

from __future__ import annotations

import math

import numpy as np

from benchtui.model.readings import Floats

MOST = 1e9
"""No meter has so many counts."""
CHANGES = 6
"""After so many changes by whole divisions, and by nothing less, these are what it is read to."""


class Divisions:
    """Of one segment: by how many counts of the last digit the readings differ at least."""

    def __init__(self) -> None:
        self._counts = 0
        """The greatest number of counts of which all changes have been multiples; 0 before any."""
        self._changes = 0
        self._last = 0.0
        self._step = 0.0

    def coarser(self, x: Floats, resolution: Floats) -> Floats:
        """The resolution as each of these readings, which follow one another, shows it by then."""
        if self._counts == 1 and not np.count_nonzero(resolution != self._step):
            return resolution
        found = resolution.copy()
        for i, (value, step) in enumerate(zip(x.tolist(), resolution.tolist(), strict=True)):
            found[i] = step * self._one(value, step)
            if self._counts == 1 and not np.count_nonzero(resolution[i:] != step):
                break
        return found

    def _one(self, value: float, step: float) -> int:
        if step != self._step:
            self._step, self._counts, self._changes, self._last = step, 0, 0, value
        if step <= 0.0 or self._counts == 1:
            return 1
        counts = abs(value - self._last) / step
        if counts > MOST:
            self._counts = 1
            return 1
        change = round(counts)
        if change:
            self._last, self._changes = value, self._changes + 1
            self._counts = math.gcd(self._counts, change)
        return self._counts if self._changes >= CHANGES else 1
