"""Inside, outside or undecided: each level against the chart's band, the meter's accuracy as guard band."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from benchtui.model.units import Unit
from benchtui.watch.signals import Back, Grain

from .desk import Desk
from .track import Track

MAINS_REACH = 0.10
"""The chart holds for mains within +-10 %; beyond, points that follow it are not judged."""
NOT_YET = 0.9
HOLD_OFF_S = 120.0
"""By this age a point is judged even if it has not settled. Common practice, no source."""
MOVING = 0.1
"""While a point moves by this part from grain to grain it is on its way: it may be the switch-off."""
TURNED_S = 90.0
"""So long after a set was last turned up, by what its points show, it is still being brought up."""
MAINS_S = 4.0
"""The mains is judged from this age on: it does not warm up, and its meter has then read."""
OTHERS_S = 75.0
"""A point that stays cold is judged from this age on."""


class Band(NamedTuple):
    """The band as it holds now, in the point's unit; why it is not judged, if it is not."""

    low: float | None
    nominal: float | None
    high: float | None
    factor: float
    why: str = ""


def band(desk: Desk, track: Track) -> Band:
    """The chart's band, scaled by the measured mains and by what this meter loads instead of the chart's."""
    mains = desk.mains_factor()
    return _band(desk, track, None if mains is None else (mains, mains, mains))


def band_over(desk: Desk, track: Track, first_ns: int, at_ns: int) -> Band:
    """The band whatever the mains was while some readings came: what is beyond did not only follow it."""
    mains = desk.mains_between(first_ns, at_ns)
    return _band(desk, track, (min(mains), mains[-1], max(mains)) if mains else None)


def _band(desk: Desk, track: Track, mains: tuple[float, float, float] | None) -> Band:
    """The band for a mains that was at least, is now, and was at most such parts of the chart's; None: not
    known."""
    point, why = track.point, ""
    if point.low is None and point.high is None:
        return Band(None, point.nominal, None, 1.0, "the chart gives no tolerance")
    follows = mains is not None and point.follows_mains and not track.is_mains
    least, now, most = mains if mains is not None and follows else (1.0, 1.0, 1.0)
    farthest = least if abs(least - 1.0) >= abs(most - 1.0) else most
    if abs(farthest - 1.0) > MAINS_REACH + 1e-9:
        why = f"the mains is {100 * (farthest - 1):+.0f} % from the chart's"
    meter = loading(desk, track)
    low = None if point.low is None else point.low * least * meter
    nominal = None if point.nominal is None else point.nominal * now * meter
    high = None if point.high is None else point.high * most * meter
    return Band(low, nominal, high, now * meter, why)


def loading(desk: Desk, track: Track) -> float:
    """How much more this meter shows than the chart's: the ratio of the two voltage dividers."""
    source, meter = track.point.source_resistance, desk.chart.meter
    ours = track.segment.channel.input_resistance
    if source is None or meter is None or not ours or ours < 1.0 or track.unit is not Unit.V:
        return 1.0
    theirs = meter.ohms
    if meter.ohms_per_volt is not None and track.point.range is not None:
        theirs = meter.ohms_per_volt * track.point.range
    return (1.0 + source / theirs) / (1.0 + source / ours) if theirs else 1.0


def guard(track: Track, level: float) -> float:
    """The meter's greatest error at a level; 0 where its accuracy is not known."""
    accuracy = track.segment.channel.accuracy
    if accuracy is None:
        return 0.0
    return accuracy.bound(level, track.step, track.point.range or 0.0)


def decide(b: Band, level: float, error: float) -> str:
    """inside, outside, undecided: outside only where no error of the meter can explain it (JCGM 106:2012,
    guarded rejection), inside only where none can hide it (guarded acceptance)."""
    below = b.low is not None and level < b.low - error
    above = b.high is not None and level > b.high + error
    if below or above:
        return "outside"
    inside = (b.low is None or level >= b.low + error) and (b.high is None or level <= b.high - error)
    return "inside" if inside else "undecided"


