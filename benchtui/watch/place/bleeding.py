"""After power-off: a point that is still above the warning level when the chart says it should be below."""

from __future__ import annotations

from .desk import Desk, Track


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

        def look() -> None:
            if desk.run != run or desk.running or desk.tracks.get(track.name) is not track:
                return
            level = track.level(desk.now_ns)
            if level is None or not track.fresh(desk.now_ns) or abs(level) <= desk.settings.warn_above:
                return
            evidence = {"value": level, "below": desk.settings.warn_above, "allowed_s": bleed_s}
            number = desk.log.open(desk.now_ns, "slow_bleed", track.name, off_ns, None, evidence)
            self._until_below(track, number, run)

        desk.after(off_ns + int(bleed_s * 1e9), look)

    def _until_below(self, track: Track, number: int, run: int) -> None:
        desk = self._desk

        def look() -> None:
            if desk.log.get(number).state != "open":
                return
            level = track.level(desk.now_ns)
            gone = desk.run != run or desk.tracks.get(track.name) is not track
            below = level is not None and track.fresh(desk.now_ns) and abs(level) <= desk.settings.warn_above
            if gone or below:
                desk.log.close(desk.now_ns, number, desk.now_ns)
            else:
                desk.after(desk.now_ns + 1_000_000_000, look)

        desk.after(desk.now_ns + 1_000_000_000, look)
