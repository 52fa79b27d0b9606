"""After power-off: a point that is still above the warning level when the chart says it should be below."""

from __future__ import annotations

import numpy as np

from .desk import Desk
from .track import Track

EVERY_NS = 1_000_000_000
RISEN, FILLS_NS = 1.1, 20_000_000_000
"""What reads so many times its least since power-off does not bleed: it fills from what was charged, or the
power is back. So long after power-off it has filled. Common practice, no source."""
LOOK_BACK_NS = 60_000_000_000


class Bleeding:
    """Opens `slow_bleed` for points whose chart says by when they are below the level."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def run_ends(self, off_ns: int) -> None:
        for track in list(self._desk.tracks.values()):
            if track.point.bleed_s is not None and track.unit.is_voltage:
                self._look_at(track, off_ns, track.point.bleed_s)

    def _look_at(self, track: Track, off_ns: int, bleed_s: float) -> None:
        desk, run = self._desk, self._desk.run
        due_ns = off_ns + int(bleed_s * 1e9)

        def look() -> None:
            if self._is_powered(run) or desk.tracks.get(track.name) is not track:
                return
            period_ns = int(track.period_s * 1e9)
            newest = track.newest(desk.now_ns)
            begun = newest is not None and newest[0] >= due_ns + period_ns
            if not begun or not track.fresh(desk.now_ns) or self._rises(track, off_ns):
                again_ns = desk.now_ns + max(EVERY_NS // 4, (desk.now_ns - due_ns) // 8)
                desk.after(max(due_ns + period_ns, again_ns), look)
                return
            value = self._reads(track)
            if abs(value) <= desk.settings.warn_above:
                return
            evidence = {"value": value, "below": desk.settings.warn_above, "allowed_s": bleed_s}
            number = desk.log.open(desk.now_ns, "slow_bleed", track.name, off_ns, None, evidence)
            self._until_below(track, number, run)

        desk.after(due_ns, look)

    def _is_powered(self, run: int) -> bool:
        """Whether the set has its power back: a supply that stands tells of it only where no AC meter reads
        nothing, for it may be charge that does not bleed."""
        desk = self._desk
        dead = any(track.reads_nothing(desk.now_ns) for track in desk.ac_meters())
        return (desk.run != run or desk.running) and not dead

    def _reads(self, track: Track) -> float:
        """Its newest reading; at a change of range, the lower one of that and what stands before it."""
        newest, shown = track.newest(self._desk.now_ns), track.shown(self._desk.now_ns)
        return min((r[1] for r in (newest, shown) if r is not None), key=abs, default=0.0)

    def _rises(self, track: Track, off_ns: int) -> bool:
        """Whether a point has risen since power-off, so lately that it may fill, or be fed again."""
        now_ns = self._desk.now_ns
        _, x = track.segment.history.between(max(off_ns, now_ns - LOOK_BACK_NS), now_ns)
        fills = now_ns < off_ns + FILLS_NS and len(x) > 0
        return fills and abs(self._reads(track)) > RISEN * float(np.abs(x).min())

    def _until_below(self, track: Track, number: int, run: int) -> None:
        desk = self._desk

        def look() -> None:
            if desk.log.get(number).state != "open":
                return
            powered = self._is_powered(run)
            if powered and (desk.began_ns or 0) < desk.log.get(number).found_ns:
                desk.log.withdraw(desk.now_ns, number, "the power was back")
                return
            gone = powered or desk.tracks.get(track.name) is not track
            below = track.fresh(desk.now_ns) and abs(self._reads(track)) <= desk.settings.warn_above
            if gone or below:
                desk.log.close(desk.now_ns, number, desk.now_ns)
            else:
                desk.after(desk.now_ns + EVERY_NS, look)

        desk.after(desk.now_ns + EVERY_NS, look)
