"""The mains itself, when it sinks or rises over a minute: told once, as its quick moves are."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import numpy as np

from benchtui.watch.signals import Grain

from .desk import Desk, Track

CREPT, WITHIN_NS = 0.04, 150_000_000_000
"""A mains that has moved by so much within so long does more than wander. Common practice, no source."""
BEGUN = 0.1
"""It began when it had covered this part of the way."""
STANDS, FEW = 0.1, 3
"""It stands when so many grains lie within this part of the way."""


class Supply:
    """Opens `mains` for a move too slow for single readings, and closes it once the supply stands."""

    def __init__(self, desk: Desk, mains_moved: Callable[[int, int], bool]) -> None:
        """`mains_moved(first, until)`: whether a quick move of it has been told between two instants."""
        self._desk = desk
        self._mains_moved = mains_moved
        self._grains: deque[Grain] = deque()
        self._from: Grain | None = None
        """Where the move that is open began."""
        self._open: int | None = None

    def moved(self, track: Track) -> None:
        """The eye on the mains has told a quick move: what was before is no measure any more."""
        if track.is_mains:
            self._over(self._desk.now_ns)

    def run_begins(self) -> None:
        """What was open has been closed with the run."""
        self._grains.clear()
        self._open = self._from = None

    def lead_gone(self, track: Track, at_ns: int) -> None:
        if track.is_mains:
            self._over(at_ns)

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of readings of the mains is full."""
        desk = self._desk
        if not track.is_mains:
            return
        if not desk.running or desk.being_brought_up or track.cold or track.trouble or signal.away:
            self._over(signal.at_ns)
            return
        self._grains.append(signal)
        while self._grains[0].at_ns < signal.at_ns - WITHIN_NS:
            self._grains.popleft()
        if self._open is None:
            self._look(track, signal)
        else:
            self._go_on(track, signal)

    def _look(self, track: Track, signal: Grain) -> None:
        first = max(self._grains, key=lambda g: abs(signal.level - g.level))
        part = signal.level / first.level - 1.0
        if abs(part) < CREPT or self._mains_moved(first.first_ns, signal.at_ns):
            return
        self._from = first
        self._open = self._desk.log.open(
            signal.at_ns, "mains", None, _left_ns(track, first, signal), None,
            self._evidence(track, part, first, signal),
        )  # fmt: skip

    def _go_on(self, track: Track, signal: Grain) -> None:
        first = self._from
        assert first is not None
        assert self._open is not None
        part = signal.level / first.level - 1.0
        newest = list(self._grains)[-FEW:]
        levels = [g.level for g in newest]
        self._desk.log.amend(signal.at_ns, self._open, evidence=self._evidence(track, part, first, signal))
        if max(levels) - min(levels) <= STANDS * CREPT * abs(signal.level):
            self._over(newest[0].first_ns)

    def _over(self, end_ns: int) -> None:
        self._grains.clear()
        if self._open is not None:
            start_ns = self._desk.log.get(self._open).start_ns
            self._desk.log.close(self._desk.now_ns, self._open, max(end_ns, start_ns))
        self._open = self._from = None

    def _evidence(self, track: Track, part: float, first: Grain, signal: Grain) -> dict[str, object]:
        return {
            "relative": part,
            "shown_by": track.name,
            "also": self._with_it(part, first, signal),
            "stays": True,
            "why": f"the mains meter moved slowly, over {(signal.at_ns - first.at_ns) * 1e-9:.0f} s",
        }

    def _with_it(self, part: float, first: Grain, signal: Grain) -> list[str]:
        """The points that have gone the same way by half as much or more."""
        found = []
        for track in self._desk.tracks.values():
            before = [g for g in track.grains if g.at_ns <= first.at_ns]
            if (
                track.is_mains
                or not track.unit.is_voltage
                or track.cold
                or not before
                or not before[-1].level
            ):
                continue
            if (track.grains[-1].level / before[-1].level - 1.0) / part >= 0.5:
                found.append(track.name)
        return found


def _left_ns(track: Track, first: Grain, newest: Grain) -> int:
    """The last reading that was still near where it began."""
    t, x = track.segment.history.between(first.first_ns - 1, newest.at_ns)
    near = np.flatnonzero(np.abs(x - first.level) <= BEGUN * abs(newest.level - first.level))
    return int(t[near[-1]]) if len(near) else first.at_ns
