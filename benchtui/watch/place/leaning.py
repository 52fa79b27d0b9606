"""Steps too small or too soft for single readings: a few flat grains, then a few flat grains elsewhere."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.watch.signals import Away, Grain

from .desk import Desk, Track

BEFORE, AFTER, BETWEEN = 4, 3, 2
"""Flat grains before the step and after it, and at most so many in which it happens."""
LEAST_ALONE, LEAST_COUNTS = 0.008, 1.6
"""Part of the level below which a step may be the mains' where no other point shows that; counts below
which it is no news. Common practice, no source."""
NOISES = 6.0
FLAT = 3.0
"""The step is so many times what the grains on either side range over."""
BETTER = 10.0
"""Two levels explain the grains so many times better (in squares) than one straight line."""
WANDERS, FEWEST, SEEN = 4.5, 4, 24
"""So many times what the level wanders by itself; known from so many differences of the newest grains."""
SHARED = 0.5
"""A feed that moved by this part of it carries the step."""
UP_S = 60.0
BACK_PART = 0.35
LEAST_BACK, MOST_BACK = 0.5, 1.5
"""A move back by such parts of the step is its end."""


@dataclass(slots=True)
class _Step:
    number: int
    level: float
    depth: float
    back_ns: int = 0


class Leaning:
    """Opens `step` where the grains say what the readings one by one do not."""

    def __init__(
        self, desk: Desk, known: Callable[[str, int], int | None], mains_moved: Callable[[int, int], bool]
    ) -> None:
        """`known(point, at_ns)`: the finding that tells already why a point is where it is.

        `mains_moved(first, until)`: whether the mains did, as its meter or the points together have shown.
        """
        self._desk = desk
        self._known = known
        self._mains_moved = mains_moved
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
        if track.point.moves or track.settled_ns is None or desk.up_s(signal.at_ns) < UP_S:
            return
        if name in desk.chatter or signal.away:
            return
        if name in self._open:
            self._come_back(track, signal)
        if not self._may_be(track):
            return
        for between in range(BETWEEN + 1):
            if self._told(track, between):
                return

    def _may_be(self, track: Track) -> bool:
        """A quick look: whether the newest grain is far enough from one of those before."""
        grains, few = track.grains, BEFORE + AFTER
        if len(grains) < few:
            return False
        newest = grains[-1].level
        least = 0.8 * track.segment.course.least_move * abs(newest)
        first = grains[-min(few + BETWEEN, len(grains))].level
        return abs(newest - first) > least or abs(newest - grains[-few].level) > least

    def _told(self, track: Track, between: int) -> bool:
        grains = self._newest(track, BEFORE + between + AFTER)
        if grains is None:
            return False
        before, after = grains[:BEFORE], grains[-AFTER:]
        a, c = float(np.median([g.level for g in before])), float(np.mean([g.level for g in after]))
        depth = c - a
        counts = track.segment.history.step_at(after[-1].at_ns)
        noise = max(float(np.median([g.noise for g in grains])), 0.29 * counts)
        level_noise = 1.25 * noise / max(track.segment.course.grain_size, 1) ** 0.5
        least = max(
            track.segment.course.least_move * abs(a), LEAST_COUNTS * counts, NOISES * level_noise,
            FLAT * _range(before), FLAT * _range(after),
        )  # fmt: skip
        if not a or abs(depth) < least or not _is_step(before, after, 0.3 * level_noise):
            return False
        if abs(depth) < WANDERS * self._wander(track, before[-1].at_ns, between + (BEFORE + AFTER) // 2):
            return False
        part = self._own(track, depth / a, before[-1].at_ns, after[0].first_ns)
        if part is None or abs(part) < least / abs(a):
            return False
        self._tell(track, grains, a, c, part)
        return True

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

    def _wander(self, track: Track, until_ns: int, lag: int) -> float:
        """How far the level moves by itself in so many grains; endless while too few are known."""
        since = self._level_since(track)
        levels = np.array([g.level for g in track.grains if since < g.first_ns and g.at_ns <= until_ns])
        if len(levels) < lag + FEWEST:
            return np.inf
        moved = levels[-SEEN:][lag:] - levels[-SEEN:][:-lag]
        return float(np.sqrt(np.mean(moved * moved)))

    def _own(self, track: Track, part: float, before_ns: int, after_ns: int) -> float | None:
        """What of a step is the point's own; None where a feed or the mains carries it, or nobody knows."""
        desk, others = self._desk, []
        if track.point.follows_mains and self._mains_moved(before_ns, after_ns):
            return None
        feeds, mains = desk.chart.feeds(track.name), None
        for other in desk.tracks.values():
            if other is track or not other.unit.is_voltage or other.point.moves or other.cold:
                continue
            moved = _moved(other, before_ns, after_ns)
            if moved is None:
                if other.name in feeds:
                    return None
                continue
            if other.name in feeds and moved * part > 0 and abs(moved) >= SHARED * abs(part):
                return None
            if other.is_mains:
                mains = moved
            elif other.point.follows_mains and track.name not in desk.chart.feeds(other.name):
                others.append(moved)
        if mains is not None and track.point.follows_mains:
            return part - mains if abs(mains) < SHARED * abs(part) or mains * part < 0 else None
        if not track.point.follows_mains:
            return part
        if not others:
            return part if abs(part) >= LEAST_ALONE else None
        nearest = min(others, key=lambda moved: abs(part - moved))
        if nearest * part > 0 and abs(nearest) >= SHARED * abs(part):
            return None
        return part - min(others, key=abs)

    def _tell(self, track: Track, grains: Sequence[Grain], a: float, c: float, part: float) -> None:
        desk, name = self._desk, track.name
        self._since[name] = grains[-AFTER].first_ns - 1
        start = self._start(track, grains, a, c)
        if self._known(name, start + 1) is not None or any(
            self._known(feed, start + 1) is not None for feed in desk.chart.feeds(name)
        ):
            return
        evidence: dict[str, object] = {
            "depth": c - a,
            "level": a,
            "relative": (c - a) / a,
            "own": part,
            "noise": grains[-1].noise,
            "stands_at": c,
            "count": 1,
            "also": [],
            "why": "flat before and after, and the others did not move with it",
            **desk.circumstances(track.point, start),
        }
        number = desk.log.open(desk.now_ns, "step", name, start, None, evidence)
        self._open[name] = _Step(number, a, c - a)

    def _start(self, track: Track, grains: Sequence[Grain], a: float, c: float) -> int:
        """The reading at which it crossed half the way for good."""
        t, x = track.segment.history.between(grains[BEFORE - 1].first_ns - 1, grains[-AFTER].at_ns)
        beyond = (x - a) * (1.0 if c > a else -1.0) > 0.5 * abs(c - a)
        near = np.flatnonzero(~beyond)
        i = int(near[-1]) + 1 if len(near) else 0
        return int(t[min(i, len(t) - 1)])

    def _come_back(self, track: Track, signal: Grain) -> None:
        """Two grains at the former level: it was a dropout after all."""
        step = self._open[track.name]
        if abs(signal.level - step.level) > BACK_PART * abs(step.depth):
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


