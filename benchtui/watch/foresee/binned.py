"""One point's course since an instant, thinned out to bins of fixed ages, however its readings came."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats, Ints

EDGES_S: Floats = np.concatenate(
    (
        np.arange(0.0, 4.0, 0.5),
        np.arange(4.0, 40.0, 1.0),
        np.arange(40.0, 80.0, 2.5),
        np.arange(80.0, 200.0, 10.0),
        np.arange(200.0, 601.0, 40.0),
    )
)
"""Where bins begin, in seconds since the instant; nothing is kept beyond the last."""


APART_S = 1e-6
"""Readings that share an instant are taken to be so far apart."""


@dataclass(frozen=True, slots=True, eq=False)
class Bins:
    """A course: one row a bin that has readings."""

    t: Floats
    """Seconds since the instant: the mean of the readings' times."""
    y: Floats
    """Their median, from three on; else their mean."""
    n: Floats
    """How many they are."""

    def __len__(self) -> int:
        return len(self.t)

    def plus(self, t: float, y: float, n: float) -> Bins:
        """With one more bin at the end."""
        return Bins(np.append(self.t, t), np.append(self.y, y), np.append(self.n, n))

    def until(self, age_s: float) -> Bins:
        """The bins that were over by this age."""
        ends = EDGES_S[np.minimum(np.searchsorted(EDGES_S, self.t, side="right"), len(EDGES_S) - 1)]
        over = ends <= age_s
        return Bins(self.t[over], self.y[over], self.n[over])


class Binned:
    """Takes readings in order and keeps bins; `seen` adds readings to a copy."""

    def __init__(self, since_ns: int, edges_s: Floats = EDGES_S) -> None:
        self.since_ns = since_ns
        self.taken_ns = since_ns - 1
        """Readings up to this instant have been taken."""
        self._edges = edges_s
        self.ends_ns = since_ns + round(float(edges_s[-1]) * 1e9)
        """Nothing is kept of what comes from here on."""
        self._closed: list[tuple[float, float, float]] = []
        self._open: list[tuple[float, float]] = []
        self._place = -1

    @property
    def over(self) -> bool:
        """Whether nothing more will be kept."""
        return self.taken_ns >= self.ends_ns

    def take(self, t_ns: Ints, x: Floats, upto_ns: int) -> None:
        """The next readings, all up to an instant. Cost, measured: 20 us for 64 readings."""
        self.taken_ns = max(self.taken_ns, upto_ns)
        age = (t_ns - self.since_ns) * 1e-9
        places = np.searchsorted(self._edges, age, side="right") - 1
        for place, at, value in zip(places.tolist(), age.tolist(), x.tolist(), strict=True):
            if place >= len(self._edges) - 1:
                break
            if place != self._place:
                self._close()
                self._place = place
            self._open.append((at, value))

    def _close(self) -> None:
        if self._open:
            self._closed.append(_bin(self._open))
            self._open = []

    def seen(self, t_ns: Ints, x: Floats) -> Bins:
        """All bins, with these readings after those taken, the newest by itself; changes nothing."""
        copy = Binned(self.since_ns, self._edges)
        copy._closed, copy._open, copy._place = list(self._closed), list(self._open), self._place
        copy.take(t_ns, x, int(t_ns[-1]) if len(t_ns) else self.taken_ns)
        newest = copy._open[1:] and [copy._open.pop()]
        copy._close()
        copy._open = newest
        copy._close()
        rows = np.array(copy._closed, dtype=np.float64).reshape(-1, 3)
        return Bins(rows[:, 0], rows[:, 1], rows[:, 2])


def _bin(readings: list[tuple[float, float]]) -> tuple[float, float, float]:
    n = len(readings)
    t = sum(at for at, _ in readings) / n
    if n < 3:
        return t, sum(value for _, value in readings) / n, float(n)
    values = sorted(value for _, value in readings)
    return t, 0.5 * (values[(n - 1) // 2] + values[n // 2]), float(n)


def slopes(t: Floats, y: Floats) -> Floats:
    """How steep a course is at each of its rows, per second; rows of one instant count as a little apart."""
    found: Floats = np.gradient(y, t + APART_S * np.arange(len(t)))
    return found
