"""The mains itself, when it sinks or rises over a minute: told once, as its quick moves are."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import numpy as np

from benchtui.watch.signals import Away, Grain, Steadied

from .desk import Desk, Track

CREPT, WITHIN_NS = 0.04, 150_000_000_000
"""A mains that has moved by so much within so long does more than wander. Common practice, no source."""
UP_S = 60.0
"""Heaters of a series chain, and the meters, have settled by then. Common practice, no source."""
SOON_NS = 10_000_000_000
"""What goes on within so long is one move."""
BEGUN = 0.1
"""It began when it had covered this part of the way."""
STANDS, FEW = 0.1, 3
"""It stands when so many grains lie within this part of the way."""


class Supply:
    """Opens `mains` for a move too slow for single readings, and closes it once the supply stands."""

    def __init__(self, desk: Desk, newest: Callable[[], int | None]) -> None:
        """`newest()`: the finding of the newest quick move of the mains."""
        self._desk = desk
        self._newest = newest
        self._grains: deque[Grain] = deque()
        self._by: Track | None = None
        """The meter whose grains these are."""
        self._from: Grain | None = None
        """Where the move that is open began."""
        self._open: int | None = None
        self._before = 0.0
        """The level that the newest quick move left."""
        self._rise = 1.0
        """By what it has multiplied that level since."""

    def _tells(self, track: Track) -> bool:
        """Whether it is the mains meter or, where nobody reads the mains, the first on a heater."""
        if track.is_mains or not track.is_heater:
            return track.is_mains
        shown = [t for t in self._desk.tracks.values() if t.shows_mains]
        return not any(t.is_mains for t in shown) and track is shown[0]

    def away(self, track: Track, signal: Away) -> None:
        """The eye on the mains tells a quick move: that is told elsewhere."""
        if self._tells(track):
            self._over(self._desk.now_ns)
            self._before, self._rise = signal.level, 1.0

    def steadied(self, track: Track, signal: Steadied) -> None:
        """What was before a quick move that stays is held against what is now as if it had moved along."""
        if self._tells(track) and self._before:
            self._scale(signal.level / self._before)

    def back(self, track: Track) -> None:
        """A quick move that had come to stand is undone."""
        if self._tells(track):
            self._scale(1.0)

    def _scale(self, rise: float) -> None:
        rise, self._rise = rise / self._rise, rise
        self._grains = deque(g._replace(level=g.level * rise) for g in self._grains)

    def run_begins(self) -> None:
        """What was open has been closed with the run."""
        self._grains.clear()
        self._open = self._from = None

    def lead_gone(self, track: Track, at_ns: int) -> None:
        if track is self._by:
            self._over(at_ns)
            self._grains.clear()

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of readings of the mains is full."""
        desk = self._desk
        if signal.away or not self._tells(track):
            return
        if track is not self._by:
            self._by = track
            self._over(signal.at_ns)
            self._grains.clear()
        young = desk.up_s(signal.at_ns) < UP_S
        if young or not desk.running or desk.being_brought_up or track.cold or track.trouble:
            self._over(signal.at_ns)
            self._grains.clear()
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
        if abs(part) < CREPT:
            return
        self._from, start_ns = first, _left_ns(track, first, signal)
        quick = self._began_quickly(start_ns, part)
        if quick is not None:
            start_ns = min(start_ns, self._desk.log.get(quick).start_ns)
        evidence = self._evidence(track, part, first, signal)
        if not track.is_mains and not evidence["also"]:
            return
        self._open = self._desk.log.open(signal.at_ns, "mains", None, start_ns, None, evidence)
        if quick is not None:
            self._desk.log.merge(signal.at_ns, quick, self._open)

    def _began_quickly(self, start_ns: int, part: float) -> int | None:
        """The finding of a quick move the same way with which this one began."""
        number = self._newest()
        found = None if number is None else self._desk.log.get(number)
        if found is None or not found.listed or found.end_ns is None or found.evidence["relative"] * part < 0:
            return None
        near = start_ns - found.end_ns <= SOON_NS and abs(found.evidence["relative"]) < abs(part)
        return number if near else None

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
            self._grains = deque(newest)

    def _over(self, end_ns: int) -> None:
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
            "why": f"{track.name} moved slowly, over {(signal.at_ns - first.at_ns) * 1e-9:.0f} s",
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
