"""Makes courses of what was read: parts of a scale, mains divided out, with what is known beforehand."""

from __future__ import annotations

from benchtui.model.readings import Floats
from benchtui.watch.place.desk import Desk
from benchtui.watch.place.track import Track

from .binned import Bins
from .course import Course, Seen
from .memory import Memory, Over
from .noise import noise_of
from .onset import NOTHING, tells
from .outlook import Outlook, ordinary
from .prior import levels_of

LEADING = ("solid", "direct")
RISE_WAY, HIDDEN_WAY = -0.7, 0.5
"""What the load takes where the rectifier rises with it, so that the way is never seen."""
UNMEASURED = 0.003
"""What a mains that nobody measures moves in a minute or two."""
LONGEST_WAY = 0.8
"""However high a point stands without load, what creeps in the end is no more than of such a way."""
BEYOND = 0.15
"""How far such a rectifier may take a supply beyond its settled level before the load takes it down."""
TOLERANCE, LEAST_TOLERANCE = 0.1, 0.01
"""Where the chart gives none; no chart is surer than this."""
WILD = 1e4
"""So many times what it should read is no reading of the point."""
ENOUGH, ALIVE = 5, 0.05
"""Bins of a run from which on it is worth remembering; part of the scale that its last must show."""


class Reader:
    """The present run of one session, read for its courses."""

    def __init__(self, desk: Desk, outlook: Outlook, memory: Memory) -> None:
        self._desk = desk
        self._outlook = outlook
        self._memory = memory

    @property
    def _leads(self) -> bool:
        """Whether the supplies are up before the load valves conduct."""
        return self._desk.chart.rectifier in LEADING

    def scale(self, track: Track) -> float | None:
        """What the point is measured by: the chart, or else the run before; None without either."""
        scale = self._outlook.scale(track)
        if scale is None:
            last = self._memory.of(track)
            scale = last.settled if last is not None else None
        return scale or None

    def course(self, track: Track, scale: float, asof_ns: int) -> Course | None:
        """The run so far, and all that is known of the point; None where it reads nothing of the kind."""
        bins = self._outlook.bins(track, asof_ns)
        if _is_wild(bins, scale):
            return None
        part = _Part(self, track, bins, scale, asof_ns)
        first, rises = part.tells()
        return part.course(first, rises, self._memory)

    def whole(self, track: Track, off_ns: int) -> Over | None:
        """A run that is over, by itself; None where it told nothing."""
        on_ns = self._desk.on_ns
        if on_ns is None:
            return None
        bins = self._outlook.bins(track, off_ns).until((off_ns - on_ns) * 1e-9)
        if len(bins) < ENOUGH:
            return None
        scale = self.scale(track) or float(bins.y[-1])
        if not scale or abs(bins.y[-1]) <= ALIVE * abs(scale) or _is_wild(bins, scale):
            return None
        part = _Part(self, track, bins, scale, off_ns)
        first, rises = part.tells()
        hidden = not rises and not self._leads and part.y[0] < NOTHING
        return Over(
            course=part.course(first, rises, None),
            rise=part.course(0, True, None) if hidden else None,
            scale=scale,
            meter=track.segment.channel.meter,
            off_ns=off_ns,
        )


def _is_wild(bins: Bins, scale: float) -> bool:
    """Whether readings are nothing like what the point is measured by: nothing can be foreseen of that."""
    return len(bins) > 0 and float(abs(bins.y).max()) > WILD * abs(scale)


class _Part:
    """Bins as parts of a scale."""

    def __init__(self, reader: Reader, track: Track, bins: Bins, scale: float, asof_ns: int) -> None:
        self._reader, self._track, self._scale, self._asof_ns = reader, track, scale, asof_ns
        self._age_s = (asof_ns - (reader._desk.on_ns or 0)) * 1e-9
        mains = reader._outlook.mains_over(track, bins.t, asof_ns)
        y = bins.y / scale if mains is None else bins.y / scale / mains
        self._step = track.segment.history.step_at(asof_ns) / abs(scale)
        self._noise = max(noise_of(track, asof_ns) / abs(scale), 0.3 * self._step, 1e-5)
        self._mains_seen = mains is not None
        keep = ordinary(y, self._noise)
        self.t: Floats = bins.t[keep]
        self.y: Floats = y[keep]
        self._n: Floats = bins.n[keep]

    def tells(self) -> tuple[int, bool]:
        """The first bin that tells of the load, and whether the point rises with it."""
        small = self._reader._outlook.is_small(self._track)
        return tells(self.t, self.y, self._age_s, self._reader._leads, small)

    def course(self, first: int, rises: bool, memory: Memory | None) -> Course:
        """From this bin on; `memory`: of runs before, None: by itself."""
        track, leads, t, y = self._track, self._reader._leads, self.t[first:], self.y[first:]
        way = RISE_WAY if rises else min((float(y[0]) if len(y) else 1.0) - 1.0, LONGEST_WAY)
        seen = Seen(
            t=t,
            y=y,
            variance=self._noise**2 / self._n[first:] + (0.15 * self._step) ** 2,
            now_s=self._age_s,
            near=3.0 * self._step,
            way=way if leads or rises else max(way, HIDDEN_WAY),
            mains_sd=0.0 if self._mains_seen else UNMEASURED,
            before=(self.t[:first], self.y[:first]),
        )
        known = self._mains_seen or not track.point.follows_mains
        again = memory.level(track, self._scale, rises, known, self._asof_ns) if memory is not None else None
        small = self._reader._outlook.is_small(track)
        return Course(
            seen=seen,
            levels=levels_of(_tolerance(track), known, leads, rises, again),
            rises=rises,
            beyond=BEYOND if rises and not leads and not small else 0.0,
        )


def _tolerance(track: Track) -> float:
    """The chart's, as a part of the nominal."""
    p = track.point
    if p.low is None or p.high is None or not p.nominal:
        return TOLERANCE
    return max(0.5 * (p.high - p.low) / abs(p.nominal), LEAST_TOLERANCE)
