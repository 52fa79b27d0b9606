"""What all parts of the placer share: the chart, the tracks of the points, the clock of the data, the log."""

from __future__ import annotations

import heapq
from collections.abc import Callable

from benchtui.chart.chart import Chart, Point
from benchtui.chart.settings import Settings
from benchtui.model.notes import Mark
from benchtui.model.units import Unit

from .log import Log
from .track import BATTERY_V, Track

HANDS = ("tap", "adjust", "heat", "cool", "swap", "reseat")
"""Marks after which a fault may follow."""
TAPS, SOON_NS = ("tap", "reseat"), 3_000_000_000
"""What begins so soon after one of these followed the hand. Common practice, no source."""
BROUGHT_UP = 0.85
"""Below this part of the chart's mains a set is being brought up."""
AFTER_MARK_S = 5.0
"""So long after a mark a fault is said to come after it. Common practice, no source."""


class Desk:
    """The shared state of the placer. `now_ns` is the instant that the data have reached."""

    def __init__(self, chart: Chart, settings: Settings, log: Log) -> None:
        self.chart = chart
        self.settings = settings
        self.log = log
        log.unit_of = self.unit_of
        log.mark_at = self.mark_at
        self.tracks: dict[str, Track] = {}
        self.now_ns = 0
        self.marks: list[Mark] = []
        self.running = False
        self.run = 0
        self.since_ns: int | None = None
        """When a run that nobody saw begin was first seen running."""
        self.on_ns: int | None = None
        """When the run began; None while off or if it began before the record."""
        self.began_ns: int | None = None
        """When the newest run began, also after its end; None before the first that was seen to begin."""
        self.off_ns: int | None = None
        self.by_mark = False
        """The technician marks power; then only a mark or a meter ends a run."""
        self.low_ns: int | None = None
        """When the mains was last seen too low for the chart in this run: the set is being brought up."""
        self.raised_ns: int | None = None
        """When, with no mains meter, the points last rose by a step and stood below the chart; else None."""
        self.low_since_ns: int | None = None
        """When all that goes with the mains was found to stand far below its chart from the start of this
        run; it may be about to be turned up."""
        self.chatter: dict[str, int] = {}
        """Points that are restless now, with the finding that says so."""
        self._named_mains: list[Track] = []
        self._ac: tuple[int, list[Track]] = (-1, [])
        """The newest answer of `ac_meters`, and for which instant."""
        self._factor: tuple[int, float | None] | None = None
        """The newest answer of `mains_factor`, and for which instant."""
        self._timers: list[tuple[int, int, Callable[[], None]]] = []
        self._timer_count = 0

    def leads_moved(self) -> None:
        """A lead has come or gone: what was known of the meters is asked anew."""
        self._named_mains = [t for t in self.tracks.values() if t.named_mains]
        self._ac = (-1, [])
        self._factor = None

    def unit_of(self, point: str) -> Unit | None:
        track = self.tracks.get(point)
        return track.unit if track is not None and track.unit is not Unit.UNKNOWN else None

    def after(self, at_ns: int, call: Callable[[], None]) -> None:
        """Calls back when the data have reached an instant (not before now)."""
        heapq.heappush(self._timers, (max(at_ns, self.now_ns), self._timer_count, call))
        self._timer_count += 1

    def run_timers(self, before_ns: int) -> None:
        """Runs what is due before an instant, in order; then the data stand there."""
        while self._timers and self._timers[0][0] < before_ns:
            at, _, call = heapq.heappop(self._timers)
            self.now_ns = max(self.now_ns, at)
            call()

    def up_s(self, at_ns: int) -> float:
        """Seconds since the set has had its mains: since power-on, or since it was brought up."""
        age = self.age_s(at_ns)
        return age if self.low_ns is None else min(age, (at_ns - self.low_ns) * 1e-9)

    def age_s(self, at_ns: int) -> float:
        """Seconds since power-on; endless where the run began before the record."""
        if self.on_ns is None:
            return 1e9
        return (at_ns - self.on_ns) * 1e-9

    def mains(self) -> Track | None:
        for track in self._named_mains:
            if track.is_mains and track.fresh(self.now_ns):
                return track
        return None

    @property
    def has_mains_meter(self) -> bool:
        """Whether a lead is on the mains, fresh or not."""
        return any(track.is_mains for track in self._named_mains)

    def ac_meters(self) -> list[Track]:
        """The mains and the heaters that a meter reads now."""
        if self._ac[0] != self.now_ns:
            reads = [t for t in self.tracks.values() if t.shows_mains and t.fresh(self.now_ns)]
            self._ac = (self.now_ns, reads)
        return self._ac[1]

    def heaters(self) -> list[Track]:
        """Those with a fresh reading."""
        return [t for t in self.tracks.values() if t.is_heater and t.fresh(self.now_ns)]

    def mains_is_dead(self) -> bool:
        """Whether the mains meter shows next to nothing now; False without one."""
        mains = self.mains()
        return mains is not None and mains.reads_nothing(self.now_ns)

    def heaters_are_dead(self) -> bool:
        """Whether heaters are measured and none of them is fed."""
        heaters = self.heaters()
        return bool(heaters) and all(h.reads_nothing(self.now_ns) for h in heaters)

    def powers_nothing(self, track: Track) -> bool:
        """Whether a point may be a battery ahead of the switch: all charted above it reads nothing."""
        if not track.may_be_battery:
            return False
        above = [t for t in self.above_batteries() if t.fresh(self.now_ns)]
        return bool(above) and all(t.reads_nothing(self.now_ns) for t in above)

    def above_batteries(self) -> list[Track]:
        """The DC points that are charted above what a battery has."""
        return [
            t for t in self.tracks.values() if t.unit is Unit.V and abs(t.point.nominal or 0.0) > BATTERY_V
        ]

    def mains_factor(self) -> float | None:
        """The mains now as a part of the chart's; None where it is not measured or not charted."""
        known = self._factor
        if known is None or known[0] != self.now_ns:
            known = self._factor = (self.now_ns, self._find_factor())
        return known[1]

    def _find_factor(self) -> float | None:
        track = self.mains()
        return None if track is None else self.part_now(track)

    def wanted(self, track: Track) -> float | None:
        return (self.chart.mains if track.is_mains else None) or track.point.nominal

    def part_now(self, track: Track) -> float | None:
        """What the mains or a heater reads now as a part of the chart's; None where that is not known."""
        wanted, level = self.wanted(track), track.level(self.now_ns, 5)
        return level / wanted if wanted and level is not None else None

    def parts_between(self, track: Track, first_ns: int, until_ns: int) -> tuple[float, ...]:
        """The same as it was read from an instant to another and just before, the newest, robust one last;
        empty where that is not known."""
        wanted, now = self.wanted(track), self.part_now(track)
        if not wanted or now is None:
            return ()
        before = first_ns - int(2e9 * track.period_s)
        return *(track.segment.history.between(before, until_ns)[1] / wanted).tolist(), now

    def mains_between(self, first_ns: int, until_ns: int) -> tuple[float, ...]:
        """The mains as it was read from an instant to another and just before, as parts of the chart's, the
        newest, robust one last; empty where it is not measured or not charted."""
        track = self.mains()
        return () if track is None else self.parts_between(track, first_ns, until_ns)

    @property
    def being_brought_up(self) -> bool:
        """Whether the mains is measured, and too low for the chart, or the points show that it is raised."""
        mains = self.mains_factor()
        return self.raised_ns is not None if mains is None else mains < BROUGHT_UP

    def circumstances(self, point: Point, start_ns: int) -> dict[str, object]:
        """What stands as evidence beside whatever began at a point then: mark, feed, age, mains."""
        feed = point.fed_from
        return {
            "after_mark": self.after_mark(start_ns),
            "feed": feed,
            "feed_value": self.value(feed, start_ns) if feed else None,
            "age_s": self.age_s(start_ns) if self.on_ns is not None else None,
            "mains": self.mains_factor(),
        }

    def value(self, point: str, at_ns: int) -> float | None:
        """What a point read at an instant; None where it has no fresh reading."""
        track = self.tracks.get(point)
        if track is None or track.unit is Unit.STATE:
            return None
        newest = track.newest(min(at_ns, self.now_ns))
        if newest is None or at_ns - newest[0] > max(6.0 * track.period_s, 3.0) * 1e9:
            return None
        return newest[1]

    def after_mark(self, start_ns: int) -> float | None:
        """Seconds (since the session began) of the mark that something followed; None if there is none."""
        for mark in reversed(self.marks):
            if mark.kind in HANDS and mark.t_ns <= start_ns:
                near = start_ns - mark.t_ns <= AFTER_MARK_S * 1e9
                return mark.t_ns / 1e9 if near else None
        return None

    def follows_tap(self, start_ns: int) -> bool:
        """Whether something began as a hand had just tapped or reseated a part."""
        taps = (mark.t_ns for mark in self.marks if mark.kind in TAPS)
        return any(0 <= start_ns - tap_ns <= SOON_NS for tap_ns in taps)

    def mark_at(self, at_s: float | None) -> str | None:
        """What was done at a mark, as in `tap V2 base`; None without a mark."""
        for mark in reversed(self.marks):
            if at_s is not None and mark.t_ns / 1e9 == at_s:
                return " ".join(w for w in (mark.kind, mark.what or mark.note) if w)
        return None

    def close_all(self, at_ns: int, end_ns: int, kinds: tuple[str, ...], since_ns: int) -> None:
        """The power went at `end_ns`, or from `since_ns` on: what is open ends, what began then was none."""
        for finding in self.log.still_open():
            if finding.kind not in kinds:
                continue
            if finding.start_ns >= since_ns and finding.kind != "settled":
                self.log.withdraw(at_ns, finding.id, "the set was switched off")
            else:
                self.log.close(at_ns, finding.id, max(end_ns, finding.start_ns))
