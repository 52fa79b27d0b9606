"""What earlier runs of the same set have told: the best there is to go by when it is switched on again."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.watch.place.desk import Desk
from benchtui.watch.place.track import Track

from .course import Course
from .prior import Again, shapes_of
from .shapes import Bell
from .warming import conclude, explore

HOT_S = 25.0
"""After a pause so short the valves still conduct: the level without load is not seen."""
LONG_S = 60.0
"""A run of this length has told of its settled levels."""
HANDS = ("swap", "reseat", "adjust")
"""Marks after which the set may be another."""
ENDLESS_S = 1e9
OTHER_METER = 0.005
"""How far another meter may read from the one before, where its accuracy is not known."""


@dataclass(frozen=True, slots=True)
class Last:
    """What a run told of a point: levels at the chart's mains, in the point's unit."""

    settled: float
    settled_sd: float
    top: float
    """Without load."""
    shapes: Bell
    rises: bool
    """The shapes are those of a rise from nothing."""
    meter: str
    """On which it was read."""
    off_ns: int


@dataclass(frozen=True, slots=True, eq=False)
class Over:
    """A run that is over, not thought about yet: that waits until somebody asks."""

    course: Course
    rise: Course | None
    """All of it, from nothing, where the point's rectifier warms up beside its load."""
    scale: float
    meter: str
    off_ns: int

    def told(self) -> Last:
        """What it has told. Cost, measured: 7 ms, twice that with a rise."""
        found = conclude(explore(self.course, shapes_of(ENDLESS_S, None)), ())
        rise = None
        if self.rise is not None:
            rise = conclude(explore(self.rise, shapes_of(ENDLESS_S, None)), ())
        return Last(
            settled=found.value * self.scale,
            settled_sd=found.sd * abs(self.scale),
            top=found.top * self.scale,
            shapes=rise.shapes if rise is not None else found.shapes,
            rises=self.course.rises or rise is not None,
            meter=self.meter,
            off_ns=self.off_ns,
        )


class Memory:
    """By point: the newest run that told something. `put`: for whoever knows of runs before this session."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._last: dict[str, Last] = {}
        self._over: dict[str, Over] = {}
        self._pause_s = ENDLESS_S
        self._off_ns: int | None = None

    def put(self, point: str, last: Last) -> None:
        """Makes a run known that was not in this session: from an archive."""
        self._last[point] = last

    def run_begins(self, at_ns: int) -> None:
        """A run begins after some pause."""
        self._pause_s = (at_ns - self._off_ns) * 1e-9 if self._off_ns is not None else ENDLESS_S

    def run_ends(self, off_ns: int) -> None:
        """The power is off."""
        self._off_ns = off_ns

    def think(self) -> None:
        """Thinks about one run that is over, so that nobody waits for it when the next begins."""
        point = next(iter(self._over), None)
        if point is not None:
            self._last[point] = self._over.pop(point).told()

    def of(self, track: Track) -> Last | None:
        """What is remembered of a point."""
        over = self._over.pop(track.name, None)
        if over is not None:
            self._last[track.name] = over.told()
        return self._last.get(track.name)

    def shapes(self, track: Track, rises: bool) -> Bell:
        """How its valves will come to conduct in this run; `rises`: seen as a rise from nothing."""
        last = self.of(track)
        alike = last is not None and last.rises == rises
        return shapes_of(self._pause_s, last.shapes if last is not None and alike else None)

    def level(self, track: Track, scale: float, rises: bool, mains_known: bool, asof_ns: int) -> Again | None:
        """What the last run says of the point's levels, as parts of a scale."""
        last = self.of(track)
        if last is None:
            return None
        other = 0.0 if last.meter == track.segment.channel.meter else OTHER_METER
        touched = any(m.kind in HANDS and last.off_ns <= m.t_ns <= asof_ns for m in self._desk.marks)
        top = None if rises or self._pause_s < HOT_S else last.top / scale
        sd = ((last.settled_sd / scale) ** 2 + other**2) ** 0.5
        return Again(last.settled / scale, sd, top, mains_known, touched)

    def keep(self, track: Track, over: Over | None) -> None:
        """A run is over. A short one does not displace a longer one."""
        known = track.name in self._over or track.name in self._last
        if over is not None and (over.course.seen.now_s >= LONG_S or not known):
            self._over[track.name] = over
