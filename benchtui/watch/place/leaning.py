"""Steps too small or too soft for single readings: a few flat grains, then a few flat grains elsewhere."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from benchtui.model.readings import Floats
from benchtui.watch.signals import Away, Grain

from .cluster import Cluster
from .desk import Desk
from .kinship import are_apart
from .mains_out import MainsOut, without_mains
from .programme import goes_with_it
from .track import Track

SPANS = ((4, 3, 3.0, 10.0), (6, 6, 2.0, 3.0))
"""Flat grains before the step and after it; the step is so many times what the grains on either side range
over; two levels explain them so many times better (in squares) than one straight line: more grains, less."""
FEW = SPANS[0][0] + SPANS[0][1]
BETWEEN = 2
"""At most so many grains in which it happens."""
LEAST_ALONE, LEAST_COUNTS = 0.015, 1.6
"""Part of the level below which a step may be the mains' where no other point shows that; counts below
which it is no news. Common practice, no source."""
NOISES = 6.0
QUICK_LOOK = 0.5
"""The newest grain is off an earlier one by this part of the least move: the mains may hide the rest."""
LOOKED_BACK = 40
"""So many grains at most are looked back on."""
WANDERS, FEWEST, SEEN = 4.5, 4, 24
"""So many times what the level wanders by itself; known from so many differences of the newest grains."""
SHARED = 0.5
"""A feed that moved by this part of it carries the step."""
UP_S = 60.0
BACK_PART = 0.35
LEAST_BACK, MOST_BACK = 0.5, 1.5
"""A move back by such parts of the step is its end."""


class _Span(NamedTuple):
    """Which grains are compared, and what is asked of them: as SPANS says."""

    before: int
    after: int
    flat: float
    better: float
    between: int


@dataclass(slots=True)
class _Step:
    number: int
    level: float
    depth: float
    out: MainsOut
    back_ns: int = 0


class Leaning:
    """Opens `step` where the grains say what the readings one by one do not."""

    def __init__(
        self,
        desk: Desk,
        known: Callable[[str, int], int | None],
        fault_at: Callable[[int], Cluster | None],
        mains_moved: Callable[[int, int], bool],
    ) -> None:
        """`known(point, at_ns)`: the finding that tells already why a point is where it is.

        `fault_at(at_ns)`: the lasting fault that began about then. `mains_moved(first, until)`: whether
        the mains did, as its meter or the points together have shown.
        """
        self._desk = desk
        self._known = known
        self._fault_at = fault_at
        self._mains_moved = mains_moved
        self.is_no_news: Callable[[Track, int, float], bool] = lambda track, start_ns, part: False
        """Whether a small move is the tail of one of the whole set, or its meter letting go of a reading."""
        self._since: dict[str, int] = {}
        """Grains before are of another level."""
        self._open: dict[str, _Step] = {}

    def run_begins(self) -> None:
        self._since.clear()
        self._open.clear()

    def moved(self, track: Track) -> None:
        """The eye has told a move of the point itself."""
        self._since[track.name] = self._desk.now_ns
        self._open.pop(track.name, None)

    def returns(self, track: Track, signal: Away) -> bool:
        """Whether a move that the eye tells is the way back from a step told here: then it was a dropout."""
        step = self._open.get(track.name)
        if step is None or not -LEAST_BACK >= signal.peak / step.depth >= -MOST_BACK:
            return False
        self._ends(step, signal.at_ns, signal.start_ns)
        self.moved(track)
        return True

    def lead_gone(self, point: str, at_ns: int) -> None:
        step = self._open.pop(point, None)
        if step is not None:
            self._desk.log.close(at_ns, step.number, at_ns)
        self._since.pop(point, None)

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of readings is full."""
        desk, name = self._desk, track.name
        if not desk.running or not track.unit.is_voltage or track.is_mains or track.trouble or track.cold:
            return
        if track.is_heater and desk.mains() is None:
            return
        if track.point.moves or track.settled_ns is None or desk.up_s(signal.at_ns) < UP_S:
            return
        if name in desk.chatter or signal.away:
            return
        if name in self._open:
            self._come_back(track, signal)
        if not self._may_be(track):
            return
        for span in SPANS:
            if any(self._told(track, _Span(*span, between)) for between in range(BETWEEN + 1)):
                return

    def _may_be(self, track: Track) -> bool:
        """A quick look: whether the newest grain is far from one of those before, also beside the mains."""
        grains = track.grains
        if len(grains) < FEW:
            return False
        newest = grains[-1]
        least = QUICK_LOOK * track.segment.course.least_move * abs(newest.level)
        before = grains[-min(FEW + BETWEEN, len(grains))], grains[-FEW]
        moved = [g for g in before if abs(newest.level - g.level) > least]
        mains = self._desk.mains() if moved and track.point.follows_mains else None
        now = mains.newest(newest.at_ns) if mains is not None else None
        if mains is None or now is None or not now[1]:
            return bool(moved)
        then = [(g.level, mains.newest(g.at_ns)) for g in moved]
        return any(not m or abs(newest.level * m[1] / now[1] - level) > least for level, m in then)

    def _told(self, track: Track, span: _Span) -> bool:
        grains = self._newest(track, span.before + span.between + span.after)
        if grains is None:
            return False
        out = self._own_levels(track, len(grains), span.between + span.after)
        own = out.levels
        if len(own) < len(grains):
            return False
        before, after = own[-len(grains) :][: span.before], own[-span.after :]
        a, c = float(np.median(before)), float(after.mean())
        depth = c - a
        counts = track.segment.history.step_at(grains[-1].at_ns)
        noise = max(float(np.median([g.noise for g in grains])), 0.29 * counts)
        level_noise = 1.25 * noise / max(track.segment.course.grain_size, 1) ** 0.5
        least = max(
            track.segment.course.least_move * abs(a), LEAST_COUNTS * counts, NOISES * level_noise,
            span.flat * float(np.ptp(before)), span.flat * float(np.ptp(after)),
        )  # fmt: skip
        if not a or abs(depth) < least:
            return False
        around = (*grains[: span.before], *grains[-span.after :])
        t = np.array([0.5e-9 * (g.first_ns + g.at_ns) for g in around])
        if not _is_step(t, before, after, 0.3 * level_noise, span.better):
            return False
        lag = span.between + (span.before + span.after) // 2
        if abs(depth) < WANDERS * _wander(own[: -span.between - span.after], lag):
            return False
        crossing = grains[span.before - 1].first_ns, grains[-span.after].at_ns
        if track.point.follows_mains and self._mains_moved(*crossing):
            return False
        part = self._own(track, depth / a, grains[span.before - 1].at_ns, grains[-span.after].first_ns)
        if part is None or abs(part) < max(least / abs(a), out.doubt):
            return False
        self._since[track.name] = grains[-span.after].first_ns - 1
        start = _start(self._desk, track, *crossing, out)
        self._tell(track, start, out, a, c, part)
        return True

    def _own_levels(self, track: Track, compared: int, newest: int) -> MainsOut:
        """The levels of the grains since the point is where it was, at the mains of those compared; how it
        follows the mains is learnt from those before the `newest`."""
        since = self._level_since(track)
        grains = list(itertools.takewhile(lambda g: g.first_ns > since, reversed(track.grains)))[:LOOKED_BACK]
        grains.reverse()
        return without_mains(self._desk, track, grains, compared, len(grains) - newest)

    def _newest(self, track: Track, count: int) -> list[Grain] | None:
        """So many grains up to the newest, all calm, of one level or two and without a gap; else None."""
        if len(track.grains) < count:
            return None
        grains = list(track.grains)[-count:]
        if grains[0].first_ns <= self._level_since(track) or any(g.away for g in grains):
            return None
        spans = [b.at_ns - a.at_ns for a, b in itertools.pairwise(grains)]
        return grains if max(spans) <= 3 * min(spans) else None

    def _level_since(self, track: Track) -> int:
        """Grains before this are of another level, or of a point that had not settled."""
        return max(self._since.get(track.name, 0), track.settled_ns or 0)

    def _own(self, track: Track, part: float, before_ns: int, after_ns: int) -> float | None:
        """What of a step is the point's own; None where a feed or the mains carries it, or nobody knows."""
        desk, others, apart = self._desk, [], []
        feeds, mains_told, unknown = desk.chart.feeds(track.name), False, False
        for other in desk.tracks.values():
            if other is track or not other.unit.is_voltage or other.point.moves or other.cold:
                continue
            moved = _moved(desk, other, before_ns, after_ns)
            if moved is None:
                if other.name in feeds:
                    return None
                unknown = unknown or (other.point.follows_mains and not self._feeds(track, other))
                continue
            if other.name in feeds and moved * part > 0 and abs(moved) >= SHARED * abs(part):
                return None
            if other.is_mains:
                mains_told = True
            elif other.point.follows_mains and not self._feeds(track, other):
                others.append(moved)
                if are_apart(desk.chart, track.name, other.name):
                    apart.append(moved)
        if mains_told or not track.point.follows_mains:
            return part
        if not others:
            return part if abs(part) >= LEAST_ALONE and not unknown else None
        nearest = min(apart or others, key=lambda moved: abs(part - moved))
        if nearest * part > 0 and abs(nearest) >= SHARED * abs(part):
            return None
        return part - min(apart or others, key=abs)

    def _feeds(self, track: Track, other: Track) -> bool:
        return track.name in self._desk.chart.feeds(other.name)

    def _tell(self, track: Track, start: int, out: MainsOut, a: float, c: float, part: float) -> None:
        desk, name = self._desk, track.name
        if self.is_no_news(track, start, part) or goes_with_it(desk, part, start, start):
            return
        if self._known(name, start + 1) is not None or any(
            self._known(feed, start + 1) is not None for feed in desk.chart.feeds(name)
        ):
            return
        cause = self._fault_at(start)
        if cause is not None and cause.finding is not None:
            cause.beside.append(name)
            desk.log.name_also(desk.now_ns, cause.finding, name)
            return
        evidence: dict[str, object] = {
            "depth": c - a,
            "level": a,
            "relative": (c - a) / a,
            "own": part,
            "noise": track.grains[-1].noise,
            "stands_at": c,
            "count": 1,
            "also": [],
            "why": "flat before and after, and the others did not move with it",
            **desk.circumstances(track.point, start),
        }
        former = self._open.pop(name, None)
        if former is not None:
            desk.log.close(desk.now_ns, former.number, start)
        number = desk.log.open(desk.now_ns, "step", name, start, None, evidence)
        self._open[name] = _Step(number, a, c - a, out)

    def _come_back(self, track: Track, signal: Grain) -> None:
        """Two grains at the former level: it was a dropout after all."""
        step = self._open[track.name]
        level = step.out.level(self._desk.mains(), signal)
        if abs(level - step.level) > BACK_PART * abs(step.depth):
            step.back_ns = 0
            return
        if not step.back_ns:
            step.back_ns = signal.first_ns
            return
        self._ends(step, signal.at_ns, step.back_ns)
        self._open.pop(track.name)
        self._since[track.name] = step.back_ns - 1

    def _ends(self, step: _Step, at_ns: int, end_ns: int) -> None:
        found = self._desk.log.get(step.number)
        if found.state == "open":
            lasted = {"duration_s": (end_ns - found.start_ns) / 1e9}
            self._desk.log.close(at_ns, step.number, end_ns, kind="dropout", evidence=lasted)


