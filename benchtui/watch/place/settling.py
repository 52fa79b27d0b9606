"""Whether a point has reached its level: calm stretches in a row, load valves awake, little left to go."""

from __future__ import annotations

from benchtui.model.units import Unit
from benchtui.watch.signals import Grain

from .desk import Desk
from .track import Track

PART, COUNTS = 0.02, 3.0
"""Settled is within the larger of 2 % and three counts of where it will stay."""
STRETCH_S = 8.0
AWAKE_S = 28.0
"""Load valves conduct 10 to 25 s after power-on (common practice, no source): a flat top before is no
settled level."""
OVERDUE_S, STRETCHES = 300.0, 4.0
"""By this age a point has settled; a slow meter, or a needle, needs so many of its grains besides."""
LATE_S = 20.0
"""So long a point must be seen to be overdue: one look may mistake noise for a slope."""
REVISED_S = 180.0


class Settling:
    """Opens `settled` and `unsettled`."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._settled: dict[str, int] = {}
        self._overdue: dict[str, int] = {}
        self._late_ns: dict[str, int] = {}
        """Since when a point has been overdue at each look."""

    def run_begins(self) -> None:
        self._settled.clear()
        self._overdue.clear()
        self._late_ns.clear()
        for track in self._desk.tracks.values():
            track.settled_ns = None

    def grain(self, track: Track, signal: Grain) -> None:
        desk = self._desk
        if not desk.running or not track.unit.is_voltage or track.trouble:
            return
        if track.settled_ns is not None:
            self._revise(track, signal)
            return
        if track.cold or track.point.moves:
            return
        level, left = self._left_to_go(track, signal)
        if level is None or left is None:
            return
        tol = self.tolerance(track, level)
        awake = track.unit is Unit.VAC or self._load_is_awake(signal.first_ns)
        if signal.steady and awake and left <= 0.6 * tol and not signal.away:
            self._settle(track, signal, level, tol)
        elif self._is_due(signal) and left > tol and abs(level) > 3.0 * track.segment.course.cold:
            late_ns = self._late_ns.setdefault(track.name, signal.at_ns)
            if signal.at_ns - late_ns >= LATE_S * 1e9:
                self._is_overdue(track, signal, left)
        else:
            self._late_ns.pop(track.name, None)

    def _is_due(self, signal: Grain) -> bool:
        """Whether it should have settled by now; a set that is being brought up need not."""
        desk = self._desk
        grain_s = (signal.at_ns - signal.first_ns) * 1e-9
        patience_s = OVERDUE_S + STRETCHES * max(grain_s - STRETCH_S, 0.0)
        return desk.on_ns is not None and desk.up_s(signal.at_ns) > patience_s

    @staticmethod
    def tolerance(track: Track, level: float) -> float:
        return max(PART * abs(level), COUNTS * track.step)

    def _left_to_go(self, track: Track, signal: Grain) -> tuple[float | None, float | None]:
        """The level of the newest stretch, and how far it still has to go by a geometric forecast."""
        width = max(STRETCH_S, 2.0 * (signal.at_ns - signal.first_ns) * 1e-9)
        if track.unit is Unit.VAC:
            width = max(4.0, 1.1 * (signal.at_ns - signal.first_ns) * 1e-9)
        means: list[float] = []
        for k in range(3):
            end = signal.at_ns - int(k * width * 1e9)
            start = end - int(width * 1e9)
            levels = [g.level for g in track.grains if start < g.at_ns <= end]
            if not levels:
                return None, None
            means.append(sum(levels) / len(levels))
        if track.grains[0].first_ns > signal.at_ns - int(2.8 * width * 1e9):
            return None, None
        d1, d2 = means[1] - means[2], means[0] - means[1]
        noise = signal.noise / max(len(track.grains), 1) ** 0.5
        tol = self.tolerance(track, means[0])
        if abs(d2) <= max(0.12 * tol, 1.5 * noise):
            return means[0], abs(d2)
        q = d2 / d1 if d1 else 2.0
        if not 0.0 <= q < 0.93:
            return means[0], max(abs(d2), abs(d1)) * (1.0 if abs(q) < 0.5 else 8.0)
        return means[0], abs(d2) * q / (1.0 - q) + 0.3 * abs(d2)

    def _load_is_awake(self, since_ns: int) -> bool:
        desk = self._desk
        age = desk.age_s(since_ns)
        if age > 90.0:
            return True
        for other in desk.tracks.values():
            if other.unit is Unit.V and other.cold and other.point.nominal and other.fresh(desk.now_ns):
                return False
        return age - 2.0 * STRETCH_S >= AWAKE_S - 16.0 and age >= AWAKE_S + STRETCH_S

    def _settle(self, track: Track, signal: Grain, level: float, tol: float) -> None:
        desk = self._desk
        at = self._reached_ns(track, level, tol)
        track.settled_ns, track.settled_level = at, level
        evidence: dict[str, object] = {"value": level, "low": level - tol, "high": level + tol}
        if desk.on_ns is not None:
            evidence["took_s"] = (at - desk.on_ns) / 1e9
        number = desk.log.open(signal.at_ns, "settled", track.name, at, None, evidence)
        self._settled[track.name] = number
        overdue = self._overdue.pop(track.name, None)
        if overdue is not None and at > desk.log.get(overdue).start_ns:
            desk.log.close(signal.at_ns, overdue, at)
        elif overdue is not None:
            desk.log.withdraw(signal.at_ns, overdue, "it had settled by then")

    def _reached_ns(self, track: Track, level: float, tol: float) -> int:
        """The first reading from which on it stayed within the tolerance."""
        desk = self._desk
        first = track.grains[0].first_ns
        grains = list(track.grains)
        on = desk.on_ns or 0
        in_reach = [not g.away and g.at_ns > on and abs(g.level - level) <= tol for g in grains]
        for k in range(len(grains) - 1, -1, -1):
            g = grains[k]
            if desk.on_ns is not None and g.at_ns <= desk.on_ns:
                first = desk.on_ns
                break
            blink = g.away and any(in_reach[:k])
            if abs(g.level - level) > tol and not blink:
                first = g.first_ns
                break
        t, x = track.segment.history.between(first - 1, desk.now_ns)
        far = abs(x - level) > tol
        later = [g for g in grains if g.first_ns > first]
        until = later[0].at_ns if later else desk.now_ns
        rows = [i for i in range(len(t)) if t[i] <= until and far[i]]
        i = rows[-1] + 1 if rows else 0
        return int(t[i]) if i < len(t) else desk.now_ns

    def _is_overdue(self, track: Track, signal: Grain, left: float) -> None:
        """Tells it of the point, or names it with the feed of which that is told."""
        chart, log, name = self._desk.chart, self._desk.log, track.name
        if name in self._overdue:
            return
        told = next((self._overdue[feed] for feed in chart.feeds(name) if feed in self._overdue), None)
        if told is not None:
            log.name_also(signal.at_ns, told, name)
            return
        fed = [point for point in self._overdue if name in chart.feeds(point)]
        evidence = {"value": signal.level, "slope_per_s": signal.slope, "left": left, "also": fed}
        number = self._overdue[name] = log.open(signal.at_ns, "unsettled", name, signal.at_ns, None, evidence)
        for point in fed:
            log.merge(signal.at_ns, self._overdue.pop(point), number)

    def _revise(self, track: Track, signal: Grain) -> None:
        """A level that goes on of itself soon after was not settled: take it back."""
        desk = self._desk
        if signal.away or not track.grains or desk.age_s(signal.at_ns) > REVISED_S:
            return
        tol = self.tolerance(track, track.settled_level)
        recent = list(track.grains)[-4:]
        if any(g.away for g in recent) or desk.on_ns is None or track.unit is Unit.VAC:
            return
        if all(abs(g.level - track.settled_level) > 1.5 * tol for g in recent[-2:]):
            number = self._settled.pop(track.name, None)
            if number is not None and desk.log.get(number).state == "open":
                desk.log.withdraw(signal.at_ns, number, "it went on")
            track.settled_ns = None
