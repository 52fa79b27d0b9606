"""The eye on how finely a meter is read: a needle to its divisions, however many digits are written."""

from __future__ import annotations

import math

import numpy as np

from benchtui.model.readings import Floats

MOST = 1e9
"""No meter has so many counts."""
CHANGES, SMALL_PART, COARSEST = 6, 0.05, 10
"""After so many changes by whole divisions, none by anything less, by no more than such a part of the level
and not all by the same, these are what it is read to, if no coarser than so many digits: a point that
falls out again and again by as much says nothing of its meter."""


class Divisions:
    """Of one segment: by how many counts of the last digit the readings differ at least."""

    def __init__(self) -> None:
        self._counts = 0
        """The greatest number of counts of which all changes have been multiples; 0 before any."""
        self._changes = 0
        self._kinds: set[int] = set()
        """The different numbers of counts by which it has changed."""
        self._last = 0.0
        self._step = -1.0
        """One count of the newest reading; below 0 before any."""

    def coarser(self, x: Floats, resolution: Floats) -> Floats:
        """The resolution as each of these readings, which follow one another, shows it by then."""
        same = not np.count_nonzero(resolution != self._step)
        if same and self._counts == 1:
            return resolution
        found, at = resolution.copy(), 0
        changed = x != np.concatenate(([self._last], x[:-1]))
        if not same:
            changed |= resolution != np.concatenate(([self._step], resolution[:-1]))
        for i in np.flatnonzero(changed).tolist():
            found[at:i] *= self._factor
            self._take(float(x[i]), float(resolution[i]))
            at = i
            if self._counts == 1 and not np.count_nonzero(resolution[i:] != self._step):
                break
        found[at:] *= self._factor
        return found

    @property
    def _factor(self) -> int:
        known = self._changes >= CHANGES and len(self._kinds) >= 2 and self._counts <= COARSEST
        return self._counts if known else 1

    def _take(self, value: float, step: float) -> None:
        """A reading that is another than the one before, or on another range."""
        if step != self._step:
            self._step, self._last, self._changes = step, value, 0
            self._kinds.clear()
            self._counts = 0 if step > 0.0 else 1
            return
        change = abs(value - self._last)
        counts = change / step if self._counts != 1 else 1.0
        if change <= SMALL_PART * abs(value) and counts <= MOST:
            self._changes += 1
            self._kinds.add(round(counts))
        self._last = value
        self._counts = 1 if counts > MOST else math.gcd(self._counts, round(counts))