def _start(desk: Desk, track: Track, first_ns: int, until_ns: int, out: MainsOut) -> int:
    """The reading from which on the readings of an interval stand elsewhere: the split into two levels that
    leaves the least squares."""
    t, raw = track.segment.history.between(first_ns - 1, until_ns)
    x = out.readings(desk.mains(), t, raw, desk.now_ns)
    if len(x) < 2:
        return first_ns
    k = np.arange(1, len(x))
    early = np.cumsum(x - x.mean())[:-1]
    return int(t[1 + int(np.argmax(early * early / (k * (len(x) - k))))])


def _wander(levels: Floats, lag: int) -> float:
    """How far a level moves by itself in so many grains; endless while too few are known."""
    if len(levels) < lag + FEWEST:
        return np.inf
    moved = levels[-SEEN:][lag:] - levels[-SEEN:][:-lag]
    return float(np.sqrt(np.mean(moved * moved)))


def _is_step(t: Floats, early: Floats, late: Floats, least: float, better: float) -> bool:
    """Whether two levels fit so many times better than a slow walk; `least`: no fit is better than this."""
    x = np.concatenate((early, late))
    levels = float(np.sum((early - early.mean()) ** 2) + np.sum((late - late.mean()) ** 2))
    off = t - t.mean()
    slope = float(off @ (x - x.mean())) / max(float(off @ off), 1e-9)
    line = float(np.sum((x - x.mean() - slope * off) ** 2))
    return line > better * max(levels, len(x) * least * least)


def _moved(desk: Desk, track: Track, before_ns: int, after_ns: int) -> float | None:
    """By what part a point's level moved between two instants, the mains taken out as far as its meter tells;
    None where it can't be told."""
    before = [g for g in track.grains if g.at_ns <= before_ns][-2:]
    after = [g for g in track.grains if g.first_ns >= after_ns][:2]
    if not before or not after:
        return None
    levels = without_mains(desk, track, (*before, *after), len(before) + len(after), 0).levels
    if len(levels) < len(before) + len(after):
        return None
    was, now = float(levels[: len(before)].mean()), float(levels[len(before) :].mean())
    return now / was - 1.0 if was else None
