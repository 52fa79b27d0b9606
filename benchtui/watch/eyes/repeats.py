"""The eye on a meter that sends each of its conversions several times: how often it truly looks."""

from __future__ import annotations

from collections import deque
from itertools import accumulate, pairwise

import numpy as np

from benchtui.model.readings import Floats, Ints

RUNS, REGULAR, REGULAR_PART = 14, 0.9, 0.3
"""So many runs of equal readings tell it, if they begin no further than so many readings, and such a part of
the usual run, from even spacing."""
MOST_TIMES = 8.0
"""No meter sends a conversion more often: what reads the same for longer stands there."""
MOST_SENT = 1.3
"""So many conversions a run at most, in the mean: where more read the same, the spacing tells nothing."""
GIVE_UP = 200
"""A meter that has not shown it in so many runs sends each conversion once."""


class Repeats:
    """Runs of equal readings that are as long as one another are conversions that are sent several times.

    A quiet point on a coarse meter repeats its readings too, but not in equal runs.
    """

    def __init__(self) -> None:
        self.times = 1.0
        """How often each conversion is sent, in the mean."""
        self.known_ns = 0
        """When that became known; 0 while it is not."""
        self._last = float("nan")
        self._count = 0
        self._runs = 0
        self._begins: deque[int] = deque(maxlen=RUNS + 1)
        """Numbers of the readings that began the newest runs."""

    def take(self, t_ns: Ints, x: Floats) -> None:
        """Looks at readings in order."""
        if self.known_ns or self._runs >= GIVE_UP or not len(x):
            return
        changed = np.flatnonzero(x != np.concatenate(([self._last], x[:-1])))
        for i in changed.tolist():
            self._begins.append(self._count + i)
            self._runs += 1
            if self._runs > RUNS and self._are_regular():
                self.known_ns = int(t_ns[i])
                return
            if self._runs >= GIVE_UP:
                return
        self._last = float(x[-1])
        self._count += len(x)

    def _are_regular(self) -> bool:
        """Whether runs begin at even spacing; a conversion may happen to read what the one before read."""
        lengths = [b - a for a, b in pairwise(self._begins)]
        usual = sorted(lengths)[RUNS // 2]
        if min(lengths) < 2:
            return False
        sent = list(accumulate(max(round(length / usual), 1) for length in lengths))
        mean = sum(lengths) / sent[-1]
        if sent[-1] > MOST_SENT * RUNS or mean > MOST_TIMES:
            return False
        off = (begin - k * mean for begin, k in zip(accumulate(lengths), sent, strict=True))
        if max(map(abs, off)) > min(REGULAR, REGULAR_PART * mean):
            return False
        self.times = mean
        return True


def conversions(t_ns: Ints, x: Floats, times: float) -> tuple[Ints, Floats]:
    """The readings that came first of each conversion, where each is sent so many times."""
    rows = np.arange(len(x))
    began = np.concatenate(([True], x[1:] != x[:-1]))
    first = (rows - np.maximum.accumulate(np.where(began, rows, 0))) % max(round(times), 1) == 0
    return t_ns[first], x[first]
