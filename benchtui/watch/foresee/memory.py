"""What earlier runs of the same set have told: the best there is to go by when it is switched on again."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.watch.place.desk import Desk, Track

from .prior import Again, shapes_of
from .shapes import Bell
from .warming import Outcome

HOT_S = 25.0
"""After a pause so short the valves still conduct: the level without load is not seen."""
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
    meter: str
    """On which it was read."""
    off_ns: int


class Memory:
    """By point: the newest run that told something. `put`: for whoever knows of runs before this session."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._last: dict[str, Last] = {}
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

    def of(self, track: Track) -> Last | None:
        """What is remembered of a point."""
        return self._last.get(track.name)

    def shapes(self, track: Track) -> Bell:
        """How its valves will come to conduct in this run."""
        last = self._last.get(track.name)
        return shapes_of(self._pause_s, last.shapes if last is not None else None)

    def level(self, track: Track, scale: float, rises: bool, mains_known: bool, asof_ns: int) -> Again | None:
        """What the last run says of the point's levels, as parts of a scale."""
        last = self._last.get(track.name)
        if last is None:
            return None
        other = 0.0 if last.meter == track.segment.channel.meter else OTHER_METER
        touched = any(m.kind in HANDS and last.off_ns <= m.t_ns <= asof_ns for m in self._desk.marks)
        top = None if rises or self._pause_s < HOT_S else last.top / scale
        sd = ((last.settled_sd / scale) ** 2 + other**2) ** 0.5
        return Again(last.settled / scale, sd, top, mains_known, touched)

    def keep(self, track: Track, found: Outcome, scale: float, off_ns: int) -> None:
        """A run is over: this was foreseen of it with all its readings."""
        self._last[track.name] = Last(
            settled=found.value * scale,
            settled_sd=found.sd * abs(scale),
            top=found.top * scale,
            shapes=found.shapes,
            meter=track.segment.channel.meter,
            off_ns=off_ns,
        )
