"""Points that move slowly: drift, and creep where it will leave the band.

A point is held against its own settled level, with the mains (or what points that share nothing with it did)
taken out, and must still be moving.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from benchtui.model.units import Unit
from benchtui.watch.signals import Grain

from .banding import band
from .desk import Desk
from .track import Track

MOVED = 0.025
"""Part of the level that a drift has covered when it is told. Common practice, no source."""
RAW_PART = 0.8
"""A point that has not moved at all has not drifted, whatever the mains did."""
UNVOUCHED = 0.06
"""With no mains meter and nothing else to hold it against, less may be an evening's mains. Common practice,
no source."""
SLOW_S = 3.0
"""A meter slower than this, or a needle, is not waited for."""
NOISES = 6.0
LOOK_BACK_S = 100.0
TAIL, TAIL_S = 0.04, 120.0
"""After power-on the slow tail of settling adds this part, fading: parts warm for minutes. Common practice,
no source."""
AGAIN_S = (120.0, 240.0)
"""At these ages of the run a point is anchored again: what is left of the tail is less."""
WARM_S = 60.0
"""From this age on a point that has not settled yet moves slowly enough to be held against too."""
UP_S = 40.0
LATELY_S = 300.0
STILL_PART = 0.004
"""It must have covered this part of the level within the look-back, all in one direction."""
BOTH = 0.1
"""The earlier half of the look-back must show this part of it: what came at the end is no slow course."""
SOON_S = 900.0
"""A point that will leave its band within this is called a creep."""
QUIET_S = 90.0
SHARED = 0.6
"""Points that moved by this part of what another did moved with it."""
FASTEST = 0.0025
"""Parts of the level a second: what is quicker is no drift."""


@dataclass(slots=True)
class _Anchor:
    """What a point read when it was taken as settled, and what the mains and the other points were then."""

    at_ns: int
    level: float
    mains: float | None
    levels: dict[str, float]
    whole: bool
    """Every point that reads was settled or warm then: who moved since can be told."""


class Drifting:
    """Opens `drift` and `creep`."""

    def __init__(
        self, desk: Desk, mains_moved: Callable[[int, int], bool], mains_stepped: Callable[[], int]
    ) -> None:
        """`mains_moved(first, until)`: whether a move of the mains began or ended then.

        `mains_stepped()`: when it last moved to stay; 0 if never.
        """
        self._desk = desk
        self._mains_moved = mains_moved
        self._mains_stepped = mains_stepped
        self._anchors: dict[str, list[_Anchor]] = {}
        """Per point, the first when it had settled."""
        self._open: dict[str, int] = {}
        self._moving_ns: dict[str, int] = {}

    def run_begins(self) -> None:
        self._anchors.clear()
        self._open.clear()

    def moved(self, track: Track) -> None:
        """The point has jumped: its slow course begins anew."""
        self._anchors.pop(track.name, None)

    def disturbed(self) -> None:
        """A fault of some point has begun or ended: slow courses are judged anew from here."""
        self._anchors.clear()

    def grain(self, track: Track, signal: Grain) -> None:
        desk, name = self._desk, track.name
        if not desk.running or not track.unit.is_voltage or track.is_mains or track.trouble or track.cold:
            return
        ready = track.settled_ns is not None or desk.age_s(signal.at_ns) > 150.0
        low = abs(signal.level) <= 2.0 * track.segment.course.cold
        if signal.away or not ready or track.point.moves or low or desk.up_s(signal.at_ns) < UP_S:
            return
        anchors = self._anchors.setdefault(name, [])
        if anchors and name not in self._open and self._is_stale(track, anchors[-1]):
            anchors.clear()
        if not anchors or (name not in self._open and self._wants_another(anchors[-1], signal.at_ns)):
            anchors.append(self._anchor(track, signal))
        elif name not in self._open and not anchors[-1].whole:
            anchors[-1] = self._anchor(track, signal)
        if name in self._open:
            ratio, rate = signal.level / anchors[0].level, self._rate(track, signal, anchors[0])
            self._go_on(track, signal, self._own(track, ratio, anchors[0]) - 1.0, rate)
            return
        for anchor in anchors:
            if self._drifts(track, signal, anchor):
                return

    def _is_stale(self, track: Track, newest: _Anchor) -> bool:
        """Whether the mains has stepped since, and no meter of it says by how much."""
        if not track.point.follows_mains or self._desk.mains_factor() is not None:
            return False
        return self._mains_stepped() > newest.at_ns

    def _wants_another(self, newest: _Anchor, at_ns: int) -> bool:
        """Whether the tail of settling has faded so far that a later anchor tells more."""
        was_s = self._desk.up_s(newest.at_ns)
        if was_s >= AGAIN_S[-1]:
            return False
        up_s = self._desk.up_s(at_ns)
        return any(was_s < again_s <= up_s for again_s in AGAIN_S)

    def _anchor(self, track: Track, signal: Grain) -> _Anchor:
        desk = self._desk
        mains = desk.mains_factor() if track.point.follows_mains else None
        warm = desk.up_s(signal.at_ns) >= WARM_S
        still = [t for t in desk.tracks.values() if t.grains and (warm or t.settled_ns is not None)]
        levels = {**{t.name: t.grains[-1].level for t in still}, track.name: signal.level}
        whole = all(t.name in levels for t in desk.tracks.values() if self._is_live(t))
        return _Anchor(signal.at_ns, signal.level, mains, levels, whole)

    def _is_live(self, track: Track) -> bool:
        now_ns = self._desk.now_ns
        if track.unit is not Unit.V or track.period_s > SLOW_S:
            return False
        return track.fresh(now_ns) and not track.reads_nothing(now_ns)

    def _drifts(self, track: Track, signal: Grain, anchor: _Anchor) -> bool:
        """Tells a drift since an anchor where there is one."""
        if abs(signal.level / anchor.level - 1.0) < RAW_PART * MOVED or not anchor.whole:
            return False
        if track.point.follows_mains and self._mains_moved(signal.first_ns, signal.at_ns):
            return False
        moved = self._own(track, signal.level / anchor.level, anchor) - 1.0
        if abs(moved) < UNVOUCHED and not self._is_vouched_for(track, anchor):
            return False
        noise = NOISES * signal.noise / abs(signal.level)
        tail = TAIL * math.exp(-max(self._desk.up_s(anchor.at_ns), 0.0) / TAIL_S)
        rate = self._rate(track, signal, anchor)
        if abs(moved) < max(MOVED + tail, noise) or rate is None or rate * moved <= 0 or abs(rate) >= FASTEST:
            return False
        self._tell(track, signal, anchor, moved, rate)
        return True

    def _own(self, track: Track, ratio: float, anchor: _Anchor) -> float:
        """The ratio of levels that is the point's own: the mains', or the others', taken out."""
        desk = self._desk
        if not track.point.follows_mains:
            return ratio
        mains = desk.mains_factor()
        if mains and anchor.mains:
            return ratio / (mains / anchor.mains)
        others = sorted(r for r in (self._other(track, o, anchor) for o in desk.tracks.values()) if r)
        if not others:
            return ratio
        middle = (
            others[len(others) // 2] if len(others) % 2 else min(others[len(others) // 2 - 1 :][:2], key=_far)
        )
        return ratio / middle if (middle - 1.0) * (ratio - 1.0) > 0 else ratio

    def _is_vouched_for(self, track: Track, anchor: _Anchor) -> bool:
        """Whether anything tells a drift of the point from one of the mains."""
        if not track.point.follows_mains or (anchor.mains and self._desk.mains_factor()):
            return True
        return any(self._other(track, other, anchor) for other in self._desk.tracks.values())

    def _other(self, track: Track, other: Track, anchor: _Anchor) -> float | None:
        """How another point, one that shares nothing but the mains, has moved since."""
        desk = self._desk
        if other is track or other.is_mains or not other.point.follows_mains or other.point.moves:
            return None
        if other.name in desk.chart.feeds(track.name) or track.name in desk.chart.feeds(other.name):
            return None
        if not other.unit.is_voltage or not other.grains or not other.fresh(desk.now_ns):
            return None
        before = anchor.levels.get(other.name)
        return other.grains[-1].level / before if before and not other.cold else None

    def _rate(self, track: Track, signal: Grain, anchor: _Anchor) -> float | None:
        """Parts of the level per second over the look-back; None where it does not move in one direction."""
        since = max(signal.at_ns - int(LOOK_BACK_S * 1e9), anchor.at_ns)
        stepped = self._mains_stepped() if track.point.follows_mains else 0
        levels = [
            (g.at_ns, g.level)
            for g in track.grains
            if g.at_ns >= since and g.first_ns >= stepped and not g.away
        ]
        if len(levels) < 4 or signal.at_ns - levels[0][0] < 0.5 * LOOK_BACK_S * 1e9:
            return None
        half = len(levels) // 2
        a, m, b = levels[0][1], levels[half][1], levels[-1][1]
        first = (m - a) / signal.level
        second = (b - m) / signal.level
        if first * second <= 0 or abs(first + second) < STILL_PART or abs(first) < BOTH * abs(first + second):
            return None
        if not self._lately(track, signal, anchor):
            return None
        return (first + second) / ((levels[-1][0] - levels[0][0]) * 1e-9)

    def _lately(self, track: Track, signal: Grain, anchor: _Anchor) -> bool:
        """Whether it has covered half of what makes a drift within the last minutes: slower is no news."""
        since = signal.at_ns - int(LATELY_S * 1e9)
        before = next((g.level for g in reversed(track.grains) if g.at_ns <= since), anchor.level)
        return abs(signal.level - before) >= 0.5 * MOVED * abs(signal.level)

    def _tell(self, track: Track, signal: Grain, anchor: _Anchor, moved: float, rate: float) -> None:
        """Tells a drift of the point that carries it, by the chart or by its voltage; it names the others."""
        together = {track.name: moved}
        for other in self._desk.tracks.values():
            own = self._moved_since(other, anchor)
            if own is not None and own * moved > 0 and abs(own) >= SHARED * abs(moved):
                together.setdefault(other.name, own)
        if any(self._desk.tracks[name].is_heater for name in together):
            return
        chart = self._desk.chart
        root = max(together, key=lambda p: (chart.carries(p), abs(self._desk.tracks[p].grains[-1].level)))
        also = [name for name in together if name != root]
        number = next((self._open[name] for name in together if name in self._open), None)
        if number is not None:
            self._desk.log.name_also(self._desk.now_ns, number, track.name)
            self._open[track.name] = number
            self._moving_ns[track.name] = signal.at_ns
            return
        blamed = self._desk.tracks[root]
        self._open[root] = self._opened(blamed, signal, anchor, together[root], rate, also)
        self._open[track.name] = self._open[root]
        self._moving_ns[root] = self._moving_ns[track.name] = signal.at_ns

    def _opened(
        self, track: Track, signal: Grain, anchor: _Anchor, moved: float, rate: float, also: list[str]
    ) -> int:
        desk = self._desk
        newest = track.grains[-1]
        leaves = self._leaves_s(track, newest, rate)
        evidence: dict[str, object] = {
            "level": anchor.levels.get(track.name),
            "value": newest.level,
            "moved": moved,
            "per_h": rate * newest.level * 3600.0,
            "leaves_s": leaves,
            "after_mark": desk.after_mark(anchor.at_ns),
            "also": also,
        }
        kind = "creep" if leaves is not None else "drift"
        return desk.log.open(signal.at_ns, kind, track.name, self._began(track, anchor), None, evidence)

    def _moved_since(self, track: Track, anchor: _Anchor) -> float | None:
        """What a point has moved by of its own, in parts, since an anchor; None where it can't be told."""
        if track.is_mains or track.cold or not track.grains or track.grains[-1].away:
            return None
        if not track.fresh(self._desk.now_ns):
            return None
        before = anchor.levels.get(track.name)
        if not before or not track.unit.is_voltage or track.point.moves:
            return None
        return self._own(track, track.grains[-1].level / before, anchor) - 1.0

    def _began(self, track: Track, anchor: _Anchor) -> int:
        """The last grain that still stood within a fifth of the way."""
        near = [g for g in track.grains if g.at_ns >= anchor.at_ns]
        then = anchor.levels.get(track.name, anchor.level)
        now = near[-1].level if near else then
        for g in reversed(near):
            if abs(g.level - then) <= 0.2 * abs(now - then):
                return g.at_ns
        return anchor.at_ns

    def _leaves_s(self, track: Track, signal: Grain, rate: float) -> float | None:
        b = band(self._desk, track)
        edge = b.high if rate * signal.level > 0 else b.low
        if edge is None or b.why:
            return None
        left = (edge - signal.level) / (rate * signal.level)
        return (signal.at_ns / 1e9 + left) if 0 < left < SOON_S else None

    def _go_on(self, track: Track, signal: Grain, moved: float, rate: float | None) -> None:
        desk, name = self._desk, track.name
        number = self._open[name]
        if rate is not None:
            self._moving_ns[name] = signal.at_ns
        elif signal.at_ns - self._moving_ns[name] > QUIET_S * 1e9:
            desk.log.close(signal.at_ns, number, self._moving_ns[name], evidence={"moved": moved})
            self._forget(number)

    def lead_gone(self, point: str, at_ns: int) -> None:
        self._anchors.pop(point, None)
        number = self._open.pop(point, None)
        if number is not None and self._desk.log.get(number).point == point:
            self._desk.log.close(at_ns, number, at_ns)
            self._forget(number)

    def _forget(self, number: int) -> None:
        """A drift has ended: its points are judged anew."""
        for name in [n for n, open_number in self._open.items() if open_number == number]:
            self._open.pop(name)
            self._anchors.pop(name, None)


def _far(ratio: float) -> float:
    return abs(ratio - 1.0)
