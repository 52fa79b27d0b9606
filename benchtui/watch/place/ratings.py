"""Ratings: never, not for one reading. A surge is allowed for its seconds after power-on."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.watch.signals import NotOver, Over

from .desk import Desk
from .track import Track

POWER_TOLD_NS = 4_000_000_000
"""So long a slow mains meter may take to show that the power is on, and that the surge rating holds."""


@dataclass(slots=True)
class _Passing:
    start_ns: int
    surged_ns: int | None
    peak: float
    nth: int
    finding: int | None = None
    waits_ns: int | None = None


class Ratings:
    """Opens a `limit` at the first reading beyond a rating, unconfirmed until a second."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._passing: dict[str, _Passing] = {}

    def over(self, track: Track, signal: Over) -> None:
        passing = self._passing.get(track.name)
        if passing is None or signal.nth == 1:
            passing = self._passing[track.name] = _Passing(signal.at_ns, None, signal.value, 1)
        passing.nth = signal.nth
        if abs(signal.value) > abs(passing.peak):
            passing.peak = signal.value
        if signal.beyond_surge and passing.surged_ns is None:
            passing.surged_ns = signal.at_ns
        if passing.finding is None:
            self._maybe_open(track, passing)
        else:
            self._desk.log.amend(signal.at_ns, passing.finding, evidence=self._numbers(track, passing))

    def _maybe_open(self, track: Track, passing: _Passing) -> None:
        desk, point = self._desk, track.point
        if not desk.running and point.surge is not None and passing.surged_ns is None:
            if passing.waits_ns is None:
                slow = max((t.period_s for t in desk.tracks.values() if t.is_mains), default=0.0)
                passing.waits_ns = desk.now_ns + POWER_TOLD_NS + int(3.0 * slow * 1e9)
                desk.after(passing.waits_ns, lambda: self._surge_over(track, passing))
            if desk.now_ns < passing.waits_ns:
                return
        until = self._surge_until(track)
        if until is not None and desk.now_ns < until and passing.surged_ns is None:
            desk.after(until, lambda: self._surge_over(track, passing))
            return
        evidence = {**self._numbers(track, passing), "rating": point.limit, "surge": point.surge}
        start = passing.start_ns
        if until is not None and start < until:
            start = passing.surged_ns if passing.surged_ns is not None else until
        passing.finding = desk.log.open(desk.now_ns, "limit", track.name, start, None, evidence)

    def _surge_over(self, track: Track, passing: _Passing) -> None:
        if not track.fresh(self._desk.now_ns):
            return
        if self._passing.get(track.name) is passing and passing.finding is None:
            self._maybe_open(track, passing)

    def _surge_until(self, track: Track) -> int | None:
        """The instant to which the surge rating holds instead of the working rating."""
        point, desk = track.point, self._desk
        if point.surge is None or desk.began_ns is None or (desk.running and desk.on_ns is None):
            return None
        return desk.began_ns + int(point.surge_s * 1e9)

    def _numbers(self, track: Track, passing: _Passing) -> dict[str, object]:
        newest = track.grains[-1].level if track.grains else None
        slipped = False
        if newest and passing.nth == 1:
            ratio = abs(passing.peak / newest)
            slipped = abs(ratio - 10.0) < 0.3 or abs(ratio - 100.0) < 3.0
        return {
            "peak": passing.peak,
            "readings": passing.nth,
            "confirmed": passing.nth >= 2,
            "like_slipped_point": slipped,
            "level_before": newest,
        }

    def not_over(self, track: Track, signal: NotOver) -> None:
        passing = self._passing.pop(track.name, None)
        if passing is not None and passing.finding is not None:
            self._desk.log.close(signal.at_ns, passing.finding, signal.at_ns)

    def lead_gone(self, point: str, at_ns: int) -> None:
        passing = self._passing.pop(point, None)
        if passing is not None and passing.finding is not None:
            self._desk.log.close(at_ns, passing.finding, at_ns)
