"""Where a warming point will stay and when, and when a discharging one will be below the warning level.

Asked when someone looks: a pure function of the readings up to the desk's instant, so that no cut of the
timeline can change an answer. Predictions are no findings.
"""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Floats
from benchtui.model.units import Unit
from benchtui.watch.place.banding import band
from benchtui.watch.place.desk import Desk, Track
from benchtui.watch.signals import Grain

from .binned import Binned, Bins
from .falls import Falls
from .noise import noise_of
from .onset import tells
from .prior import Last, levels_of, shapes_of
from .warming import Course, Explored, Outcome, Seen, conclude, explore

BEFORE = "nothing measured yet of the loaded value: chart (or last run) only"
WARM_S = 25.0
"""After a pause so short the valves still conduct."""
MAINS_IN = 0.5
"""Below this part of the chart's mains its meter has not yet seen the power come."""
TICK_NS = 250_000_000
"""A prediction holds for so long: what came since is left to the next."""
LEADING = ("solid", "direct")
SMALL = 0.15
HIDDEN_WAY = 0.35
"""What the load takes where the rectifier rises with it, so that the way is never seen."""
UNMEASURED = 0.003
"""What a mains that nobody measures moves in a minute or two."""

Answer = tuple[dict[str, float] | None, str | None]
"""What is foreseen, and why not or on what grounds."""


