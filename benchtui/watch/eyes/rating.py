"""The eye on a rating: every single reading, no averaging."""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Floats, Ints
from benchtui.watch.signals import NotOver, Over, Signal


class Rating:
    """Readings beyond a rating, in magnitude."""

    def __init__(self, limit: float, surge: float) -> None:
        self.limit = limit
        self.surge = surge
        self._nth = 0
        self._peak = 0.0
        self._surged = False

    def take(self, t: Ints, x: Floats) -> list[Signal]:
        """Looks at the readings in order."""
        beyond = np.abs(x) > self.limit
        if not np.count_nonzero(beyond):
            if self._nth and len(x):
                self._nth = 0
                return [NotOver(int(t[0]), float(x[0]))]
            return []
        out: list[Signal] = []
        start = 0 if self._nth else int(np.argmax(beyond))
        for at, value in zip(t[start:].tolist(), x[start:].tolist(), strict=True):
            signal = self._one(at, value)
            if signal is not None:
                out.append(signal)
        return out

    def _one(self, at: int, value: float) -> Signal | None:
        size = abs(value)
        if size <= self.limit:
            if not self._nth:
                return None
            self._nth = 0
            return NotOver(at, value)
        self._nth += 1
        first_surge = size > self.surge and not (self._surged and self._nth > 1)
        if self._nth == 1:
            self._surged = False
            self._peak = 0.0
        self._surged = self._surged or size > self.surge
        grown = size > 1.005 * self._peak
        self._peak = max(self._peak, size)
        if self._nth <= 2 or grown or first_surge:
            return Over(at, value, self._nth, self._surged)
        return None
