"""Whether a set is being brought up on a variable transformer, where no mains meter tells.

Common practice, no source.
"""

from __future__ import annotations

from benchtui.watch.signals import Grain

from .cluster import Cluster
from .depth import SUDDEN
from .desk import Desk
from .news import WARM_S
from .track import Track
from .verdict import OTHERS_STOOD

RAISED, BELOW, FAR_BELOW, AGAIN_S = 0.03, 0.9, 0.75, 150.0
"""A common rise by this part of supplies below the second part of their chart, or of one below the third, is
the hand on the transformer; the set is being brought up until so long after the last."""
UP_S, HALF = 20.0, 0.6
"""Supplies that have come no further by then than this part of their chart may yet be turned up.
Common practice, no source."""
ABRUPT = 0.12
"""A fall by this part at once is no turn of the transformer."""
CLIMB_NS = 30_000_000_000
"""What rises by a turn within so long, when it has long been warm, is turned up."""
FULL, AGAIN = 1.05, 0.01
"""So far up the last turn may bring the supplies of the chart; what rises by the second part soon after that
is the next. Common practice, no source."""


class Raising:
    """Says on the desk that the set is being brought up (`raised_ns`) or may be about to (`low_since_ns`)."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._last_ns: int | None = None
        """When the points last rose by a step in this run."""
        self._was_full = False
        """Whether anything that goes with the mains has been near its chart in this run."""

    def run_begins(self) -> None:
        self._last_ns = None
        self._was_full = False
        self._desk.raised_ns = self._desk.low_since_ns = None

    def mains_moved(self, cluster: Cluster) -> None:
        """The points together have shown a move of the mains that no meter of its own shows."""
        self._rises(cluster, BELOW)

    def is_raised(self, cluster: Cluster) -> bool:
        """Whether what looks like a fault is the hand on the transformer, which not every meter shows yet.

        It is not where one falls away while another, that goes with the mains as well, stands; nor where one
        rises so and nothing is known to be turned up now.
        """
        least = ABRUPT if cluster.largest.end_ns is not None else SUDDEN
        relative = cluster.largest.relative
        far = relative <= -least or (relative >= least and self._desk.raised_ns is None)
        if cluster.why == OTHERS_STOOD and far:
            return False
        last_ns = self._last_ns
        lately = last_ns is not None and cluster.start_ns - last_ns <= AGAIN_S * 1e9
        lately = lately or (self._desk.low_since_ns is not None and not self._was_full)
        if self._rises(cluster, FULL, AGAIN) if lately else self._rises(cluster, FAR_BELOW):
            return True
        return self._desk.raised_ns is not None

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of a point is full."""
        desk = self._desk
        raised_ns = desk.raised_ns
        if raised_ns is not None and (desk.now_ns - raised_ns > AGAIN_S * 1e9 or not self._is_low(BELOW)):
            desk.raised_ns = None
        if not desk.running or desk.on_ns is None or desk.mains() is not None:
            return
        if not self._was_full:
            self._was_full = (self._highest() or 0.0) >= BELOW
        if track.is_supplied and track.point.nominal and not track.trouble and self._climbs(track, signal):
            desk.raised_ns = self._last_ns = desk.now_ns
        elif self._begins_low(track, signal):
            desk.low_since_ns = desk.now_ns

    def _rises(self, cluster: Cluster, below: float, least: float = RAISED) -> bool:
        desk = self._desk
        if desk.mains() is not None or cluster.largest.relative < least or not self._is_low(below):
            return False
        desk.raised_ns = self._last_ns = desk.now_ns
        return True

    def _is_low(self, below: float) -> bool:
        """Whether what goes with the mains is read, and stands below this part of its chart."""
        highest = self._highest()
        return highest is not None and highest < below

    def _highest(self) -> float | None:
        """The heater or first supply that stands highest, as a part of its chart; None where none is read.

        What they feed may stand above its chart as long as no valve draws.
        """
        now, heaters = self._desk.now_ns, [t for t in self._read() if t.is_heater]
        told = (*heaters, *self._first_supplies())
        return max(((t.level(now) or 0.0) / (t.point.nominal or 1.0) for t in told), default=None)

    def _read(self) -> list[Track]:
        """The charted points with a fresh reading."""
        now = self._desk.now_ns
        return [t for t in self._desk.tracks.values() if t.point.nominal and t.fresh(now)]

    def _first_supplies(self) -> list[Track]:
        """Those read that feed others, or at least are fed by none, which none of them feeds."""
        chart = self._desk.chart
        volts = [t for t in self._read() if t.is_supplied and not t.is_small]
        supplies = [t for t in volts if chart.carries(t.name) > 0] or [
            t for t in volts if not chart.feeds(t.name)
        ]
        names = {t.name for t in supplies}
        return [t for t in supplies if not names & set(chart.feeds(t.name))]

    def _begins_low(self, track: Track, signal: Grain) -> bool:
        """Whether all that goes with the mains has stood far below its chart since power-on: the transformer
        has not been turned up yet. A heater winding tells it at once, supplies once they are up."""
        desk = self._desk
        known = desk.raised_ns is not None or desk.low_since_ns is not None
        if known or self._was_full or not signal.steady:
            return False
        if track.is_heater:
            nominal = abs(track.point.nominal or 0.0)
            return track.segment.course.cold < abs(signal.level) < FAR_BELOW * nominal
        unfed = (t for t in desk.tracks.values() if t.is_supplied and not desk.chart.feeds(t.name))
        if any(abs(t.level(desk.now_ns) or 0.0) >= BELOW * abs(t.point.nominal or 1e9) for t in unfed):
            return False
        return not track.cold and desk.age_s(signal.first_ns) >= UP_S and self._is_low(HALF)

    def _climbs(self, track: Track, signal: Grain) -> bool:
        """Whether a first supply climbs to where it has not been, still far below its chart, when long warm.

        No single turn of the transformer stands out where they come thick and fast.
        """
        desk = self._desk
        if desk.age_s(signal.first_ns) < WARM_S:
            return False
        before = [abs(g.level) for g in track.grains if g.at_ns <= signal.at_ns - CLIMB_NS]
        if signal.away or not before or not max(before) or abs(signal.level) < (1.0 + RAISED) * max(before):
            return False
        return track in self._first_supplies() and self._is_low(BELOW)