class Foresight:
    """Predictions of one session."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._run: dict[str, Binned] = {}
        """The run so far, by point."""
        self._last: dict[str, Last] = {}
        self._own: dict[str, tuple[int, Track, tuple[Explored, float] | None]] = {}
        self._kept: dict[str, tuple[int, Track, Outcome, float]] = {}
        """The answers of this tick."""
        self._falls = Falls(desk)
        self._pause_s = 1e9

    def run_begins(self, at_ns: int) -> None:
        """A run begins."""
        self._falls.run_begins(at_ns)
        offs = [last.off_ns for last in self._last.values()]
        self._pause_s = (at_ns - max(offs)) * 1e-9 if offs else 1e9
        self._run = {}
        self._kept.clear()
        self._own.clear()

    def run_ends(self, off_ns: int) -> None:
        """A run ends: what it has told of this set is remembered."""
        for track in list(self._desk.tracks.values()):
            if track.unit is Unit.V and not track.point.moves:
                self._remember(track, off_ns)
        self._falls.run_ends(off_ns)

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of readings is full."""
        if self._desk.running and self._desk.on_ns is not None and track.unit is not Unit.STATE:
            run = self._binned(track)
            t, x = track.segment.history.between(run.taken_ns, signal.at_ns)
            run.take(t, x, signal.at_ns)
        elif not self._desk.running:
            self._falls.grain(track, signal)

    def lead_gone(self, point: str) -> None:
        """The lead of a meter has left this point."""
        self._falls.lead_gone(point)
        self._run.pop(point, None)
        self._kept.pop(point, None)
        self._own.pop(point, None)

    def predicted(self, track: Track) -> Answer:
        """The settled value with its 95 % bounds, and when it will be reached; None once settled."""
        desk, point = self._desk, track.point
        if not desk.running or track.settled_ns is not None or track.unit is not Unit.V or point.moves:
            return None, None
        if desk.on_ns is None:
            return None, "the run began before the record"
        asof = desk.now_ns - (desk.now_ns - desk.on_ns) % TICK_NS
        found, scale, why = self._outcome(track, asof)
        if found is None:
            return None, why
        ends = sorted((found.low * scale, found.high * scale))
        on_s = desk.on_ns / 1e9
        told = {
            "value": found.value * scale,
            "low": ends[0],
            "high": ends[1],
            "at_s": on_s + found.at_s,
            "at_low_s": on_s + found.at_low_s,
            "at_high_s": on_s + found.at_high_s,
        }
        return told, BEFORE if found.conducting < 0.1 else None

    def bleed(self, track: Track, guess: bool = False) -> Answer:
        """When the point will be below the warning level after power-off; None where it can't be told.

        `guess`: also where the latest is not known, `at_high_s` being what a stranger would bet on; the why
        then says so. Without it such an answer is None: nobody is to be told to wait so long and no longer.
        """
        desk = self._desk
        found, why, known = self._falls.below(track)
        if found is None or desk.off_ns is None or not (known or guess):
            return None, why or None
        off_s = desk.off_ns / 1e9
        told = {
            "below": desk.settings.warn_above,
            "at_s": off_s + found.at_s,
            "at_low_s": off_s + found.at_low_s,
            "at_high_s": off_s + found.at_high_s,
        }
        return told, why or None

    # -- the run so far

    def _binned(self, track: Track) -> Binned:
        assert self._desk.on_ns is not None
        run = self._run.get(track.name)
        if run is None:
            since = max(self._desk.on_ns, track.segment.since_ns)
            run = self._run[track.name] = Binned(self._desk.on_ns)
            run.taken_ns = since - 1
        return run

    def _bins(self, track: Track, asof_ns: int) -> Bins:
        run = self._binned(track)
        return run.seen(*track.segment.history.between(run.taken_ns, asof_ns))

    def _outcome(self, track: Track, asof_ns: int) -> tuple[Outcome | None, float, str]:
        kept = self._kept.get(track.name)
        if kept is not None and kept[0] == asof_ns and kept[1] is track:
            return kept[2], kept[3], ""
        found = self._explored(track, asof_ns)
        if found is None:
            return None, 0.0, "no value in the chart to begin with"
        votes = [e[0].vote() for t in self._beside(track) if (e := self._explored(t, asof_ns)) is not None]
        outcome = conclude(found[0], votes)
        scale = found[1] * (self._mains_now(track) or 1.0)
        self._kept[track.name] = (asof_ns, track, outcome, scale)
        return outcome, scale, ""

    def _explored(self, track: Track, asof_ns: int) -> tuple[Explored, float] | None:
        kept = self._own.get(track.name)
        if kept is not None and kept[0] == asof_ns and kept[1] is track:
            return kept[2]
        scale = self._scale(track)
        found = None
        if scale is not None:
            found = self._explore(track, self._bins(track, asof_ns), scale, asof_ns), scale
        self._own[track.name] = (asof_ns, track, found)
        return found

    def _beside(self, track: Track) -> list[Track]:
        """The other points of the set that its load valves load."""
        return [
            other
            for other in self._desk.tracks.values()
            if other is not track and _is_loaded(other) and other.fresh(self._desk.now_ns)
        ]

    def _scale(self, track: Track) -> float | None:
        """What the chart (or the last run) says of the point at the chart's mains, as this meter shows it."""
        held = band(self._desk, track)
        if held.nominal:
            factor = self._desk.mains_factor()
            applied = track.point.follows_mains and not track.is_mains and not held.why
            return held.nominal / (factor if factor is not None and applied else 1.0)
        last = self._last.get(track.name)
        return last.settled if last is not None else None

    def _mains_now(self, track: Track) -> float | None:
        factor = self._desk.mains_factor() if track.point.follows_mains else None
        return factor if factor is not None and factor > MAINS_IN else None

    def _mains_over(self, track: Track, t: Floats, asof_ns: int) -> Floats | None:
        """The mains at these ages, as a part of the chart's; None where it is not measured."""
        mains = self._desk.mains() if track.point.follows_mains else None
        wanted = self._desk.chart.mains or (mains.point.nominal if mains is not None else None)
        if mains is None or not wanted:
            return None
        bins = self._bins(mains, asof_ns)
        on = bins.y > MAINS_IN * wanted
        if not on.any():
            return None
        course: Floats = np.interp(t, bins.t[on], bins.y[on]) / wanted
        return course

    def _explore(self, track: Track, bins: Bins, scale: float, asof_ns: int) -> Explored:
        mains = self._mains_over(track, bins.t, asof_ns)
        last = self._last.get(track.name)
        shapes = shapes_of(self._pause_s, last.shapes if last is not None else None)
        return explore(self._course(track, bins, mains, scale, asof_ns), shapes)

    def _course(self, track: Track, bins: Bins, mains: Floats | None, scale: float, asof_ns: int) -> Course:
        age = (asof_ns - (self._desk.on_ns or 0)) * 1e-9
        y = bins.y / scale if mains is None else bins.y / scale / mains
        rectifier = self._desk.chart.rectifier
        first, rises = tells(bins.t, y, age, rectifier in LEADING, self._is_small(track))
        step = track.step / abs(scale)
        noise = max(noise_of(track, asof_ns) / abs(scale), 0.3 * step, 1e-5)
        variance = noise * noise / bins.n + (0.15 * step) ** 2
        leads = rectifier in LEADING
        way = -1.0 if rises else (float(y[first]) if first < len(y) else 1.0) - 1.0
        way = way if leads or rises else max(way, HIDDEN_WAY)
        unsteady = 0.0 if mains is not None else UNMEASURED
        seen = Seen(bins.t[first:], y[first:], variance[first:], age, 3.0 * step, way, unsteady)
        tolerance = 0.1
        if track.point.low is not None and track.point.high is not None and track.point.nominal:
            tolerance = 0.5 * (track.point.high - track.point.low) / abs(track.point.nominal)
        known = mains is not None or not track.point.follows_mains
        last = self._last.get(track.name)
        levels = levels_of(tolerance, known, rectifier in LEADING, rises, last, scale, self._pause_s < WARM_S)
        return Course(seen, levels, rises)

    def _is_small(self, track: Track) -> bool:
        """A point that reads so little beside the supplies carries a valve's current: a bias resistor."""
        most = max((abs(p.nominal or 0.0) for p in self._desk.chart.points if p.unit is Unit.V), default=0.0)
        return abs(track.point.nominal or most) < SMALL * most

    def _remember(self, track: Track, off_ns: int) -> None:
        desk = self._desk
        scale = self._scale(track)
        if desk.on_ns is None or track.cold or scale is None:
            return
        bins = self._bins(track, off_ns).until((off_ns - desk.on_ns) * 1e-9)
        if len(bins) < 5:
            return
        found = conclude(self._explore(track, bins, scale, off_ns), ())
        self._last[track.name] = Last(
            found.value * scale,
            found.sd * abs(scale),
            found.top * scale,
            found.shapes,
            track.segment.channel.meter,
            off_ns,
        )


def _is_loaded(track: Track) -> bool:
    point = track.point
    return track.unit is Unit.V and not point.moves and point.glow is None and (point.nominal or 0.0) >= 0.0
