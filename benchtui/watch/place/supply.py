"""The mains itself, when it sinks or rises over a minute: told once, as its quick moves are."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from benchtui.watch.signals import Away, Grain, Steadied

from .cluster import Move
from .desk import Desk
from .kinship import are_apart
from .track import Track

CREPT, MOST, WITHIN_NS = 0.04, 0.3, 150_000_000_000
"""A mains that has moved by so much within so long does more than wander; by more than the second part it
does not creep. Common practice, no source."""
UP_S, SETTLED_S = 60.0, 150.0
"""Heaters of a series chain, and the meters, have settled by then, and by the second what valves feed. Common
practice, no source."""
SOON_NS = 10_000_000_000
"""What goes on within so long is one move."""
MOST_OF_IT = 0.6
"""A quick move of this part of it leaves no slow one."""
CAME_BACK = 0.5
"""What has come back by more than this part of the way has come back."""
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
        self._farthest: tuple[float, list[str]] = 0.0, []
        """By what part it has gone at the farthest, and which points with it."""
        self._newest_open: int | None = None
        """The finding that is open, or was the last."""
        self._creeps = False
        """Whether the newest move that the eye told of it came slowly."""
        self._before = 0.0
        """The level that the newest quick move left."""
        self._rise = 1.0
        """By what it has multiplied that level since."""

    def _tells(self, track: Track) -> bool:
        """Whether it is the mains meter; where nobody reads the mains, the first on a heater, or else the
        supply that feeds most."""
        if track.is_mains:
            return True
        if self._desk.has_mains_meter:
            return False
        tracks = self._desk.tracks.values()
        heater = next((t for t in tracks if t.is_heater), None)
        if heater is not None:
            return track is heater
        supplies = [t for t in tracks if t.is_supplied]
        return bool(supplies) and track is max(supplies, key=lambda t: self._desk.chart.carries(t.name))

    def away(self, track: Track, signal: Away) -> None:
        """The eye on the mains tells a quick move: that is told elsewhere."""
        if not self._tells(track):
            return
        self._creeps = not signal.abrupt
        if signal.abrupt:
            self._over(self._desk.now_ns)
            self._before, self._rise = signal.level, 1.0

    def steadied(self, track: Track, signal: Steadied) -> None:
        """What was before a quick move that stays is held against what is now as if it had moved along."""
        if self._tells(track) and self._before and signal.level:
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
        self._open = self._from = self._newest_open = None

    def lead_gone(self, track: Track, at_ns: int) -> None:
        if track is self._by:
            self._over(at_ns)
            self._grains.clear()

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of readings of the mains is full."""
        desk = self._desk
        if (signal.away and not self._creeps) or not signal.level or not self._tells(track):
            return
        if track is not self._by:
            self._by = track
            self._over(signal.at_ns)
            self._grains.clear()
        young = desk.up_s(signal.at_ns) < (UP_S if track.shows_mains else SETTLED_S)
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
        if not CREPT <= abs(part) <= MOST:
            return
        if self._was_told(first, part):
            self._grains = deque([signal])
            return
        self._farthest = part, self._with_it(part, first, signal)
        evidence = self._evidence(track, part, first, signal)
        if not track.is_mains and not self._is_vouched_for(track, evidence["also"]):
            return
        self._from = first
        self._open = self._desk.log.open(signal.at_ns, "mains", None, self._left_ns(), None, evidence)
        self._newest_open = self._open
        self._take_in_quick(signal.at_ns, part)

    def _was_told(self, first: Grain, part: float) -> bool:
        """Whether a quick move since then, told of other points, comes to most of it, or is undone by it."""
        number = self._newest()
        found = None if number is None else self._desk.log.get(number)
        if found is None or not found.listed:
            return False
        told = found.evidence["relative"] / part
        if found.start_ns <= first.at_ns:
            meanwhile = found.end_ns is not None and first.first_ns <= found.end_ns
            return meanwhile and told < 0.0 and not found.evidence["stays"]
        return bool(told >= MOST_OF_IT)

    def _take_in_quick(self, at_ns: int, part: float) -> None:
        """What began quickly and went on slowly is one move."""
        log = self._desk.log
        assert self._open is not None
        start_ns = log.get(self._open).start_ns
        quick = self._began_quickly(start_ns, part)
        if quick is not None and quick != self._open:
            log.merge(at_ns, quick, self._open)
            log.amend(at_ns, self._open, start_ns=min(start_ns, log.get(quick).start_ns))

    def _is_vouched_for(self, track: Track, also: Sequence[str]) -> bool:
        """Whether a heater has one point with it; a supply every point, one of them apart from it."""
        if track.is_heater:
            return bool(also)
        others = [
            t.name
            for t in self._desk.tracks.values()
            if t is not track and t.is_supplied and not t.cold and t.fresh(self._desk.now_ns)
        ]
        apart = any(are_apart(self._desk.chart, track.name, name) for name in others)
        return apart and set(others) <= set(also)

    def _left_ns(self) -> int:
        """Where the grains bend: they lie level up to there and on a slope from there on."""
        t = np.array([0.5e-9 * (g.first_ns + g.at_ns) for g in self._grains])
        x = np.array([g.level for g in self._grains])
        best, bend = np.inf, 0
        for k in range(1, len(t)):
            level = x[:k].mean()
            age = t[k:] - t[k - 1]
            slope = float(age @ (x[k:] - level)) / float(age @ age)
            rest = ((x[:k] - level) ** 2).sum() + ((x[k:] - level - slope * age) ** 2).sum()
            if rest < best:
                best, bend = rest, k - 1
        return self._grains[bend].at_ns

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
        if abs(part) >= abs(self._farthest[0]):
            self._farthest = part, self._with_it(part, first, signal)
        newest = list(self._grains)[-FEW:]
        levels = [g.level for g in newest]
        self._desk.log.amend(signal.at_ns, self._open, evidence=self._evidence(track, part, first, signal))
        self._take_in_quick(signal.at_ns, part)
        if max(levels) - min(levels) <= STANDS * CREPT * abs(signal.level):
            self._over(newest[0].first_ns)
            self._grains = deque(newest)

    def carries_along(self, move: Move) -> bool:
        """Whether a point moved while the mains crept, the same way, as slowly and by no more."""
        found = None if self._newest_open is None else self._desk.log.get(self._newest_open)
        if found is None or not found.listed:
            return False
        meanwhile = found.start_ns <= move.start_ns <= (found.end_ns or self._desk.now_ns)
        part = found.evidence["relative"]
        no_more = move.relative * part > 0.0 and abs(move.relative) <= abs(part) and not move.abrupt
        return meanwhile and move.track.name in found.evidence["also"] and no_more

    def _over(self, end_ns: int) -> None:
        if self._open is not None:
            start_ns = self._desk.log.get(self._open).start_ns
            self._desk.log.close(self._desk.now_ns, self._open, max(end_ns, start_ns))
        self._open = self._from = None

    def _evidence(self, track: Track, part: float, first: Grain, signal: Grain) -> dict[str, Any]:
        most, also = self._farthest
        return {
            "relative": most,
            "shown_by": track.name,
            "also": also,
            "stays": part / most >= CAME_BACK,
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
            if ((track.grains[-1].level / before[-1].level - 1.0) - 0.5 * part) * part > 0.0:
                found.append(track.name)
        return found
