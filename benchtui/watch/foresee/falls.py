"""Discharges after power-off: when a point will be below the warning level; one tells of the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats
from benchtui.model.units import Unit
from benchtui.watch.place.desk import Desk
from benchtui.watch.place.track import Track
from benchtui.watch.signals import Grain

from .binned import Binned, Bins
from .cooling import Below, Curve, Falling, follow, foresee_below, ways
from .network import bleeder_at
from .noise import noise_of
from .rates import STOPS, fell_off, level_before, rate_at_last, spacing_s

EDGES_S: Floats = np.concatenate(
    (np.arange(0.0, 10.0, 0.25), np.arange(10.0, 30.0, 1.0), np.geomspace(30.0, 7200.0, 60))
)
"""Bins of a discharge, in seconds since power-off."""
BEFORE_NS = 1_000_000_000
"""Readings so shortly before a power-off may already fall."""
DONE_NS = 60_000_000_000
"""A point that is cold so long after a power-off has nothing more to tell."""
TICK_NS = 500_000_000
"""An answer holds for so long."""
ENOUGH = 0.5
"""Nothing is learnt of a discharge below this part of the warning level."""
WARM_S = 30.0
"""After so long with power the valves conduct."""
BLEEDER_SD = 0.2
"""How surely the chart's parts tell the bleeder's rate: old electrolytics are off by a fifth and more."""
LAGS, SENT_S = 0.3, 0.1
"""By this part of the time between two readings a reading is behind, being an average over some of it; so
long its conversion and its way take. Common practice, no source."""
AS_BEFORE = "as after the run before"
LATEST_UNKNOWN = "at latest unknown: no bleeder in the chart, no earlier power-off"
METERS_ALONE = "no bleeder in the chart but the meters themselves"
FELL_OFF = "it fell to nothing in one reading: is the lead on it?"
NO_LEVEL = "there is no level to be below"
COMES_BACK = "the charge comes back: discharge it again and leave it shorted"
BLEEDER_GONE = "at latest unknown: it falls slower than the bleeder in the chart allows"


@dataclass(frozen=True, slots=True, eq=False)
class Fell:
    """An earlier discharge of a point."""

    curve: Curve
    on_for_s: float


class Falls:
    """The discharges of one session."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._now: dict[str, Binned] = {}
        self._before: dict[str, Fell] = {}
        self._kept: dict[str, tuple[int, Track, Below | None, str, bool]] = {}
        self._on_for_s = 0.0
        self._off_ns: int | None = None
        self._levels: dict[str, float] = {}
        """What each point read before the power went."""

    def run_begins(self, at_ns: int) -> None:
        """The power is back: what was read of the discharge is remembered."""
        for track in self._desk.tracks.values():
            fall = self._now.get(track.name)
            if fall is not None and not self._fell_off(track, fall, at_ns - 1):
                self._keep(track, self._bins(track, fall, at_ns - 1), self._levels.get(track.name, 0.0))
        self._now.clear()
        self._kept.clear()
        self._off_ns = None

    def run_ends(self, off_ns: int) -> None:
        """The power is off."""
        on_ns = self._desk.on_ns
        self._on_for_s = (off_ns - on_ns) * 1e-9 if on_ns is not None else 1e9
        self._now.clear()
        self._kept.clear()
        self._off_ns = off_ns
        self._levels = {t.name: self._level_off(t) for t in self._desk.tracks.values() if t.unit is Unit.V}

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of readings is full."""
        fall = self._fall(track)
        if fall is None or fall.over:
            return
        if track.cold and signal.at_ns - fall.since_ns > DONE_NS:
            fall.taken_ns = signal.at_ns
            return
        upto_ns = signal.at_ns - 2 * TICK_NS
        if upto_ns > fall.taken_ns:
            fall.take(*track.segment.history.between(fall.taken_ns, upto_ns), upto_ns)

    def lead_gone(self, point: str) -> None:
        """The lead of a meter has left this point."""
        self._now.pop(point, None)
        self._kept.clear()

    def below(self, track: Track) -> tuple[Below | None, str, bool]:
        """When it will be below, in seconds since power-off; on what grounds; whether the latest is known."""
        desk, fall = self._desk, self._fall(track)
        if desk.running or desk.off_ns is None or fall is None or not track.fresh(desk.now_ns):
            return None, "", False
        if desk.settings.warn_above <= 0.0:
            return None, NO_LEVEL, False
        level = track.level(desk.now_ns)
        if level is None or abs(level) <= desk.settings.warn_above:
            return None, FELL_OFF if self._fell_off(track, fall, desk.now_ns) else "", False
        asof = desk.now_ns - (desk.now_ns - desk.off_ns) % TICK_NS
        found, why, known = self._by_itself(track, fall, asof)
        if found is not None and known and why != AS_BEFORE:
            found = found.no_sooner(self._feeds(track, asof))
        return found, "" if why == AS_BEFORE else why, known

    def _by_itself(self, track: Track, fall: Binned, asof_ns: int) -> tuple[Below | None, str, bool]:
        kept = self._kept.get(track.name)
        if kept is None or kept[0] != asof_ns or kept[1] is not track:
            kept = (asof_ns, track, *self._foreseen(track, fall, asof_ns))
            self._kept[track.name] = kept
        return kept[2], kept[3], kept[4]

    def _feeds(self, track: Track, asof_ns: int) -> float:
        """How long the point's feeds may stay up: once its own valves stop, it comes up to them."""
        longest = 0.0
        for name in self._desk.chart.feeds(track.name):
            feed = self._desk.tracks.get(name)
            fall = self._fall(feed) if feed is not None and feed.fresh(self._desk.now_ns) else None
            if feed is not None and fall is not None:
                found, _, known = self._by_itself(feed, fall, asof_ns)
                longest = max(longest, found.at_high_s if found is not None and known else 0.0)
        return longest

    def _fell_off(self, track: Track, fall: Binned, until_ns: int) -> bool:
        t, x = track.segment.history.between(fall.since_ns - BEFORE_NS, until_ns)
        return fell_off(t, x, self._desk.settings.warn_above)

    def _fall(self, track: Track) -> Binned | None:
        if self._off_ns is None or track.unit is not Unit.V:
            return None
        fall = self._now.get(track.name)
        if fall is None:
            fall = self._now[track.name] = Binned(self._off_ns, EDGES_S)
            fall.taken_ns = max(self._off_ns, track.segment.since_ns) - 1
        return fall

    def _bins(self, track: Track, fall: Binned, asof_ns: int) -> Bins:
        return fall.seen(*track.segment.history.between(fall.taken_ns, asof_ns))

    def _foreseen(self, track: Track, fall: Binned, asof_ns: int) -> tuple[Below | None, str, bool]:
        bins = self._bins(track, fall, asof_ns)
        falling = self._falling(track, bins, asof_ns, (asof_ns - fall.since_ns) * 1e-9)
        before = self._before.get(track.name)
        if before is not None and self._as_warm(before.on_for_s):
            found = follow(falling, before.curve, self._levels.get(track.name, before.curve.before))
            if found is not None:
                lag_s = SENT_S + LAGS * spacing_s(track, asof_ns)
                return found.sooner(lag_s, falling.now_s), AS_BEFORE, True
        if len(falling.t) < 2:
            return None, "too few readings yet", False
        low = bins.t[np.abs(bins.y) < falling.below]
        if len(low) and abs(bins.y[-1]) > falling.below:
            return None, COMES_BACK, False
        bleeder = bleeder_at(self._desk, track.name)
        why = "" if bleeder is not None else LATEST_UNKNOWN
        if bleeder is not None and rate_at_last(falling) < STOPS * bleeder.rate:
            bleeder, why = None, BLEEDER_GONE
        found, _ = foresee_below(falling, ways(bleeder.rate if bleeder is not None else None, BLEEDER_SD))
        if bleeder is not None and bleeder.by_meters_alone:
            why = METERS_ALONE
        return found, why, bleeder is not None

    def _falling(self, track: Track, bins: Bins, asof_ns: int, age_s: float) -> Falling:
        level = self._desk.settings.warn_above
        size = np.abs(bins.y)
        use = size > ENOUGH * level
        step = track.segment.history.step_at(asof_ns)
        noise = max(noise_of(track, asof_ns), 0.3 * step)
        variance = (noise / size[use]) ** 2 / bins.n[use] + (0.3 * step / size[use]) ** 2 + 1e-6
        return Falling(bins.t[use], size[use], variance, age_s, level)

    def _as_warm(self, on_for_s: float) -> bool:
        one, other = self._on_for_s, on_for_s
        return min(one, other) >= WARM_S or abs(one - other) < 0.3 * min(one, other)

    def _level_off(self, track: Track) -> float:
        """What the point read before the power went."""
        fall = self._fall(track)
        return level_before(track, (fall.since_ns if fall is not None else self._desk.now_ns) - BEFORE_NS)

    def _keep(self, track: Track, bins: Bins, level: float) -> None:
        """Remembers a discharge, but none that tells less than what is known already."""
        size = np.maximum(np.abs(bins.y), 1e-9)
        low = ENOUGH * self._desk.settings.warn_above
        if len(bins) < 4 or level < 2.0 * low or size.max() < 2.0 * low:
            return
        end = np.flatnonzero(size < low)
        last = int(end[0]) + 1 if len(end) else len(bins)
        curve = Curve(bins.t[:last], np.log(size[:last]), level)
        old = self._before.get(track.name)
        if old is None or len(end) or curve.log_v[-1] < old.curve.log_v[-1]:
            self._before[track.name] = Fell(curve, self._on_for_s)
