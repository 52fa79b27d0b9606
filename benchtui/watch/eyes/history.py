"""The readings of one segment, kept long enough to look back."""

from __future__ import annotations

from bisect import bisect_right

import numpy as np

from benchtui.model.readings import Floats, Ints

KEPT = 16384
"""Readings that can always be looked back on. Never look further: what is older may or may not be there."""


class History:
    """Times, values and resolutions of one segment's usable readings, newest last."""

    def __init__(self) -> None:
        self._t: Ints = np.empty(1024, dtype=np.int64)
        self._x: Floats = np.empty(1024)
        self._r: Floats = np.empty(1024)
        self._times = self._t.data
        """The same times: quicker to look for one in."""
        self._asked: tuple[int | None, int] = (None, 0)
        """The newest question of `place` and its answer: many ask of the same instant."""
        self._from = 0
        self._to = 0
        self.count = 0
        """How many were ever added."""

    def add(self, t_ns: Ints, value: Floats, resolution: Floats) -> None:
        n = len(t_ns)
        if self._to + n > len(self._t):
            self._make_room(n)
        self._t[self._to : self._to + n] = t_ns
        self._x[self._to : self._to + n] = value
        self._r[self._to : self._to + n] = resolution
        self._to += n
        self.count += n
        self._asked = (None, 0)

    def _make_room(self, n: int) -> None:
        kept = min(self._to - self._from, KEPT)
        size = max(2 * (kept + n), 1024)
        for name in ("_t", "_x", "_r"):
            old = getattr(self, name)
            new = np.empty(size, dtype=old.dtype)
            new[:kept] = old[self._to - kept : self._to]
            setattr(self, name, new)
        self._times = self._t.data
        self._from, self._to = 0, kept

    def _rows(self) -> slice:
        return slice(max(self._from, self._to - KEPT), self._to)

    @property
    def t(self) -> Ints:
        """Times, oldest first, at most KEPT of them."""
        return self._t[self._rows()]

    @property
    def x(self) -> Floats:
        return self._x[self._rows()]

    @property
    def resolution(self) -> Floats:
        return self._r[self._rows()]

    @property
    def newest_ns(self) -> int | None:
        """When the newest came; None where there is none."""
        return int(self._t[self._to - 1]) if self._to > self._from else None

    def last(self, n: int) -> tuple[Ints, Floats, Floats]:
        """The newest n (fewer if there are fewer)."""
        rows = slice(max(self._from, self._to - n), self._to)
        return self._t[rows], self._x[rows], self._r[rows]

    def numbered(self, first: int, end: int) -> tuple[Ints, Floats, Floats]:
        """Readings number first .. end-1, counted from the segment's first."""
        shift = self._to - self.count
        rows = slice(max(first + shift, self._from), end + shift)
        return self._t[rows], self._x[rows], self._r[rows]

    def place(self, t_ns: int) -> int:
        """How many readings of the segment came at or before an instant (of those that are kept)."""
        asked, answer = self._asked
        if asked != t_ns:
            first = max(self._from, self._to - KEPT)
            answer = self.count - self._to + bisect_right(self._times, t_ns, first, self._to)
            self._asked = (t_ns, answer)
        return answer

    def between(self, after_ns: int, until_ns: int) -> tuple[Ints, Floats]:
        """Readings with after_ns < t <= until_ns."""
        shift = self._to - self.count
        rows = slice(self.place(after_ns) + shift, self.place(until_ns) + shift)
        return self._t[rows], self._x[rows]

    def values(self, t_ns: int, most: int) -> list[float]:
        """The newest few values at or before an instant, in order."""
        end = self.place(t_ns) + self._to - self.count
        found: list[float] = self._x[max(end - most, self._from) : end].tolist()
        return found

    def step_at(self, t_ns: int) -> float:
        """The resolution of the newest reading at or before an instant; 0 without one."""
        i = self.place(t_ns) - 1 + self._to - self.count
        return float(self._r[i]) if i >= max(self._from, self._to - KEPT) else 0.0

    def at(self, t_ns: int) -> tuple[int, float] | None:
        """The newest reading at or before an instant."""
        i = self.place(t_ns) - 1 + self._to - self.count
        return (int(self._t[i]), float(self._x[i])) if i >= max(self._from, self._to - KEPT) else None
