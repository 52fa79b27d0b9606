"""Small steps of the mains that no eye tells by itself: points that share nothing else show them together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats
from benchtui.watch.signals import Followed

from .desk import Desk
from .gathered import Gathered
from .kinship import alike, are_apart, may_follow_unsaid
from .track import Track

LEAST, MOST = 0.012, 0.03
"""A step of the first part is more than a mains wanders by within seconds; one of more than the second is
told by the eyes. Common practice, no source."""
BEFORE_NS, AFTER_NS, EDGE_NS = 8_000_000_000, 6_000_000_000, 1_500_000_000
"""What is compared: so long before and after, without so much on either side of the step itself."""
FEWEST = 3
"""So many readings at least on either side."""
FLAT, NOISES = 0.25, 4.0
"""Neither side wanders by more than this part of the step, which is so many times what noise makes."""
SAME_NS = 4_000_000_000
"""A step that was told of one point so shortly before or after is the same. Common practice, no source."""
ALIKE, STOOD = 0.5, 0.25
"""Who went by the first part of it went with it; who went by less than the second did not."""


@dataclass(frozen=True, slots=True)
class _Shift:
    track: Track
    part: float
    flat: bool


class Shifts:
    """Opens `mains` for a small step, and closes it: it stays."""

    def __init__(self, desk: Desk, gathered: Gathered) -> None:
        self._desk = desk
        self._gathered = gathered
        self._until_ns = 0

    def run_begins(self) -> None:
        self._until_ns = 0

    def followed(self, track: Track, signal: Followed) -> None:
        """The eye on a point has followed a small move: in a while it is asked whether others did."""
        desk, at_ns = self._desk, signal.at_ns
        if not desk.running or desk.being_brought_up or not self._may_tell(track) or at_ns < self._until_ns:
            return
        self._until_ns, run = at_ns + AFTER_NS, desk.run

        def look() -> None:
            if desk.running and desk.run == run:
                self._look(at_ns)

        desk.after(at_ns + AFTER_NS, look)

    @staticmethod
    def _may_tell(track: Track) -> bool:
        steady = track.settled_ns is not None or track.shows_mains
        return steady and track.unit.is_voltage and track.point.follows_mains and not track.point.moves

    def _look(self, at_ns: int) -> None:
        desk = self._desk
        if self._gathered.mains_moved(at_ns - BEFORE_NS, desk.now_ns):
            return
        shifts = [s for t in desk.tracks.values() if self._may_tell(t) and (s := self._shift(t, at_ns))]
        led = max(shifts, key=lambda s: (s.flat, s.track.is_mains, abs(s.part)), default=None)
        if led is None or not led.flat or not LEAST <= abs(led.part) <= MOST:
            return
        chart = desk.chart
        if may_follow_unsaid(chart, led.track):
            return
        if not all(self._agrees(t, shifts, led) for t in desk.ac_meters()):
            return
        others = [s for s in shifts if s is not led and are_apart(chart, led.track.name, s.track.name)]
        others = [s for s in others if not may_follow_unsaid(chart, s.track)]
        along = [s for s in others if s.flat and ALIKE <= s.part / led.part <= 1.0 / ALIKE]
        if not along or any(s.part / led.part < STOOD for s in others if not s.track.is_small):
            return
        with_it = [s for s in shifts if s is not led and s.part / led.part >= ALIKE]
        evidence = {
            "relative": led.part,
            "shown_by": led.track.name,
            "also": [s.track.name for s in with_it if not s.track.is_mains],
            "stays": True,
            "why": "points with nothing in common but the mains stepped together",
        }
        start_ns = at_ns - int(1e9 * led.track.period_s)
        number = desk.log.open(desk.now_ns, "mains", None, start_ns, None, evidence)
        desk.log.close(desk.now_ns, number, at_ns)
        self._take_in(number, at_ns, led, {s.track.name for s in (led, *with_it)})

    @staticmethod
    def _agrees(meter: Track, shifts: Sequence[_Shift], led: _Shift) -> bool:
        """Whether an AC meter has read enough to tell, and went along."""
        return any(s.track is meter and s.part / led.part >= ALIKE for s in shifts)

    def _take_in(self, number: int, at_ns: int, led: _Shift, names: set[str]) -> None:
        """A step that one of these points was told of alone is the mains'."""
        for cluster in self._gathered.lately:
            root, told = cluster.root, cluster.finding
            if cluster.what != "fault" or root is None or told is None:
                continue
            if abs(root.start_ns - at_ns) > SAME_NS or not alike(root.relative, led.part):
                continue
            if {m.track.name for m in cluster.moves} <= names and self._desk.log.get(told).kind == "step":
                self._desk.log.merge(self._desk.now_ns, told, number)
                cluster.what, cluster.finding, cluster.root = "carried", None, None

    def _shift(self, track: Track, at_ns: int) -> _Shift | None:
        """By what part of its level a point went; None where its meter does not say."""
        history = track.segment.history
        _, before = history.between(at_ns - BEFORE_NS, at_ns - EDGE_NS)
        _, after = history.between(at_ns + EDGE_NS, at_ns + AFTER_NS)
        few = min(len(before), len(after)) < FEWEST or not track.grains
        if few or track.trouble or track.cold:
            return None
        was, now = float(np.median(before)), float(np.median(after))
        if abs(was) <= track.segment.course.cold:
            return None
        size, noise = abs(now - was), track.grains[-1].flutter
        scatter = noise * (1.0 / len(before) + 1.0 / len(after)) ** 0.5
        sure = size > max(NOISES * scatter, 1.5 * track.step)
        swing = max(_swing(before), _swing(after))
        return _Shift(track, now / was - 1.0, sure and swing <= max(FLAT * size, track.step))


def _swing(x: Floats) -> float:
    """How far the later half of some readings is from the earlier."""
    half = (len(x) + 1) // 2
    return abs(float(np.median(x[half:])) - float(np.median(x[:half])))
