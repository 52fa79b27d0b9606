"""The desk as it stood at an instant, for predictions: mains, scales, courses. Nothing later is looked at.

Answers are kept for as long as their instant is asked for, so everything here hangs on that instant alone and
not on when somebody first asked.
"""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Bools, Floats
from benchtui.model.units import Unit
from benchtui.watch.place.banding import loading
from benchtui.watch.place.desk import Desk
from benchtui.watch.place.track import Track

from .binned import Binned, Bins

FRESH_NS = 12_000_000_000
"""A point without readings for so long tells nothing."""
NEWEST_NS = 20_000_000_000
BEHIND_NS = 4_000_000_000
"""Bins are closed so long after their readings, since answers are as of some time ago."""
MAINS_IN = 0.5
"""Below this part of the chart's mains its meter has not yet seen the power come."""
ODD, AROUND = 0.03, 2
"""A bin is left out where it stands so far (part of the scale) from the median of its neighbours on each
side: a blink, a slipped lead. A course that only rises or only falls is its own median."""


class Outlook:
    """The present run of one session."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._run: dict[str, Binned] = {}
        self._mains_before: float | None = None

    def run_begins(self) -> None:
        """Forgets the run before."""
        self._run.clear()

    def lead_gone(self, point: str) -> None:
        """Forgets the point."""
        self._run.pop(point, None)

    def take(self, track: Track, upto_ns: int) -> None:
        """Takes the readings up to the end of a grain."""
        run = self._binned(track)
        upto_ns -= BEHIND_NS
        if not run.over and upto_ns > run.taken_ns:
            run.take(*track.segment.history.between(run.taken_ns, upto_ns), upto_ns)

    def _binned(self, track: Track) -> Binned:
        on_ns = self.desk.on_ns or 0
        run = self._run.get(track.name)
        if run is None:
            run = self._run[track.name] = Binned(on_ns)
            run.taken_ns = max(on_ns, track.segment.since_ns) - 1
        return run

    def bins(self, track: Track, asof_ns: int) -> Bins:
        """The run so far of a point; after the last bin that is kept, one more of the newest readings."""
        run = self._binned(track)
        found = run.seen(*track.segment.history.between(run.taken_ns, asof_ns))
        if not run.ends_ns < asof_ns:
            return found
        t, x = track.segment.history.between(asof_ns - NEWEST_NS, asof_ns)
        if not len(t):
            return found
        values = np.sort(x)
        age = float((t - run.since_ns).mean()) * 1e-9
        return found.plus(age, float(values[len(values) // 2]), float(len(t)))

    def is_fresh(self, track: Track, asof_ns: int) -> bool:
        """Whether the point had been read lately."""
        newest = track.newest(asof_ns)
        return newest is not None and asof_ns - newest[0] < FRESH_NS

    def scale(self, track: Track) -> float | None:
        """What the chart says of the point at the chart's mains, as this meter would show it."""
        nominal = track.point.nominal
        if not nominal:
            return None
        return nominal * loading(self.desk, track)

    def run_ends(self, off_ns: int) -> None:
        """Remembers the mains of the run."""
        factor = self._factor(off_ns)
        self._mains_before = factor if factor is not None else self._mains_before

    def mains_now(self, track: Track, asof_ns: int) -> float:
        """The mains as a part of the chart's; as in the run before, or 1, where it is not measured yet."""
        if not track.point.follows_mains:
            return 1.0
        factor = self._factor(asof_ns)
        return factor or self._mains_before or 1.0

    def mains_over(self, track: Track, t: Floats, asof_ns: int) -> Floats | None:
        """The same at each of these ages; None where it is not measured, or does not move the point."""
        if not track.point.follows_mains or self._factor(asof_ns) is None:
            return None
        mains, wanted = self._mains()
        assert mains is not None
        bins = self.bins(mains, asof_ns)
        on = bins.y > MAINS_IN * wanted
        on[: int(np.argmax(on)) + 1] = False
        if not on.any():
            return None
        course: Floats = np.interp(t, bins.t[on], bins.y[on]) / wanted
        return course

    def _factor(self, asof_ns: int) -> float | None:
        """From the newest readings; the first of a run is left out, since it may average over the switch."""
        mains, wanted = self._mains()
        if mains is None or not self.is_fresh(mains, asof_ns):
            return None
        _, x = mains.segment.history.between(max(self.desk.on_ns or 0, asof_ns - FRESH_NS), asof_ns)
        up = x[x > MAINS_IN * wanted]
        if len(up) < 2:
            return None
        newest = np.sort(up[max(1, len(up) - 5) :])
        level: float = newest[len(newest) // 2].item()
        return level / wanted

    def _mains(self) -> tuple[Track | None, float]:
        """The point that is the mains, and what the chart says it should be."""
        mains = next((t for t in self.desk.tracks.values() if t.is_mains), None)
        wanted = self.desk.chart.mains or (mains.point.nominal if mains is not None else None)
        return (None, 1.0) if not wanted else (mains, wanted)

    def is_small(self, track: Track) -> bool:
        """Whether the point reads little beside the supplies, as a bias resistor does."""
        most = max((abs(p.nominal or 0.0) for p in self.desk.chart.points if p.unit is Unit.V), default=0.0)
        return abs(track.point.nominal or most) < SMALL * most

    def loaded_beside(self, track: Track, asof_ns: int) -> list[Track]:
        """The other points of the set that its valves load."""
        others = [t for t in self.desk.tracks.values() if t is not track and is_loaded(t)]
        return [t for t in others if self.is_fresh(t, asof_ns)]


SMALL = 0.15
"""A point below this part of the highest supply carries a valve's current rather than feeds it."""


def is_loaded(track: Track) -> bool:
    """Whether load valves move the point: a supply or a cathode, no bias, regulator or programme."""
    point = track.point
    return track.unit is Unit.V and not point.moves and point.glow is None and (point.nominal or 0.0) >= 0.0


def ordinary(y: Floats, noise: float) -> Bools:
    """Which bins stand with their neighbours."""
    if len(y) < 2 * AROUND + 1:
        return np.ones(len(y), dtype=np.bool_)
    padded = np.concatenate((np.full(AROUND, y[0]), y, np.full(AROUND, y[-1])))
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * AROUND + 1)
    stands: Bools = np.abs(y - np.sort(windows, axis=1)[:, AROUND]) <= max(ODD, 4.0 * noise)
    return stands