class Banding:
    """Opens `outside` once two grains in a row are, ends it once two are not."""

    def __init__(self, desk: Desk, because: Callable[[str, int], int | None]) -> None:
        self._desk = desk
        self._because = because
        self._run: dict[str, list[int]] = {}
        self._open: dict[str, int] = {}
        self._mains_was_in = False
        self.decision: dict[str, str] = {}
        self.why: dict[str, str] = {}

    def run_begins(self) -> None:
        self._mains_was_in = False
        self._run.clear()
        self._open.clear()
        self.decision.clear()

    def judged(self, track: Track, at_ns: int) -> str:
        """The empty string where the point should be in its band now; else why it is not judged."""
        desk = self._desk
        if not desk.running:
            return "the set is off"
        if track.trouble:
            return "the meter: " + ", ".join(sorted(track.trouble))
        age = desk.age_s(at_ns)
        if self._is_turned_up(at_ns):
            return "the set is being brought up"
        if track.settled_ns is not None or age > HOLD_OFF_S:
            return ""
        if track.is_mains and age > MAINS_S:
            return ""
        if track.cold and age > OTHERS_S:
            return ""
        return "still warming up"

    def _is_turned_up(self, at_ns: int) -> bool:
        """Whether the set is still being brought up, by its mains meter or, without one, by its points."""
        desk = self._desk
        mains = desk.mains_factor()
        if mains is not None:
            return mains < NOT_YET and not self._mains_was_in
        turns = (ns for ns in (desk.raised_ns, desk.low_since_ns) if ns is not None)
        return any((at_ns - ns) * 1e-9 <= TURNED_S for ns in turns)

    def grain(self, track: Track, signal: Grain) -> None:
        desk, name = self._desk, track.name
        b = band(desk, track)
        why = b.why or self.judged(track, signal.first_ns)
        if why:
            self.decision[name], self.why[name] = "not judged", why
            self._run.pop(name, None)
            return
        error = guard(track, signal.level)
        decision = decide(b, signal.level, error)
        if decision == "outside" and name not in self._open:
            wide = band_over(desk, track, signal.first_ns, signal.at_ns)
            if wide.why or decide(wide, signal.level, error) != "outside":
                decision = "undecided"
        self.decision[name] = decision
        self._mains_was_in = self._mains_was_in or (track.is_mains and decision == "inside")
        self.why.pop(name, None)
        self._follow(track, signal, b, decision)

    def _follow(self, track: Track, signal: Grain, b: Band, decision: str) -> None:
        name, desk = track.name, self._desk
        run = self._run.setdefault(name, [])
        number = self._open.get(name)
        if number is None:
            if decision != "outside":
                run.clear()
                return
            run.append(self._first_outside(track, signal, b))
            size = max(abs(signal.level), abs(b.low or 0.0), abs(b.high or 0.0))
            if len(run) >= 2 and not self._still_moves(track, signal, size):
                self._open[name] = self._opened(track, signal, b, run[0])
                run.clear()
            return
        near = 0.5 * signal.noise
        back = decide(b, signal.level, -guard(track, signal.level) + near) == "inside"
        if not back:
            run.clear()
            return
        run.append(signal.first_ns)
        if len(run) >= 2:
            desk.log.close(signal.at_ns, self._open.pop(name), run[0])
            run.clear()

    @staticmethod
    def _still_moves(track: Track, signal: Grain, size: float) -> bool:
        """Whether a point is on its way: from this grain to the last or, where it is low, over a few."""
        before = track.grains[-2].level if len(track.grains) > 1 else signal.level
        low = abs(signal.level) < size
        moved = abs(signal.slope) * (signal.at_ns - signal.first_ns) * 1e-9 if low else 0.0
        return max(abs(signal.level - before), moved) > MOVING * size

    def back(self, track: Track, signal: Back) -> None:
        """The point is back on its course: if that is in its band, it has been outside until then."""
        number, newest = self._open.get(track.name), track.newest(signal.at_ns)
        if number is None or newest is None or signal.end_ns <= self._desk.log.get(number).start_ns:
            return
        b = band(self._desk, track)
        if not b.why and decide(b, newest[1], guard(track, newest[1])) == "inside":
            self._desk.log.close(signal.at_ns, self._open.pop(track.name), signal.end_ns)
            self._run.pop(track.name, None)

    def _opened(self, track: Track, signal: Grain, b: Band, start_ns: int) -> int:
        desk = self._desk
        low = b.low is not None and signal.level < b.low
        edge = b.low if low else b.high
        evidence: dict[str, object] = {
            "value": signal.level,
            "low": b.low,
            "high": b.high,
            "nominal": b.nominal,
            "by": signal.level - edge if edge is not None else None,
            "side": "low" if low else "high",
            "guard": guard(track, signal.level),
            "mains": desk.mains_factor(),
            "because": self._because(track.name, signal.at_ns),
        }
        return desk.log.open(signal.at_ns, "outside", track.name, start_ns, None, evidence)

    def _first_outside(self, track: Track, signal: Grain, b: Band) -> int:
        t, x = track.segment.history.between(signal.first_ns - 1, signal.at_ns)
        error = guard(track, signal.level)
        for at, value in zip(t.tolist(), x.tolist(), strict=True):
            if decide(b, value, error) == "outside":
                return int(at)
        return signal.first_ns

    def lead_gone(self, point: str, at_ns: int) -> None:
        number = self._open.pop(point, None)
        if number is not None:
            self._desk.log.close(at_ns, number, at_ns)
        self._run.pop(point, None)
        self.decision.pop(point, None)
