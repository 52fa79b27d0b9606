"""Points that grow restless: grains whose noise is several times what the point showed while calm."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import numpy as np

from benchtui.watch.signals import Grain

from .desk import Desk
from .kinship import are_apart
from .track import Track

TIMES, CALM_TIMES = 5.0, 2.5
"""A grain with so many times the calm noise is restless; one below the second is calm again."""
LEAST_PART, LEAST_COUNTS = 0.002, 3.0
"""Noise below this part of the level, or below so many counts, is no news. Common practice, no source."""
STEEP_PART = 0.03
"""A grain in which the level itself moves by this part tells nothing of restlessness."""
DIVISIONS = 4
"""So few different readings in a grain are divisions of a scale."""
FAR = 4.0
"""So many deviations of the calm noise off begins the restlessness."""
OF_LAST, NEEDED, CALM_NEEDED = 4, 3, 3


class Restless:
    """Opens `chatter` for points whose noise has grown."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._calm: dict[str, deque[float]] = {}
        self._last: dict[str, deque[bool]] = {}
        self._open: dict[str, int] = {}
        self._quiet: dict[str, int] = {}
        self._until: dict[str, int] = {}
        self.mains_moved: Callable[[int, int], bool] = lambda first_ns, until_ns: False
        """Whether the mains moved, or came back, between two instants: such a grain tells nothing."""

    def run_begins(self) -> None:
        self._calm.clear()
        self._last.clear()
        self._open.clear()
        self._until.clear()

    def until(self, name: str) -> int:
        """The end of the newest grain in which a point was restless; 0 without one."""
        return self._until.get(name, 0)

    def level(self, track: Track) -> float:
        """The standard deviation of a point that is restless now; 0 for one that is not."""
        return track.grains[-1].noise if track.name in self._open and track.grains else 0.0

    def grain(self, track: Track, signal: Grain) -> None:
        desk, name = self._desk, track.name
        ready = track.settled_ns is not None or desk.age_s(signal.at_ns) > 120.0
        if not desk.running or not ready or not signal.steady or track.point.moves or track.trouble:
            return
        if desk.being_brought_up:
            return
        span = (signal.at_ns - signal.first_ns) * 1e-9
        if abs(signal.slope) * span > STEEP_PART * abs(signal.level):
            return
        if track.point.follows_mains and self.mains_moved(signal.first_ns, signal.at_ns):
            return
        calm, last = self._calm.get(name), self._last.get(name)
        if calm is None or last is None:
            calm = self._calm[name] = deque(maxlen=12)
            last = self._last[name] = deque(maxlen=OF_LAST)
        base = sorted(calm)[len(calm) // 2] if len(calm) >= 4 else 0.0
        restless = base > 0 and signal.flutter > TIMES * base and signal.flutter > self._least(track, signal)
        restless = restless and signal.flutter > LEAST_COUNTS * _division(track, signal)
        last.append(restless)
        if restless:
            self._until[name] = signal.at_ns
        if not restless and not signal.away and (base == 0 or signal.noise < CALM_TIMES * base):
            calm.append(signal.noise)
        if name in self._open:
            self._go_on(track, signal, signal.flutter < max(CALM_TIMES * base, self._least(track, signal)))
        elif sum(last) >= NEEDED:
            self._tell(track, signal, base)

    @staticmethod
    def _least(track: Track, signal: Grain) -> float:
        """Noise below this is no news."""
        return max(LEAST_PART * abs(signal.level), LEAST_COUNTS * track.step)

    def _tell(self, track: Track, signal: Grain, base: float) -> None:
        """Tells it of the point that carries it; what the mains shares is the mains'."""
        desk = self._desk
        others = [t for t in desk.tracks.values() if t is not track and sum(self._last.get(t.name, ())) >= 2]
        if any(t.shows_mains for t in others) or track.is_mains:
            return
        chart = desk.chart
        root = max([track, *others], key=lambda t: chart.carries(t.name))
        known = {root.name, *chart.feeds(root.name), *(t.name for t in [track, *others])}
        if root.name in self._open or known & desk.chatter.keys():
            return
        beside = next((p for p in desk.chatter if not are_apart(chart, root.name, p)), None)
        if beside is not None:
            desk.log.name_also(signal.at_ns, desk.chatter[beside], root.name)
            return
        recent = list(track.grains)[-OF_LAST:]
        first = next(g for g, bad in zip(recent, self._last[track.name], strict=False) if bad)
        since = self._since(track, first, base)
        evidence: dict[str, object] = {
            "count": sum(self._last[track.name]),
            "noise": signal.noise,
            "calm_noise": base,
            "level": signal.level,
            "depth": 3.0 * signal.noise,
            "after_mark": desk.after_mark(since),
            "also": [t.name for t in [track, *others] if t is not root],
        }
        self._open[root.name] = desk.log.open(signal.at_ns, "chatter", root.name, since, None, evidence)
        self._quiet[root.name] = 0
        desk.chatter[root.name] = self._open[root.name]

    def _since(self, track: Track, first: Grain, calm: float) -> int:
        """The first reading of the first restless grain that calm noise does not make."""
        t, x = track.segment.history.between(first.first_ns - 1, first.at_ns)
        level = next((g.level for g in reversed(track.grains) if g.at_ns < first.first_ns), first.level)
        off = np.flatnonzero(np.abs(x - level) > FAR * calm)
        return int(t[off[0]]) if len(off) else first.first_ns

    def _go_on(self, track: Track, signal: Grain, calm: bool) -> None:
        name = track.name
        self._quiet[name] = self._quiet[name] + 1 if calm else 0
        if self._quiet[name] >= CALM_NEEDED:
            end = track.grains[-CALM_NEEDED].first_ns
            self._desk.log.close(signal.at_ns, self._open.pop(name), end)
            self._desk.chatter.pop(name, None)

    def lead_gone(self, point: str, at_ns: int) -> None:
        number = self._open.pop(point, None)
        if number is not None:
            self._desk.log.close(at_ns, number, at_ns)
            self._desk.chatter.pop(point, None)
        self._calm.pop(point, None)
        self._last.pop(point, None)
        self._until.pop(point, None)


def _division(track: Track, signal: Grain) -> float:
    """The least by which the few readings of a grain differ: a needle is read to divisions, not to digits."""
    _, x = track.segment.history.between(signal.first_ns - 1, signal.at_ns)
    shown = np.unique(x)
    return float(np.diff(shown).min()) if 1 < len(shown) <= DIVISIONS else 0.0
