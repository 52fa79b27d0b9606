"""A set brought up slowly: each point against the mains; whether it leaves the course that valves explain.

A rectifier that warms lifts a point, load valves that begin to draw lower it: slowly, and to no less than the
chart gives for full mains, in proportion. What falls lower, or falls at once, has left that course.
Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from benchtui.watch.signals import Away, Grain

from .desk import Desk
from .raising import ABRUPT
from .track import Track

STOOD, FEW = 0.92, 2
"""A point has stood on its course once so many grains lay at this part of the chart's ratio or above."""
LOW = 0.55
"""At less of its mains a rectifier that is heated by it hardly conducts, and nothing follows a course."""
GUARD = 0.04
"""So far below the chart's lower limit, in parts, it has left it."""
STILL = 0.015
"""The mains that varied by no more stood still."""
QUICK_S = 0.7
"""A fall at once within two readings of a meter at most so slow is no valve that warms."""
AROUND_NS = 10_000_000_000
"""What fell and what left its course within so long are one."""


@dataclass(slots=True)
class _Course:
    stood: int = 0
    below: list[int] = field(default_factory=list)
    """When the grains began that lay below, one after another."""
    was: float = 0.0
    """The greatest ratio to the mains, in parts of the chart's."""
    finding: int | None = None


class Bringing:
    """Opens `departs`."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._courses: dict[str, _Course] = {}
        self._left: dict[str, int] = {}
        """When a point last left its course, told of it or of its feed."""

    def run_begins(self) -> None:
        self._courses.clear()
        self._left.clear()

    def lead_gone(self, point: str, at_ns: int) -> None:
        course = self._courses.pop(point, None)
        if course is not None:
            self._over(point, course, at_ns, at_ns)

    @staticmethod
    def _may_be_judged(track: Track) -> bool:
        return track.is_supplied and bool(track.point.nominal)

    def shows_turn_ns(self, at_ns: int) -> int:
        """From when on an AC meter shows what turn there was by an instant; that instant without one."""
        mains = self._meter()
        return at_ns if mains is None else at_ns + _shows_ns(mains)

    def is_its_own(self, track: Track, signal: Away) -> bool:
        """Whether what a point did and has undone was no turn of the transformer, and is not told as a
        departure.

        A quick meter saw it go far and at once, and the mains stood throughout if an AC meter reads. A
        regulator tube that is hardly fed yet strikes and goes out by itself.
        """
        if track.point.glow is not None:
            return False
        names = (track.name, *self._desk.chart.feeds(track.name))
        left = [self._left[name] for name in names if name in self._left]
        if any(abs(left_ns - signal.start_ns) <= AROUND_NS for left_ns in left):
            return False
        if not signal.abrupt or abs(signal.peak / signal.level) < ABRUPT or track.period_s > QUICK_S:
            return False
        return self._meter() is None or self._mains_stood(signal.before_ns - int(2e9), self._desk.now_ns)

    def away(self, track: Track, signal: Away) -> None:
        """A fall at once while the mains stands: asked again when its meter has surely read."""
        desk, mains = self._desk, self._meter()
        falls = signal.peak * signal.level < 0 and abs(signal.peak) >= ABRUPT * abs(signal.level)
        if mains is None or not falls or not signal.abrupt or track.period_s > QUICK_S:
            return
        if not self._may_be_judged(track):
            return
        run, level = desk.run, signal.level

        def look() -> None:
            course, now = self._courses.get(track.name), track.level(desk.now_ns)
            if desk.run != run or not desk.running or now is None or course is None or course.finding:
                return
            still = self._mains_stood(signal.before_ns - int(2e9), desk.now_ns)
            part = _ratio(track, now, self._turned_to() or 1.0)
            fell = abs(now) <= (1.0 - 0.7 * ABRUPT) * abs(level) and part < self._least(track)
            if still and course.stood >= FEW and fell:
                self._departs(track, course, signal.start_ns, part)

        desk.after(signal.at_ns + _shows_ns(mains), look)

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of a point is full: its ratio to the mains."""
        desk = self._desk
        course = self._courses.get(track.name)
        if not desk.running or not self._may_be_judged(track) or track.trouble:
            return
        if course is None:
            if not desk.being_brought_up:
                return
            course = self._courses[track.name] = _Course()
        if not desk.being_brought_up and course.finding is None:
            return
        part = self._part(track, signal)
        if part is None:
            return
        least = self._least(track)
        if part >= STOOD:
            course.stood += 1
            course.was = max(course.was, part)
        if part >= least:
            course.below.clear()
            if course.finding is not None and signal.first_ns < self._desk.log.get(course.finding).start_ns:
                return
            self._over(track.name, course, signal.at_ns, signal.first_ns)
        elif course.finding is not None:
            self._ask_feeds_later(track, self._desk.log.get(course.finding).start_ns)
        elif course.stood >= FEW:
            course.below.append(signal.first_ns)
            if len(course.below) >= FEW:
                self._departs(track, course, course.below[0], part)

    def _part(self, track: Track, signal: Grain) -> float | None:
        """The ratio to the mains as a part of the chart's; None while the mains moves or is not read."""
        mains = self._turned_to()
        if not mains or mains < LOW or not self._mains_stood(signal.first_ns, signal.at_ns):
            return None
        return _ratio(track, signal.level, mains)

    def _meter(self) -> Track | None:
        """The mains meter or, without one, a meter on a heater winding."""
        heaters = (h for h in self._desk.heaters() if h.point.nominal)
        return self._desk.mains() or next(heaters, None)

    def _turned_to(self) -> float | None:
        """The mains as a part of the chart's, read itself or on a heater; None where neither is."""
        meter = self._meter()
        return None if meter is None else self._desk.part_now(meter)

    def _mains_stood(self, first_ns: int, until_ns: int) -> bool:
        meter = self._meter()
        read = () if meter is None else self._desk.parts_between(meter, first_ns, until_ns)
        return bool(read) and max(read) - min(read) <= STILL * max(read)

    @staticmethod
    def _least(track: Track) -> float:
        point = track.point
        assert point.nominal
        edges = [edge / point.nominal for edge in (point.low, point.high) if edge is not None]
        return min([0.9, *edges]) - GUARD

    def _over(self, point: str, course: _Course, at_ns: int, end_ns: int) -> None:
        """A point is back, or nobody reads it any more; what its feed did goes on."""
        if course.finding is not None and self._desk.log.get(course.finding).point == point:
            self._desk.log.close(at_ns, course.finding, end_ns)
        course.finding = None

    def _ask_feeds_later(self, track: Track, start_ns: int) -> None:
        """Once a turn of the transformer by now would show."""
        desk, run, mains, at_ns = self._desk, self._desk.run, self._meter(), self._desk.now_ns

        def ask() -> None:
            course = self._courses.get(track.name)
            if desk.run == run and desk.running and course is not None and course.finding is not None:
                self._ask_feeds(track, start_ns, at_ns)

        if mains is not None:
            desk.after(at_ns + _shows_ns(mains), ask)

    def _ask_feeds(self, track: Track, start_ns: int, at_ns: int) -> None:
        """Tells of the first of its feeds that fell with it, by an instant, below its own course.

        Between two turns a slow meter may not have stood for long enough to tell that by itself.
        """
        desk, mains = self._desk, self._turned_to()
        if not self._mains_stood(start_ns, desk.now_ns):
            return
        for name in reversed(desk.chart.feeds(track.name)):
            feed = desk.tracks.get(name)
            if not mains or feed is None or not self._may_be_judged(feed) or not feed.fresh(desk.now_ns):
                continue
            before, now = feed.level(start_ns - int(2e9 * feed.period_s)), feed.level(at_ns)
            if not before or now is None or now / before > 1.0 - ABRUPT:
                continue
            course, part = self._courses.setdefault(name, _Course()), _ratio(feed, now, mains)
            if course.finding is None and part < self._least(feed):
                course.was = _ratio(feed, before, mains)
                self._tell(feed, course, start_ns, part)
            return

    def _departs(self, track: Track, course: _Course, start_ns: int, part: float) -> None:
        """Told once for a branch, at the feed."""
        self._tell(track, course, start_ns, part)
        self._ask_feeds_later(track, start_ns)

    def _tell(self, track: Track, course: _Course, start_ns: int, part: float) -> None:
        desk, log, chart = self._desk, self._desk.log, self._desk.chart
        told = [(n, c.finding) for n, c in self._courses.items() if c.finding is not None]
        fed_by = next((f for n, f in told if n in chart.feeds(track.name)), None)
        if fed_by is not None:
            course.finding = fed_by
            self._left[track.name] = start_ns
            log.name_also(desk.now_ns, fed_by, track.name)
            return
        self._left[track.name] = start_ns
        evidence: dict[str, object] = {
            "value": track.level(desk.now_ns),
            "mains": self._turned_to(),
            "part": part,
            "was": course.was,
            "least": self._least(track),
            "also": [],
            "after_mark": desk.after_mark(start_ns),
        }
        feeds = next((f for n, f in told if track.name in chart.feeds(n)), None)
        if feeds is not None:
            found = log.get(feeds)
            evidence["also"] = [p for p in (found.point, *found.evidence["also"]) if p]
            log.rename(desk.now_ns, feeds, "departs", track.name, min(start_ns, found.start_ns), evidence)
            course.finding = feeds
            return
        course.finding = log.open(desk.now_ns, "departs", track.name, start_ns, None, evidence)


def _shows_ns(mains: Track) -> int:
    """After so long an AC meter shows whatever there was of a turn."""
    return int((1.5 + 1.5 * mains.period_s) * 1e9)


def _ratio(track: Track, level: float, mains: float) -> float:
    """A level for a mains, as a part of what the chart gives at its own."""
    assert track.point.nominal
    return level / track.point.nominal / mains
