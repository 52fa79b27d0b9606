"""The readings of one segment, kept long enough to look back."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import numpy as np

from benchtui.model.readings import Floats, Ints

KEPT = 16384
"""Readings that can always be looked back on. Never look further: what is older may or may not be there."""

ASKED = 32
"""So many answers to where an instant stands are kept."""


class History:
    """Times, values and resolutions of one segment's usable readings, newest last."""

    def __init__(self) -> None:
        self._hold(np.empty(1024, dtype=np.int64), np.empty(1024), np.empty(1024))
        self._asked: dict[int, int] = {}
        """Questions of `_row_after` and their answers: many ask of the same few instants."""
        self._first = 0
        """The row of the oldest reading that is kept."""
        self._to = 0
        self.count = 0
        """How many were ever added."""

    def _hold(self, t_ns: Ints, value: Floats, resolution: Floats) -> None:
        self._t, self._x, self._r = t_ns, value, resolution
        self._times, self._values, self._steps = t_ns.data, value.data, resolution.data
        """The same columns: quicker to look for one row in."""

    def add(self, t_ns: Ints, value: Floats, resolution: Floats) -> None:
        n = len(t_ns)
        if self._to + n > len(self._t):
            self._make_room(n)
        rows = slice(self._to, self._to + n)
        self._t[rows], self._x[rows], self._r[rows] = t_ns, value, resolution
        self._to += n
        self.count += n
        self._first = max(0, self._to - KEPT)
        self._asked.clear()

    def _make_room(self, n: int) -> None:
        old = slice(self._first, self._to)
        kept = self._to - self._first
        size = max(2 * (kept + n), 1024)
        columns = np.empty(size, dtype=np.int64), np.empty(size), np.empty(size)
        for new, column in zip(columns, (self._t, self._x, self._r), strict=True):
            new[:kept] = column[old]
        self._hold(*columns)
        self._to = kept

    @property
    def newest_ns(self) -> int | None:
        """When the newest came; None where there is none."""
        return self._times[self._to - 1] if self._to else None

    def last(self, n: int) -> tuple[Ints, Floats, Floats]:
        """The newest n (fewer if there are fewer)."""
        rows = slice(max(0, self._to - n), self._to)
        return self._t[rows], self._x[rows], self._r[rows]

    def numbered(self, first: int, end: int) -> tuple[Ints, Floats, Floats]:
        """Readings number first .. end-1, counted from the segment's first."""
        shift = self._to - self.count
        rows = slice(max(first + shift, 0), end + shift)
        return self._t[rows], self._x[rows], self._r[rows]

    def _row_after(self, t_ns: int) -> int:
        """The row after the newest reading at or before an instant."""
        row = self._asked.get(t_ns)
        if row is None:
            if len(self._asked) >= ASKED:
                self._asked.clear()
            row = self._asked[t_ns] = bisect_right(self._times, t_ns, self._first, self._to)
        return row

    def place(self, t_ns: int) -> int:
        """How many readings of the segment came at or before an instant (of those that are kept)."""
        return self._row_after(t_ns) + self.count - self._to

    def between(self, after_ns: int, until_ns: int) -> tuple[Ints, Floats]:
        """Readings with after_ns < t <= until_ns."""
        rows = slice(self._row_after(after_ns), self._row_after(until_ns))
        return self._t[rows], self._x[rows]

    def values(self, t_ns: int, most: int) -> Sequence[float]:
        """The newest few values at or before an instant, in order."""
        end = self._row_after(t_ns)
        return self._values[max(end - most, 0) : end].tolist()

    def step_at(self, t_ns: int) -> float:
        """The resolution of the newest reading at or before an instant; 0 without one."""
        row = self._row_after(t_ns) - 1
        return self._steps[row] if row >= self._first else 0.0

    def at(self, t_ns: int) -> tuple[int, float] | None:
        """The newest reading at or before an instant."""
        row = self._row_after(t_ns) - 1
        return (self._times[row], self._values[row]) if row >= self._first else None
