"""The eye that follows one point's course: cold, moving, steady, and away from it.

While it is steady, readings are held against a line learnt from whole grains; a stretch that stays near it is
passed over at once. Only where a reading leaves it does the eye look at single readings.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from benchtui.model.readings import Floats, Ints
from benchtui.watch.signals import (
    Away,
    Back,
    Deeper,
    Followed,
    Grain,
    Lost,
    Rose,
    Signal,
    Stayed,
    Steadied,
    Swinging,
    WentCold,
)

from .edge import BEFORE, WANDERS
from .edge import edge as edge_of
from .excursion import Excursion, Home
from .grains import FEWEST, GrainStats, grain_size, measure, threshold
from .history import History
from .line import Learner, Line

WINDOWS = ((1, 3.0), (2, 2.5), (4, 2.0), (6, 1.6))
"""Means of so many newest readings are looked at; each must be off by at least so many counts. Each window
but the first is two readings wider than the one before."""
LEAST_MOVE = 0.0045
"""Part of the level below which a move is no news. Common practice, no source."""
LINES_SEEN = 512
"""So many lines back one can look from any instant."""
COLD_AGAIN = 0.6
"""A point goes cold at this part of the level at which it leaves the cold."""
COLD_NS = 1_500_000_000
"""Two readings so far apart tell it; quicker meters need three."""
STEADY_PART = 0.012
"""A grain this far off its forecast (part of the level) is not steady."""
RECENT = 5
"""Readings that tell how a moving point usually goes on."""
JUMP_PART = 0.45
"""A jump makes up this part of the deviation."""
SURE_NOISES, SURE_PART = 10.0, 0.02
"""A jump of so many deviations of the noise and this part of the level is one, however little is known."""
ECHO_PART, ECHO_S = 0.3, 4.0
"""After a move, swings of this part of it are its tail, for so many seconds."""
NEAR_PART = 0.25
"""Noise grows with the level: what a point repeats tells nothing at one further off than this part."""
WAIT_S = 60.0
"""How long a moved point may take to come back before the move counts as one that stays."""


def _slipped(value: float, level: float, part: float) -> bool:
    """Whether a reading looks like the level with its decimal point slipped by one or two places."""
    ratio = abs(value / level) if level else 0.0
    return any(abs(ratio / f - 1.0) < part for f in (10.0, 100.0, 0.1, 0.01))


class Course:
    """The course of one segment. Feed it only usable readings of one unit, in order."""

    def __init__(
        self, history: History, cold: float, false_alarms_per_h: float, least_move: float = LEAST_MOVE
    ) -> None:
        self.history = history
        self.cold = cold
        """At or below this magnitude the point counts as cold."""
        self.least_move = least_move
        """Part of the level below which a move is no news."""
        self._false_alarms = false_alarms_per_h
        self.phase = "new"
        """new, cold, moving or steady."""
        self.line: Line | None = None
        self.lines: list[tuple[int, Line]] = []
        """Learnt lines with the instant from which each held."""
        self.period_s = 0.0
        """Median time between readings in the first grain; 0 while unknown."""
        self._size = FEWEST
        self._ahead: deque[GrainStats] = deque()
        """Grains that are measured already, though the eye has not come so far."""
        self._start = 0
        """Number of the first reading of the grain that is being filled."""
        self._seen = 0
        self._clean = True
        self._k = 6.0
        self._jump_k = 9.0
        self._learner = Learner()
        self._calm = 0
        self._number = 0
        self._valid_from = 0
        """Number of the first reading that the line may be held against."""
        self._fresh_ns = 0
        """Grains before this belong to another level."""
        self._echo = 0.0
        self._echo_until = 0
        self.excursion: Excursion | None = None
        self.home: Home | None = None
        self._cold_run = 0
        self._cold_since = 0
        self._warm_ns = 0
        self._fell_ns = 0
        """When the excursion began that became a course of its own; 0 once that course is known."""
        self._recent_from = 0
        """Number of the first reading that tells how a moving point usually goes on."""
        self._out: list[Signal] = []

    @property
    def grain_size(self) -> int:
        """How many readings make a grain."""
        return self._size

    def take(self, n: int) -> list[Signal]:
        """Looks at the newest n readings of the history; gives what they say, in order of time."""
        self._out = []
        t, x, r = self.history.last(n)
        i = 0
        while i < n:
            stop = min(n, i + self._size - (self._seen - self._start))
            i = self._look(t, x, r, i, stop)
            if self._seen - self._start == self._size:
                self._end_grain()
        return self._out

    # -- single readings and quiet stretches

    def _look(self, t: Ints, x: Floats, r: Floats, i: int, stop: int) -> int:
        """Looks at readings i .. stop-1, or fewer; gives the index of the next to look at."""
        if self._is_steady:
            fired = self._first_off(t, x, r, i, stop)
            if fired < 0:
                self._seen += stop - i
                return stop
            self._seen += fired + 1 - i
            self._leave_steady(t, x, r, fired)
            return fired + 1
        if self._is_cold:
            warm = np.abs(x[i:stop]) > self.cold
            if not warm.any():
                self._seen += stop - i
                return stop
            skip = int(warm.argmax())
            self._seen += skip
            i += skip
        for row in zip(t[i:stop].tolist(), x[i:stop].tolist(), r[i:stop].tolist(), strict=True):
            self._one(*row)
            self._seen += 1
            i += 1
            if self.excursion is None and (self._is_steady or self._is_cold):
                break
        return i

    @property
    def _is_steady(self) -> bool:
        """Whether it is held against its line."""
        return self.phase == "steady" and self.excursion is None

    @property
    def _is_cold(self) -> bool:
        """Whether nothing but a reading above the cold level is waited for."""
        return self.phase == "cold" and self.home is None

    def _first_off(self, t: Ints, x: Floats, r: Floats, i: int, stop: int) -> int:
        """Index of the first reading at which one of the windows is off; -1 if none is."""
        line = self.line
        assert line is not None
        wander, ordinary = WANDERS * line.wander, self.least_move * abs(line.level)
        lowest = max(self._k * line.noise / WINDOWS[-1][0] ** 0.5 + wander, ordinary)
        whole = self._seen == self._start and stop - i == self._size
        if whole and line.is_near(self._full(), lowest):
            return -1
        back = min(5, self._seen - max(self._start, self._valid_from))
        if back:
            t, x, r = self.history.numbered(self._seen - back, self._seen + stop - i)
        else:
            t, x, r = t[i:stop], x[i:stop], r[i:stop]
        off = line.off(t, x)
        far = np.abs(off) > lowest
        if not np.count_nonzero(far):
            return -1
        first = max(int(far.argmax()), back)
        bounds = [(self._k * line.noise / width**0.5 + wander, counts, width) for width, counts in WINDOWS]
        offs = off.tolist()
        for k, at, step in zip(range(first, len(offs)), t[first:].tolist(), r[first:].tolist(), strict=True):
            least = max(self._echo, ordinary) if self._echo and at <= self._echo_until else ordinary
            for total, (bound, counts, width) in zip(_newest_sums(offs, k), bounds, strict=False):
                if abs(total) / width > max(bound, counts * step, least):
                    return i + k - back
        return -1

    def _leave_steady(self, t: Ints, x: Floats, r: Floats, j: int) -> None:
        """A window was off at reading j: a jump begins an excursion; a slow move is followed."""
        line = self.line
        assert line is not None
        k = self._seen - 1
        at_ns, value = int(t[j]), float(x[j])
        first = max(k - 5, self._start, self._valid_from)
        tt, xx, _ = self.history.numbered(max(first - BEFORE, self._valid_from, 0), k + 1)
        off: list[float] = line.off(tt, xx).tolist()
        earliest = len(off) - (k + 1 - first)
        edge = edge_of(off, earliest, line, max(self.least_move * abs(line.level), 2.0 * float(r[j])))
        part = max(4.0 * line.noise / abs(line.level), 0.005) if line.level else 0.0
        if edge.first == len(off) - 1 and _slipped(value, line.at_one(at_ns * 1e-9), part):
            self._valid_from = self._seen
            return
        near_home = self.home is not None and self.home.near(value, line.noise)
        sure = max(SURE_NOISES * line.noise, SURE_PART * abs(line.level))
        small = edge.jump < max(JUMP_PART * abs(edge.peak), min(self._jump_k * edge.spread, sure))
        if small and not near_home:
            self._follow(at_ns, edge.mean)
            return
        since = int(tt[edge.first - edge.straddled])
        level = line.at_one(since * 1e-9)
        self._begin(at_ns, since, level, edge.peak, edge.abrupt, True, float(r[j]), value)

    def _follow(self, at_ns: int, off: float) -> None:
        """The level has moved slowly: the line goes with it, and what it is surprised by grows."""
        line = self.line
        assert line is not None
        self._learner.surprised(line, off)
        at, wander = at_ns * 1e-9, self._learner.wander
        moved = line.at_one(at) + off
        self.line = Line(moved, 0.0, at, at, line.noise, wander, line.jump, line.same, line.step)
        self.lines.append((at_ns, self.line))
        self._valid_from = self._seen
        self._fresh_ns = at_ns
        if abs(off) > self.least_move * abs(line.level):
            self._out.append(Followed(at_ns))

    def _begin(
        self, at_ns: int, since: int, level: float, peak: float, abrupt: bool, steady: bool, step: float,
        value: float,
    ) -> None:  # fmt: skip
        noise = self.line.noise if self.line is not None and steady else max(step, 0.01 * abs(level))
        wander = self.line.wander if self.line is not None and steady else 0.0
        self._number += 1
        self._clean = False
        going_home = self.home is not None and self.home.lies_on_the_way(level, peak)
        self.excursion = Excursion(
            self._number, since, level, peak, noise, wander, step, steady, abrupt, self.period_s, going_home
        )
        self._cold_run = int(abs(value) <= COLD_AGAIN * self.cold)
        self._cold_since = at_ns
        if going_home and self._at_home(at_ns, value):
            return
        if not going_home:
            self._tell_away(at_ns)

    def _tell_away(self, at_ns: int) -> None:
        e = self.excursion
        assert e is not None
        e.told = True
        self._out.append(
            Away(at_ns, e.number, e.since_ns, e.level, e.peak, e.abrupt, e.steady, e.noise, self._before(e))
        )

    def _before(self, e: Excursion) -> int:
        found = self.history.at(e.since_ns - 1)
        return found[0] if found is not None else e.since_ns

    def _one(self, t: int, x: float, r: float) -> None:
        """One reading, where the eye is not steady or an excursion is open."""
        if self._watch_cold(t, x):
            return
        if self.home is not None and self._at_home(t, x):
            return
        if self.excursion is not None:
            self._in_excursion(t, x, r)
        elif self.phase == "moving":
            self._watch_jump(t, x, r)

    def _watch_cold(self, t: int, x: float) -> bool:
        """Goes to and fro between cold and not; True where nothing else is to be asked of this reading."""
        level = self.cold if self.phase in ("cold", "new") else COLD_AGAIN * self.cold
        if abs(x) > level:
            if self.phase == "cold":
                self.phase = "moving"
                self._calm = 0
                self._clean = False
                self._out.append(Rose(t, t, x))
            elif self.phase == "new":
                self.phase = "moving"
            self._cold_run = 0
            self._warm_ns = t
            return False
        if self.phase == "cold":
            return self.home is None
        if self._cold_run == 0:
            self._cold_since = t
        self._cold_run += 1
        for_long = self._cold_run == 2 and t - self._cold_since >= COLD_NS
        if self._cold_run >= 3 or for_long or self.phase == "new":
            self._go_cold(t)
            return True
        return False

    def _go_cold(self, t: int) -> None:
        if self.phase != "new":
            left = self._fell_ns or self._warm_ns
            if self.excursion is not None:
                left = self.excursion.since_ns
            self._out.append(WentCold(t, self._cold_since, left))
        if self.excursion is not None:
            self._leave_excursion(t)
        self.phase = "cold"
        self._fell_ns = 0
        self.line = None
        self._clean = False
        self._learner.forget_surprises()

    def _leave_excursion(self, t: int) -> None:
        """The excursion becomes a course of its own; the former level stays known as home for a while."""
        e = self.excursion
        assert e is not None
        if not e.told:
            self._tell_away(t)
        self._out.append(Lost(t, e.number, e.peak))
        self._fell_ns = e.since_ns
        if self.home is None:
            self.home = e.as_home(t, WAIT_S)
        self.excursion = None

    def _at_home(self, t: int, x: float) -> bool:
        """Whether this reading (with the one before) stands at the former level again."""
        home = self.home
        assert home is not None
        if t > home.until_ns:
            if self._is_steady or self.phase == "cold":
                level = self.line.level if self.line is not None else 0.0
                self._out.append(Stayed(t, home.number, level))
            self.home = None
            return False
        if not home.holds(t, x):
            return False
        if not home.returned:
            return True
        away_ns = min(home.away_ns, home.first_ns)
        if self.excursion is not None and self.excursion.told:
            e = self.excursion
            self._out.append(Back(t, e.number, home.first_ns, e.peak, max(away_ns, e.since_ns)))
        self._out.append(Back(t, home.number, home.first_ns, home.peak, away_ns))
        self._return_to(home.level, home.noise, home.wander, t)
        self._after_move(t, home.peak, home.since_ns)
        self.home = None
        return True

    def _after_move(self, t: int, peak: float, since: int) -> None:
        """For a while after a move the tail of it is no news."""
        self._valid_from = self._seen + 1
        self._echo = ECHO_PART * abs(peak)
        lasted = 0.3 * (t - since) * 1e-9
        self._echo_until = t + int(max(ECHO_S, 6.0 * self.period_s, min(lasted, 10.0)) * 1e9)

    def _return_to(self, level: float, noise: float, wander: float, t: int) -> None:
        jump = self._learner.greatest_leap(noise)
        self.excursion = None
        self._fell_ns = 0
        self.phase = "steady"
        at, old = t * 1e-9, self.line
        near = old is not None and abs(level - old.level) <= NEAR_PART * abs(old.level)
        known = (old.same, old.step) if old is not None and near else ()
        self.line = Line(level, 0.0, at, at, noise, wander, jump, *known)
        self.lines.append((t, self.line))
        self._clean = False
        self._fresh_ns = t

    def _watch_jump(self, t: int, x: float, r: float) -> None:
        """While warming up: a sudden fall that no warm-up makes."""
        first = max(self._recent_from, self._seen - RECENT)
        if self._seen - first < 4:
            return
        recent = self.history.numbered(first, self._seen)[1].tolist()
        steps = sorted(b - a for a, b in pairwise(recent))
        usual = steps[len(steps) // 2]
        size = sorted(abs(s) for s in steps)[len(steps) // 2]
        expected = recent[-1] + usual
        sign = 1.0 if recent[-1] > 0 else -1.0
        fall = -sign * (x - expected)
        if abs(recent[-1]) > 4 * self.cold and fall > max(6 * size, 0.08 * abs(recent[-1]), 5 * r):
            self._begin(t, t, recent[-1], x - recent[-1], True, False, r, x)

    def _in_excursion(self, t: int, x: float, r: float) -> None:
        e = self.excursion
        assert e is not None
        what = e.take(t, x)
        if what == "back":
            if e.told:
                self._out.append(Back(t, e.number, e.first_back_ns, e.peak, e.away_ns))
            self.excursion = None
            self._after_move(t, e.peak, e.since_ns)
            if not e.steady:
                self._recent_from = self._seen + 1
            return
        if what == "steady" and (e.steady or not e.going_home):
            self._steadied(t)
            return
        if what == "lost":
            self._leave_excursion(t)
            self.phase = "moving"
            self._calm = 0
            return
        if e.going_home and not (self.home is not None and self.home.lies_on_the_way(e.level, e.peak)):
            e.going_home = False
            self._tell_away(t)
        elif not e.told and e.readings >= 4 and not e.going_home:
            self._tell_away(t)
        elif e.told and e.deeper():
            self._out.append(Deeper(t, e.number, e.peak))
        if e.told and e.restless(t):
            self._out.append(Swinging(t, e.number, e.peak))

    def _steadied(self, t: int) -> None:
        e = self.excursion
        assert e is not None
        if not e.told:
            self._tell_away(t)
        level = e.steady_level()
        self._out.append(Steadied(t, e.number, e.steady_since_ns(), level))
        if self.home is not None and self.home.is_beside(e):
            self._out.append(Stayed(t, self.home.number, e.level))
            self.home = None
        if self.home is None:
            self.home = e.as_home(t, WAIT_S)
        noise = self._learner.on_range(self.history.step_at(t), e.noise)
        self._return_to(level, noise, e.wander, t)
        self._after_move(t, e.peak, e.since_ns)

    # -- grains

    def _end_grain(self) -> None:
        clean = self._clean and self.excursion is None
        g = self._full()
        self._ahead.popleft()
        g.clean = clean
        if self.period_s == 0.0:
            gaps = np.sort(np.diff(self.history.numbered(self._start, self._seen)[0]))
            self.period_s = max(float(gaps[len(gaps) // 2]) * 1e-9, 1e-3)
            self._size = grain_size(self.period_s)
            self._k = threshold(self._false_alarms, self.period_s)
        self._start = self._seen
        self._clean = self.excursion is None
        if self.phase == "steady" and self.home is not None and g.end_ns > self.home.until_ns:
            self._out.append(Stayed(g.end_ns, self.home.number, g.level))
            self.home = None
        if (
            self.phase in ("steady", "moving")
            and max(abs(g.level), abs(g.last)) <= COLD_AGAIN * self.cold
            and self.excursion is None
        ):
            self._cold_since = g.first_ns
            self._go_cold(g.end_ns)
        elif self.phase == "steady" and clean:
            self._learn(g)
        elif self.phase == "moving" and self.excursion is None:
            self._judge_calm(g)
        slope = self._learner.add(g, self._size)
        self._out.append(
            Grain(g.end_ns, g.first_ns, g.level, g.noise, g.flutter, slope, self.phase == "steady", not clean)
        )

    def _full(self) -> GrainStats:
        """The grain that is being looked at; those that are full already behind it are measured with it."""
        if not self._ahead:
            size = self._size
            many = 1 if self.period_s == 0.0 else (self.history.count - self._start) // size
            t, x, r = self.history.numbered(self._start, self._start + many * size)
            self._ahead.extend(measure(t.reshape(many, size), x.reshape(many, size), r.reshape(many, size)))
        return self._ahead[0]

    def _learn(self, g: GrainStats) -> None:
        line = self.line
        assert line is not None
        self._learner.surprised(line, g.level - line.at_one(g.centre_s))
        self._learner.take(g)
        self._set_line(g)

    def _set_line(self, g: GrainStats) -> None:
        self.line = self._learner.line(g, self.line, self._size, self._fresh_ns)
        self._jump_k = self._learner.jump_threshold(self._k, self._size)
        self.lines.append((g.end_ns, self.line))

    def _judge_calm(self, g: GrainStats) -> None:
        """Whether a moving point has become steady: three forecasts in a row held."""
        if len(self._learner.grains) < 2:
            return
        a, b = list(self._learner.grains)[-2:]
        span = max(b.centre_s - a.centre_s, 1e-9)
        forecast = b.level + (b.level - a.level) / span * (g.centre_s - b.centre_s)
        surprise = g.level - forecast
        scale = max(abs(g.level), 5 * self.cold)
        tol = max(STEADY_PART * scale, 4.0 * g.noise / self._size**0.5, g.resolution)
        calm = abs(surprise) < tol and abs(g.level - b.level) < max(0.02 * scale, tol) and self._clean
        if not calm or g.noise > 0.05 * scale:
            self._calm = 0
            self._learner.forget()
            return
        self._calm += 1
        self._learner.calm(g, surprise)
        if self._calm >= 2:
            self.phase = "steady"
            self._fell_ns = 0
            self.line = None
            self._set_line(g)

    def after_gap(self, at_ns: int) -> list[Signal]:
        """So long without readings that nothing can be said of what was between: start anew."""
        self._out = []
        if self.excursion is not None:
            e = self.excursion
            if e.told:
                self._out.append(Lost(at_ns, e.number, e.peak))
            self.excursion = None
        if self.phase == "steady":
            self.phase = "moving"
        self._calm = 0
        self._fell_ns = 0
        self._clean = False
        self._recent_from = self._seen
        self._cold_run = 0
        return self._out

    # -- looking back

    def line_before(self, t_ns: int, now_ns: int) -> Line | None:
        """The line that held at an instant, as far as it was known at `now_ns`; None if it was not steady."""
        newest = bisect_right(self.lines, now_ns, key=_since)
        at = bisect_right(self.lines, min(t_ns, now_ns), 0, newest, key=_since) - 1
        return self.lines[at][1] if at >= 0 and newest - at <= LINES_SEEN else None

    def forget_old(self) -> None:
        """Lets go of lines that nobody looks back on; call it before new readings are looked at."""
        if len(self.lines) > 4 * LINES_SEEN:
            del self.lines[: -2 * LINES_SEEN]


def _newest_sums(off: Sequence[float], k: int) -> Iterator[float]:
    """Sums of as many readings up to the k-th as each of the WINDOWS is wide, while there are so many."""
    yield off[k]
    total = 0.0
    for width, _ in WINDOWS[1:]:
        if k + 1 < width:
            return
        total += off[k + 2 - width] + off[k + 1 - width]
        yield total


def _since(entry: tuple[int, Line]) -> int:
    return entry[0]
