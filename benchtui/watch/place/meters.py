"""What is wrong with a meter or its wire: never a fault of the set."""

from __future__ import annotations

import numpy as np

from benchtui.model.notes import Trouble
from benchtui.watch.eyes.manners import forbidden
from benchtui.watch.signals import MeterSays

from .cluster import Cluster
from .desk import Desk
from .track import Track

COUNTS_SEEN = 6.0
"""A move of so many counts can't be missed."""
CHANCE = 1e-4
"""So unlikely must its equal readings be, if a point has not yet been seen to follow the mains: it may be
regulated, and the chart not say so."""
LOOK_BACK_NS = 300_000_000_000
QUIET_NS = 10_000_000_000
"""Garbled bytes at most this far apart are one finding."""


class Meters:
    """Gaps, overloads, frozen readings, wrong functions, turned leads; garbled bytes, lost ports."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._open: dict[tuple[str, str], int] = {}
        self._latest: dict[str, int] = {}
        self._followed: set[Track] = set()
        """Points that have moved with the mains."""

    def says(self, track: Track, signal: MeterSays) -> None:
        log, key = self._desk.log, (track.name, signal.kind)
        if signal.end_ns is not None:
            track.trouble.discard(signal.kind)
            number = self._open.pop(key, None)
            if number is not None:
                log.close(signal.at_ns, number, signal.end_ns)
            return
        if key in self._open:
            return
        track.trouble.add(signal.kind)
        evidence = {"meter": track.segment.channel.meter, **dict(signal.evidence)}
        evidence["shortest_sure_s"] = 2.0 * track.period_s
        self._open[key] = log.open(signal.at_ns, signal.kind, track.name, signal.start_ns, None, evidence)

    def all_should_move(self, cluster: Cluster) -> None:
        """The mains moved: a point that follows it and repeats one reading all the while is frozen."""
        relative = min(abs(m.relative) for m in cluster.told_by or cluster.moves)
        for track in self._desk.tracks.values():
            if track.is_mains or not track.point.follows_mains or track.cold or not track.unit.is_voltage:
                continue
            self._look_whether_frozen(track, relative, cluster)

    def _is_regulated(self, track: Track, cluster: Cluster) -> bool:
        """Whether a tube, or a measured feed that did not move either, holds its supply."""
        desk = self._desk
        for name in (track.name, *desk.chart.feeds(track.name)):
            point, feed = desk.chart.point(name), desk.tracks.get(name)
            if point is not None and point.glow is not None:
                return True
            if feed is not None and feed is not track and cluster.of(feed) is None:
                return True
        return False

    def _look_whether_frozen(self, track: Track, relative: float, cluster: Cluster) -> None:
        desk, start_ns = self._desk, cluster.start_ns

        def look() -> None:
            if cluster.of(track) is not None:
                self._followed.add(track)
                return
            history = track.segment.history
            t, x = history.between(start_ns - int(8 * track.period_s * 1e9), desk.now_ns)
            due = len(x) >= 8 and t[-1] >= start_ns + int((2.0 + 3.0 * track.period_s) * 1e9)
            counts = abs(relative * float(x[-1])) / track.step if len(x) and track.step else 0.0
            if not due or counts < COUNTS_SEEN or not bool((x == x[-1]).all()) or "frozen" in track.trouble:
                return
            since = self._same_since(track, float(x[-1]))
            feeds = any(track.name in desk.chart.feeds(m.track.name) for m in cluster.moves)
            told = feeds or track in self._followed or self._is_too_quiet(track, since)
            if not told or self._is_regulated(track, cluster):
                return
            said = (("value", float(x[-1])), ("mains_moved", relative))
            self.says(track, MeterSays(desk.now_ns, "frozen", since, None, said))
            self._until_it_moves(track, float(x[-1]))

        desk.after(start_ns + int((2.5 + 4.0 * track.period_s) * 1e9), look)

    def _is_too_quiet(self, track: Track, since_ns: int) -> bool:
        """Whether its own noise makes it unlikely that it has repeated one reading for so long."""
        _, x = track.segment.history.between(since_ns - 1, self._desk.now_ns)
        return len(x) >= forbidden(track.segment.repeats_at(since_ns, float(x[-1])), CHANCE)

    def _same_since(self, track: Track, value: float) -> int:
        history = track.segment.history
        t, x = history.between(self._desk.now_ns - LOOK_BACK_NS, self._desk.now_ns)
        other = np.flatnonzero(x != value)
        return int(t[other[-1] + 1]) if len(other) else int(t[0])

    def _until_it_moves(self, track: Track, value: float) -> None:
        desk = self._desk

        def look() -> None:
            newest = track.newest(desk.now_ns)
            if "frozen" not in track.trouble or desk.tracks.get(track.name) is not track:
                return
            if newest is not None and newest[1] != value:
                self.says(track, MeterSays(desk.now_ns, "frozen", 0, newest[0]))
                return
            desk.after(desk.now_ns + 1_000_000_000, look)

        desk.after(desk.now_ns + 1_000_000_000, look)

    def lead_gone(self, point: str, at_ns: int) -> None:
        """The lead has left the point: what was open about it ends."""
        self._followed = {track for track in self._followed if track.name != point}
        for key in [k for k in self._open if k[0] == point]:
            self._desk.log.close(at_ns, self._open.pop(key), at_ns)

    def trouble(self, note: Trouble) -> None:
        log, at = self._desk.log, self._desk.now_ns
        if note.kind == "back":
            number = self._open.pop((note.meter, "lost"), None)
            if number is not None:
                log.close(at, number, note.t_ns)
            return
        key = (note.meter, note.kind)
        number = self._open.get(key)
        self._latest[note.meter + note.kind] = note.t_ns
        if number is None:
            evidence = {"meter": note.meter, "text": note.text, "count": note.count}
            number = log.open(at, note.kind, self._point_of(note.meter), note.t_ns, None, evidence)
            self._open[key] = number
        else:
            count = log.get(number).evidence["count"] + note.count
            log.amend(at, number, evidence={"count": count, "text": note.text})
        if note.kind == "garbled":
            self._end_when_quiet(key, number)

    def _end_when_quiet(self, key: tuple[str, str], number: int) -> None:
        def look() -> None:
            latest = self._latest[key[0] + key[1]]
            if self._open.get(key) == number and self._desk.now_ns - latest >= QUIET_NS:
                self._open.pop(key)
                self._desk.log.close(self._desk.now_ns, number, latest)

        self._desk.after(self._desk.now_ns + QUIET_NS, look)

    def _point_of(self, meter: str) -> str | None:
        for track in self._desk.tracks.values():
            if track.segment.channel.meter == meter:
                return track.name
        return None
