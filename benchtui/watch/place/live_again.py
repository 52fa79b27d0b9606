"""Whether a set that is told off is live after all: it is asked again and again as long as it is told off.

The eyes tell a rise from the cold. A cut so short that a slow meter shows it in a reading or two, a mark of
a switch-off that was none, a mains lead that has slipped: none of them ends with a rise that an eye tells.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from benchtui.model.readings import Floats, Ints

from .desk import Desk
from .track import BATTERY_V, Track
from .verdict import SURELY_LATE_S

EVERY_NS = 1_000_000_000
LOOK_BACK_NS, READINGS = 120_000_000_000, 6000
"""So far back one looks, and at most over so many readings."""
SURE_PART = 0.12
"""Part of the nominal value that a rise must reach before it counts as power: charge comes back by itself up
to about a tenth (dielectric absorption; common practice, no source)."""
TAKEN_NS = 10_000_000_000
"""An AC meter that has not read nothing for so long after power-off reads a live set: hands, and meters that
average, are late by less. Where a supply stood is what it read for so long before."""
NEAR, RISEN, HOLDS = 0.85, 1.1, 0.95
"""A supply is back at the first part of where it stood, if that is so many times the least since power-off,
and no less than the last part of its greatest since then."""
ALONE_NS = 20_000_000_000
"""A point that alone is measured may be an anode, which rises as its valve cools: so long after power-off it
has. Common practice, no source."""
STANDS_NS, FALLS_PART, STOOD_PART = 20_000_000_000, 0.005, 0.5
"""What has lost no more than the second part within so long, and is at least the last part of its nominal
value, is taken for fed, unless it repeats one reading: 10 megohms of a meter alone take as much out of 400
microfarads. Charge that stands still longer is taken for power too: the error is for live. Common practice,
no source."""
HELD = 8
"""So many equal readings of an AC meter, and no others since power-off, are one that it holds."""
FINE = 0.5
"""A count is at most this part of what it may lose; where it is more, longer is looked back on."""


class LiveAgain:
    """Calls `begin(start_ns, source)` when readings show that a set that is told off is live."""

    def __init__(self, desk: Desk, fills: Callable[[Track], bool], begin: Callable[[int, str], None]) -> None:
        """`fills`: whether what a point has may come from another that holds more. The source that `begin` is
        told is empty where nobody saw the set off."""
        self._desk = desk
        self._fills = fills
        self._begin = begin
        self._asks = False
        self._stood: dict[Track, float] = {}
        """What each point read in the last while before power-off."""

    def run_ends(self, off_ns: int) -> None:
        self._stood = {track: self._before(track, off_ns) for track in self._desk.tracks.values()}
        self.ask()

    @staticmethod
    def _before(track: Track, off_ns: int) -> float:
        first_ns = off_ns - TAKEN_NS - int(2e9 * track.period_s)
        _, x = track.segment.history.between(first_ns, off_ns)
        return float(np.median(np.abs(x))) if len(x) else 0.0

    def ask(self) -> None:
        """From now on, until the set runs or nothing is read any more: who sees readings asks anew."""
        desk = self._desk
        read = [t.period_s for t in desk.tracks.values() if t.fresh(desk.now_ns)]
        if read and not self._asks:
            self._asks = True
            desk.after(desk.now_ns + max(EVERY_NS, int(min(read) * 1e9)), self._look)

    def _look(self) -> None:
        desk = self._desk
        self._asks = False
        if desk.running:
            return
        found = self._fed() or self._back() or self._standing()
        if found is not None:
            self._begin(*found)
        else:
            self.ask()

    def _since_off(self, track: Track) -> tuple[Ints, Floats]:
        """Its readings of the last while, none before power-off, and how great they are."""
        desk = self._desk
        first_ns = desk.now_ns - min(LOOK_BACK_NS, int(READINGS * 1e9 * track.period_s))
        off_ns = -1 if desk.off_ns is None else desk.off_ns
        t, x = track.segment.history.between(max(first_ns, off_ns), desk.now_ns)
        return t, np.abs(x)

    def _fed(self) -> tuple[int, str] | None:
        """The mains or a heater reads again, or still does."""
        for track in self._desk.ac_meters():
            found = self._fed_since(track)
            if found is not None:
                return found
        return None

    def _fed_since(self, track: Track) -> tuple[int, str] | None:
        desk = self._desk
        off_ns = desk.off_ns
        t, x = self._since_off(track)
        if len(x) > HELD and bool((x == x[-1]).all()):
            return None
        size = abs(desk.wanted(track) or 0.0)
        nothing = np.flatnonzero(x <= max(track.segment.course.cold, SURE_PART * size))
        first = int(nothing[-1]) + 1 if len(nothing) else 0
        if len(t) - first < 2:
            return None
        since_ns, source = int(t[first]), "mains" if track.is_mains else "heater"
        if len(nothing):
            late_ns = int((SURELY_LATE_S + 2.0 * track.period_s) * 1e9)
            told = desk.now_ns - (since_ns if off_ns is None else off_ns) > late_ns
            return (since_ns, source) if told else None
        taken_ns = TAKEN_NS + int(2e9 * track.period_s)
        if int(t[-1]) - (since_ns if off_ns is None else off_ns) < taken_ns or not self._is_behind(track):
            return None
        return since_ns, "" if off_ns is None else source

    def _is_behind(self, track: Track) -> bool:
        """Whether an AC meter that was never seen to read nothing is behind the switch: a heater's is, the
        mains' if supplies are read and none has come down."""
        if not track.is_mains:
            return True
        supplies = self._supplies()
        known = self._desk.off_ns is not None and len(supplies) > 0
        return known and all(self._is_near(t) for t in supplies)

    def _supplies(self) -> list[Track]:
        """Those that are read now."""
        return [t for t in self._desk.tracks.values() if t.is_supplied and t.fresh(self._desk.now_ns)]

    def _is_near(self, track: Track) -> bool:
        """Whether a supply is near where it stood before power-off."""
        level = track.level(self._desk.now_ns) or 0.0
        return abs(level) >= max(NEAR * self._stood.get(track, 0.0), self._warm(track, SURE_PART))

    def _back(self) -> tuple[int, str] | None:
        """The supply with the greatest voltage has fallen, and is back near where it stood."""
        desk = self._desk
        supplies = self._supplies()
        if desk.off_ns is None or not supplies or desk.mains_is_dead() or desk.heaters_are_dead():
            return None
        if len(supplies) == 1 and desk.now_ns - desk.off_ns < ALONE_NS:
            return None
        track = max(supplies, key=lambda t: abs(t.point.nominal or 0.0))
        stood = self._stood.get(track, 0.0)
        t, x = self._since_off(track)
        if len(x) < 3 or stood <= self._warm(track, SURE_PART) or desk.chart.feeds(track.name):
            return None
        low = int(np.argmin(x))
        after = x[low + 1 :]
        if len(after) < 2 or min(after[-2:]) < max(NEAR * stood, RISEN * x[low]):
            return None
        if after[-1] < HOLDS * after.max() or self._fills(track) or any(map(self._is_down, supplies)):
            return None
        return int(t[low]), "rise"

    def _is_down(self, track: Track) -> bool:
        """Whether a supply has lost most of what it had: what another shows beside it is no return."""
        _, x = self._since_off(track)
        return len(x) > 0 and bool(x[-1] <= STOOD_PART * self._stood.get(track, 0.0))

    @staticmethod
    def _warm(track: Track, part: float) -> float:
        return max(part * abs(track.point.nominal or 0.0), 3.0 * track.segment.course.cold)

    def _standing(self) -> tuple[int, str] | None:
        """A supply that loses nothing is fed, whatever the AC meters read: a lead may have slipped."""
        desk = self._desk
        ac = desk.ac_meters()
        heaters = any(t.is_heater for t in ac)
        if heaters and desk.has_mains_meter and all(t.reads_nothing(desk.now_ns) for t in ac):
            return None
        supplies = self._supplies()
        higher = any(abs(t.point.nominal or 0.0) > BATTERY_V for t in supplies)
        for track in supplies:
            if not track.trouble and not (higher and track.may_be_battery):
                since_ns = self._stands_since(track)
                if since_ns is not None and not self._fills(track):
                    return since_ns, "" if desk.off_ns is None else "rise"
        return None

    def _stands_since(self, track: Track) -> int | None:
        t, x = self._since_off(track)
        level = float(np.median(x[-3:])) if len(x) else 0.0
        if not len(x) or level < max(self._warm(track, STOOD_PART), NEAR * self._stood.get(track, 0.0)):
            return None
        coarse = max(track.step / (FINE * FALLS_PART * level), 1.0)
        wide_ns = int(max(coarse * STANDS_NS, 12e9 * track.period_s))
        if int(t[0]) > self._desk.now_ns - wide_ns - ALONE_NS // 2:
            return None
        rows = np.searchsorted(t, self._desk.now_ns - wide_ns * np.arange(4, -1, -1) // 4)
        parts = [x[a:b] for a, b in pairwise(rows.tolist())]
        if min(len(part) for part in parts) < 2 or bool((x[rows[0] :] == x[-1]).all()):
            return None
        stood = [float(np.median(part)) for part in parts]
        if min(stood) < NEAR * level:
            return None
        below = np.flatnonzero(x < STOOD_PART * level)
        first = max(int(rows[0]), int(below[-1]) + 1 if len(below) else 0)
        fell = 1.0 - min(stood[-1], level) / max(stood)
        return int(t[first]) if fell <= coarse * FALLS_PART else None
