"""Small moves held back, as tails of a greater one or meters that let go. What stands is told after all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from statistics import median

from benchtui.watch.signals import Away, Back

from .aftermath import over_ns
from .cluster import Cluster
from .desk import Desk
from .gathered import Gathered
from .holding import lets_go
from .track import Track

STANDS_NS, AGAIN_NS = 30_000_000_000, 5_000_000_000
"""What is still away so long after it began, and after the greater move was over, is no tail. Common
practice, no source."""
REMEMBERED_NS = 240_000_000_000
"""So far back a quick meter's readings are surely kept."""
HALF = 0.5
SHORT_NS, MOST = 5_000_000_000, 2
"""What comes back within the first is hardly a heater's doing: after so many of them the next is told. Common
practice, no source."""


class Tails:
    """Holds back what `Gathered` takes for no news; tells it all the same if it stands or comes too often."""

    def __init__(self, desk: Desk, gathered: Gathered, tell: Callable[[Track, Away], None]) -> None:
        self._desk = desk
        self._gathered = gathered
        self._tell = tell
        self._held: dict[tuple[int, int], Away] = {}
        self._short: dict[int, int] = {}
        """How many short ones a point has had in this run."""

    def holds(self, track: Track, signal: Away) -> bool:
        """Whether a move is held back."""
        part, key = signal.peak / signal.level, (id(track), signal.number)
        cause = self._gathered.tail_of(track, signal.start_ns, part)
        often = self._short.get(id(track), 0) >= MOST
        if lets_go(track, signal.start_ns, part):
            self._held[key] = signal
        elif cause is not None and not often:
            self._held[key] = signal
            self._look_at(track, signal, cause, signal.start_ns + STANDS_NS)
        else:
            self._drop_all(track)
        return key in self._held

    def back(self, track: Track, signal: Back) -> None:
        """A move is over."""
        held = self.drop(track, signal.number)
        if held is not None and signal.end_ns - held.start_ns <= SHORT_NS:
            self._short[id(track)] = self._short.get(id(track), 0) + 1

    def drop(self, track: Track, number: int) -> Away | None:
        """A move that is over, or has become another; None where it was not held back."""
        return self._held.pop((id(track), number), None)

    def lead_gone(self, track: Track) -> None:
        """Nothing more will be told of the point."""
        self._drop_all(track)
        self._short.pop(id(track), None)

    def _drop_all(self, track: Track) -> None:
        for key in [k for k in self._held if k[0] == id(track)]:
            del self._held[key]

    def forget(self) -> None:
        """A run has begun or ended."""
        self._held.clear()
        self._short.clear()

    def _look_at(self, track: Track, signal: Away, cause: Cluster, at_ns: int) -> None:
        desk = self._desk

        def look() -> None:
            if self._held.get((id(track), signal.number)) is not signal:
                return
            over = over_ns(cause)
            if over is None or desk.now_ns < over + STANDS_NS:
                if not cause.closed or over is not None:
                    self._look_at(track, signal, cause, desk.now_ns + AGAIN_NS)
                return
            self.drop(track, signal.number)
            level, least = track.level(desk.now_ns, 5), HALF * abs(signal.peak)
            lately = desk.now_ns - cause.start_ns <= REMEMBERED_NS
            values = track.segment.history.values(cause.start_ns - 1, 5) if lately else ()
            before = median(values or [signal.level])
            if level is not None and min(abs(level - signal.level), abs(level - before)) >= least:
                self._tell(track, replace(signal, at_ns=desk.now_ns))

        desk.after(max(at_ns, desk.now_ns + 1), look)
