"""Where a warming point will stay and when, and when a discharging one will be below the warning level.

Asked when someone looks: a pure function of the readings up to an instant, so that no cut of the timeline can
change an answer. Predictions are no findings.
"""

from __future__ import annotations

from benchtui.model.units import Unit
from benchtui.watch.place.desk import Desk
from benchtui.watch.place.track import Track
from benchtui.watch.signals import Grain

from .falls import Falls
from .memory import Memory
from .outlook import Outlook, is_loaded
from .reader import Reader
from .warming import Explored, Outcome, conclude, explore

BEFORE = "nothing measured yet of the loaded value: chart (or last run) only"
UNSEEN = "the run began before the record"
NO_CHART = "the chart gives no value and there was no earlier run"
CONDUCTS = 0.1
"""Part of the way to the settled value from which on something of it has been measured."""
TICKS = ((16.0, 500_000_000), (48.0, 1_000_000_000), (1e9, 2_000_000_000))
"""Up to which age an answer holds for how long (ns): what came since is left to the next."""
TURN = 0.618
"""Points take turns, each so much of a tick after the one before: never are all asked at once."""
IDLE_NS = 200_000_000
"""While the power is off, the run before is thought about, a point at a time, so often at most."""
Answer = tuple[dict[str, float] | None, str | None]
"""What is foreseen (seconds since the session began, values in the point's unit), and why not or on what
grounds."""


class Foresight:
    """Predictions of one session. Cost of an answer, measured: 5-10 ms, once in a tick and point; where
    nothing has been asked before, up to 110 ms for a board of eight points."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._outlook = Outlook(desk)
        self._falls = Falls(desk)
        self.memory = Memory(desk)
        self._reader = Reader(desk, self._outlook, self.memory)
        self._thought_ns = -IDLE_NS
        self._own: dict[str, list[tuple[int, Track, tuple[Explored, float] | None]]] = {}
        self._kept: dict[str, tuple[int, Track, tuple[Outcome, float] | None]] = {}

    def run_begins(self, at_ns: int) -> None:
        """A run begins."""
        self._falls.run_begins(at_ns)
        self.memory.run_begins(at_ns)
        self._outlook.run_begins()
        self._forget()

    def run_ends(self, off_ns: int) -> None:
        """A run ends: what it has told of this set is remembered."""
        for track in list(self._desk.tracks.values()):
            if track.unit is Unit.V and not track.point.moves:
                self.memory.keep(track, self._reader.whole(track, off_ns))
        self._falls.run_ends(off_ns)
        self._outlook.run_ends(off_ns)
        self.memory.run_ends(off_ns)

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of readings is full."""
        if not self._desk.running:
            self._falls.grain(track, signal)
        elif self._desk.on_ns is not None and track.unit is not Unit.STATE:
            self._outlook.take(track, signal.at_ns)

    def lead_gone(self, point: str) -> None:
        """The lead of a meter has left this point."""
        self._falls.lead_gone(point)
        self._outlook.lead_gone(point)
        self._forget()

    def predicted(self, track: Track) -> Answer:
        """The settled value with its 95 % bounds, and when it will be reached; None once settled."""
        desk, point = self._desk, track.point
        if not desk.running or track.settled_ns is not None or track.unit is not Unit.V or point.moves:
            return None, None
        if desk.on_ns is None:
            return None, UNSEEN
        answer = self._outcome(track, self._turn(track, desk.now_ns))
        if answer is None:
            return None, NO_CHART
        found, scale = answer
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
        return told, BEFORE if found.conducting < CONDUCTS and is_loaded(track) else None

    def bleed(self, track: Track, guess: bool = False) -> Answer:
        """When the point will be below the warning level after power-off; None where it can't be told.

        `guess`: also where the latest is not known, `at_high_s` being what a stranger would bet on; the why
        then says so. Without it such an answer is None: nobody is to be told to wait so long and no longer.
        """
        desk = self._desk
        if not desk.running and not 0 <= desk.now_ns - self._thought_ns < IDLE_NS:
            self._thought_ns = desk.now_ns
            self.memory.think()
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

    def _turn(self, track: Track, at_ns: int) -> int:
        """The newest instant up to another at which this point is thought about."""
        desk = self._desk
        on_ns = desk.on_ns or 0
        place = list(desk.tracks).index(track.name) if track.name in desk.tracks else 0
        tick = next(tick for age_s, tick in TICKS if (at_ns - on_ns) * 1e-9 <= age_s)
        return max(on_ns, at_ns - (at_ns - on_ns - int(place * TURN % 1.0 * tick)) % tick)

    def _forget(self) -> None:
        self._own.clear()
        self._kept.clear()

    def _outcome(self, track: Track, asof_ns: int) -> tuple[Outcome, float] | None:
        """What is foreseen, and the scale that it is in parts of."""
        kept = self._kept.get(track.name)
        if kept is not None and kept[0] == asof_ns and kept[1] is track:
            return kept[2]
        answer = None
        own = self._explored(track, asof_ns)
        if own is not None:
            beside = self._outlook.loaded_beside(track, asof_ns) if is_loaded(track) else []
            others = [self._explored(t, self._turn(t, asof_ns)) for t in beside]
            votes = [other[0].vote() for other in others if other is not None]
            answer = conclude(own[0], votes), own[1] * self._outlook.mains_now(track, asof_ns)
        self._kept[track.name] = (asof_ns, track, answer)
        return answer

    def _explored(self, track: Track, asof_ns: int) -> tuple[Explored, float] | None:
        kept = self._own.setdefault(track.name, [])
        for at_ns, whose, known in kept:
            if at_ns == asof_ns and whose is track:
                return known
        scale, course, found = self._reader.scale(track), None, None
        if scale is not None:
            course = self._reader.course(track, scale, asof_ns)
        if scale is not None and course is not None:
            found = explore(course, self.memory.shapes(track, course.rises)), scale
        self._own[track.name] = [*kept[-1:], (asof_ns, track, found)]
        return found