def _is_step(before: Sequence[Grain], after: Sequence[Grain], least: float) -> bool:
    """Whether two levels fit far better than a slow walk does; `least`: no fit is better than this."""
    t = np.array([0.5e-9 * (g.first_ns + g.at_ns) for g in (*before, *after)])
    x = np.array([g.level for g in (*before, *after)])
    early, late = x[: len(before)], x[len(before) :]
    levels = float(np.sum((early - early.mean()) ** 2) + np.sum((late - late.mean()) ** 2))
    off = t - t.mean()
    slope = float(off @ (x - x.mean())) / max(float(off @ off), 1e-9)
    line = float(np.sum((x - x.mean() - slope * off) ** 2))
    return line > BETTER * max(levels, len(x) * least * least)


def _range(grains: Sequence[Grain]) -> float:
    levels = [g.level for g in grains]
    return max(levels) - min(levels)


def _moved(track: Track, before_ns: int, after_ns: int) -> float | None:
    """By what part a point's level moved between two instants; None where it can't be told."""
    before = [g for g in track.grains if g.at_ns <= before_ns][-2:]
    after = [g for g in track.grains if g.first_ns >= after_ns][:2]
    if not before or not after:
        return None
    was = sum(g.level for g in before) / len(before)
    now = sum(g.level for g in after) / len(after)
    return now / was - 1.0 if was else None
