"""One point's readings in memory: recent ones whole, older ones as least and greatest values of buckets."""

from __future__ import annotations

import math
from bisect import bisect_left

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import NO_VALUE, Floats, Ints, Readings
from benchtui.model.units import Unit

KEEP_NS = 600_000_000_000
"""How long readings are kept whole."""
BUCKETS_NS = (250_000_000, 4_000_000_000, 64_000_000_000)
"""Widths of the buckets, finest first."""
KEEP_FINEST_NS = 7_200_000_000_000
"""How long the finest buckets are kept; the coarser ones for good."""
FINER = 8
"""A column of a chart is at least so many buckets wide, or the next finer buckets are used."""
LEAST_SILENCE_NS = 1_000_000_000
PERIODS = 5
"""No readings for longer than so many usual times between two is a silence."""
MOST_SILENCES = 10_000


class Growing:
    """An array that grows at its end and is cut at its beginning, both in small constant time a number."""

    def __init__(self, kind: type[np.generic]) -> None:
        self._array: NDArray[np.generic] = np.empty(256, dtype=kind)
        self._start = self._end = 0

    @property
    def view(self) -> NDArray[np.generic]:
        """What it holds, without a copy; good until the next change."""
        return self._array[self._start : self._end]

    def extend(self, more: NDArray[np.generic]) -> None:
        need = self._end + len(more)
        if need > len(self._array):
            held = self.view
            self._array = np.empty(2 * (len(held) + len(more)), dtype=self._array.dtype)
            self._array[: len(held)] = held
            self._start, self._end = 0, len(held)
            need = self._end + len(more)
        self._array[self._end : need] = more
        self._end = need

    def drop(self, count: int) -> None:
        """Forgets the first ones."""
        self._start += count


class Level:
    """Least and greatest values of buckets of one width; no bucket where there was no reading."""

    def __init__(self, width_ns: int) -> None:
        self.width_ns = width_ns
        self.since_ns = 0
        """Buckets before this have been forgotten."""
        self.starts, self.low, self.high = Growing(np.int64), Growing(np.float64), Growing(np.float64)

    def add(self, t_ns: Ints, value: Floats) -> None:
        """Later readings than all before."""
        start = t_ns // self.width_ns * self.width_ns
        first = np.flatnonzero(np.diff(start, prepend=start[0] - 1))
        starts, low, high = start[first], np.minimum.reduceat(value, first), np.maximum.reduceat(value, first)
        held = self.starts.view
        if len(held) and held[-1] == starts[0]:
            self.low.view[-1] = min(self.low.view[-1], low[0])
            self.high.view[-1] = max(self.high.view[-1], high[0])
            starts, low, high = starts[1:], low[1:], high[1:]
        self.starts.extend(starts)
        self.low.extend(low)
        self.high.extend(high)

    def forget(self, before_ns: int) -> None:
        old = int(np.searchsorted(self.starts.view, before_ns))
        if old > len(self.starts.view) // 2:
            self.since_ns = before_ns
            for column in (self.starts, self.low, self.high):
                column.drop(old)


class Track:
    """One point's course so far."""

    def __init__(self, unit: Unit, seen: bool = False) -> None:
        """A `seen` point is silent for as long as nobody presses its key: that is no gap."""
        self.unit = unit
        self._seen = seen
        self._t, self._value = Growing(np.int64), Growing(np.float64)
        self._whole_since = 0
        self._levels = [Level(width) for width in BUCKETS_NS]
        self._last_ns: int | None = None
        self._period_ns: float | None = None
        self._lead_on = True
        self._broken = False
        self._silences: list[tuple[int, int]] = []

    def add(self, readings: Readings) -> None:
        """The next readings of this point, in order."""
        valued = (readings.flags & int(NO_VALUE) == 0) & (readings.unit == int(self.unit))
        valued &= np.isfinite(readings.value)
        t_ns, value = readings.t_ns[valued], readings.value[valued]
        if len(t_ns):
            self._find_silences(readings.t_ns, valued, t_ns)
            self._t.extend(t_ns)
            self._value.extend(value)
            for level in self._levels:
                level.add(t_ns, value)
            self._last_ns = int(t_ns[-1])
            self._forget(self._last_ns)
            self._broken = not valued[-1]
            self._lead_on = True
        else:
            self._broken |= bool(len(readings))

    def lead_moved(self, on: bool) -> None:
        """A lead came to this point or left it; `on`: there is one on it now."""
        self._lead_on = on
        self._broken = True

    def extremes(self, edges: Ints) -> tuple[Floats, Floats]:
        """Least and greatest value between each two edges; NaN where there is no reading."""
        width = int(edges[1] - edges[0])
        level = self._level(width, int(edges[0]))
        starts, low, high = (
            (self._t.view, self._value.view, self._value.view)
            if level is None
            else (level.starts.view, level.low.view, level.high.view)
        )
        least, greatest = np.full(len(edges) - 1, np.nan), np.full(len(edges) - 1, np.nan)
        places = np.searchsorted(starts, edges)
        filled = places[1:] > places[:-1]
        if filled.any():
            begin, end = places[:-1][filled], int(places[-1])
            least[filled] = np.minimum.reduceat(low[:end], begin)
            greatest[filled] = np.maximum.reduceat(high[:end], begin)
        return least, greatest

    def silences(self, start_ns: int, end_ns: int, now_ns: int) -> list[tuple[int, int]]:
        """The stretches without readings though they were due, that touch these times."""
        found = self._silences
        first = bisect_left(found, start_ns, key=lambda silence: silence[1])
        listed = [s for s in found[first:] if s[0] < end_ns]
        if self._lead_on and not self._seen and self._last_ns is not None:
            waited = now_ns - self._last_ns
            if self._broken or waited > self._patience_ns():
                listed.append((self._last_ns, now_ns))
        return listed

    def _level(self, width_ns: int, start_ns: int) -> Level | None:
        """The buckets to draw columns of this width from; None for the readings themselves."""
        fits = [level for level in self._levels if level.width_ns * FINER <= width_ns]
        if fits:
            return fits[-1]
        if start_ns >= self._whole_since:
            return None
        return next((level for level in self._levels if start_ns >= level.since_ns), self._levels[-1])

    def _patience_ns(self) -> float:
        if self._period_ns is None:
            return math.inf
        return max(LEAST_SILENCE_NS, PERIODS * self._period_ns)

    def _find_silences(self, all_t: Ints, valued: NDArray[np.bool_], t_ns: Ints) -> None:
        before = t_ns[:1] if self._last_ns is None else np.array([self._last_ns])
        times = np.concatenate([before, t_ns])
        steps = np.diff(times)
        usual = steps[steps > 0]
        if self._period_ns is None and len(usual):
            self._period_ns = float(np.median(usual))
        silent = steps > self._patience_ns()
        counted = np.concatenate([[0], np.cumsum(~valued)])
        places = np.flatnonzero(valued)
        without = np.diff(np.concatenate([[0], counted[places]])) > 0
        if self._last_ns is None:
            without[:1] = False
        else:
            without[:1] |= self._broken
        silent = (silent & (not self._seen)) | without
        for place in np.flatnonzero(silent).tolist():
            self._silences.append((int(times[place]), int(times[place + 1])))
        del self._silences[:-MOST_SILENCES]
        quick = usual[usual <= self._patience_ns()]
        if len(quick):
            recent = float(np.median(quick[-32:]))
            weight = min(1.0, len(quick) / 8)
            before_ns = self._period_ns if self._period_ns is not None else recent
            self._period_ns = before_ns + weight * 0.5 * (recent - before_ns)

    def _forget(self, now_ns: int) -> None:
        times = self._t.view
        if len(times) and now_ns - int(times[0]) > 2 * KEEP_NS:
            old = int(np.searchsorted(times, now_ns - KEEP_NS))
            self._whole_since = int(times[old])
            self._t.drop(old)
            self._value.drop(old)
        if now_ns > 2 * KEEP_FINEST_NS:
            self._levels[0].forget(now_ns - KEEP_FINEST_NS)
