"""Glow lamps and regulator tubes: one that went out, had it what it needs, or was it starved?

From the feed alone a good supply does not prove that the lamp had voltage: lamp, resistor or joints.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from benchtui.chart.chart import Point
from benchtui.model.units import Unit
from benchtui.watch.signals import State

from .cluster import Cluster, Move
from .desk import Desk
from .track import Track

NEVER_LIT_S = 90.0
LATELY_NS = 2_000_000_000
"""So long before a lamp is seen to be out its feed may have failed."""
PATIENCE_S = 7.0
"""So long the meters have to say whether the power went with the lamp."""
FALLING = 0.9


class Lamps:
    """Opens dropouts of lamps, and `starved` or `fed_but_out` for what explains them."""

    def __init__(self, desk: Desk, explains: Callable[[str, int], int | None]) -> None:
        self._desk = desk
        self._explains = explains
        self._lit: dict[str, bool] = {}
        self._was_lit: set[str] = set()
        self._out: dict[str, int] = {}
        self._verdicts: dict[str, int] = {}
        self._dark: dict[str, int] = {}
        self._count: dict[str, int] = {}
        self._judged: set[int] = set()
        self._tubes: dict[Cluster, dict[str, int]] = {}

    def run_begins(self) -> None:
        self._out.clear()
        self._verdicts.clear()
        self._tubes.clear()
        self._dark.clear()
        self._count.clear()
        self._was_lit = {name for name, lit in self._lit.items() if lit}
        started = self._desk.on_ns
        for track in self._desk.tracks.values():
            if track.unit is Unit.STATE:
                self._look_for_dark(track, started)

    def lit(self, point: str) -> bool | None:
        return self._lit.get(point)

    def outside(self, point: str) -> bool:
        return point in self._out or point in self._dark

    def state(self, track: Track, signal: State) -> None:
        name = track.name
        self._lit[name] = signal.lit
        if signal.lit:
            self._relit(track, signal)
        elif self._desk.running and name in self._was_lit and name not in self._out:
            self._went_out(track, signal)

    def _relit(self, track: Track, signal: State) -> None:
        desk, name = self._desk, track.name
        self._was_lit.add(name)
        out = self._out.pop(name, None)
        if out is not None and out >= 0:
            found = desk.log.get(out)
            duration = (signal.at_ns - found.start_ns) / 1e9
            desk.log.close(signal.at_ns, out, signal.at_ns, evidence={"duration_s": duration})
        for number in (self._verdicts.pop(name, None), self._dark.pop(name, None)):
            if number is not None:
                desk.log.close(signal.at_ns, number, signal.at_ns)

    def _went_out(self, track: Track, signal: State) -> None:
        """Waits for what the meters say of a switch-off or a falling feed before it calls a dropout."""
        desk, name, run = self._desk, track.name, self._desk.run
        self._out[name] = -1
        give_up = signal.at_ns + int(PATIENCE_S * 1e9)

        def look() -> None:
            if desk.run != run or not desk.running or self._out.get(name) != -1:
                return
            told = self._power_told(signal.at_ns)
            if (told == "there" and self._feed_is_read(track.point, signal.at_ns)) or desk.now_ns >= give_up:
                if told != "going":
                    self._call_dropout(track, signal)
                return
            desk.after(desk.now_ns + 200_000_000, look)

        desk.after(signal.at_ns + 400_000_000, look)

    def _feed_is_read(self, point: Point, since_ns: int) -> bool:
        """Whether the feed's meter has read since the lamp was seen to be out, or will not tell anyway."""
        feed = self._desk.tracks.get(point.fed_from or "")
        if feed is None or not feed.fresh(self._desk.now_ns):
            return True
        newest = feed.newest(self._desk.now_ns)
        return newest is None or newest[0] > since_ns

    def _power_told(self, out_ns: int) -> str:
        """What the meters have said of the power since a lamp went out: there, going, or nothing yet."""
        desk = self._desk
        ac = desk.ac_meters()
        mains = [t for t in ac if t.is_mains]
        others = [t for t in desk.tracks.values() if t.unit is Unit.V and not t.cold and t.fresh(desk.now_ns)]
        asked = mains or ac or others
        if not asked:
            return "there"
        falling = waiting = 0
        for t in asked:
            newest, before = t.newest(desk.now_ns), desk.value(t.name, out_ns - 200_000_000)
            if newest is None or newest[0] < out_ns + 200_000_000 or not before:
                waiting += 1
            elif abs(newest[1]) < FALLING * abs(before):
                falling += 1
        if falling and falling + waiting == len(asked):
            return "going"
        return "nothing" if waiting == len(asked) or (waiting and falling) else "there"

    def _call_dropout(self, track: Track, signal: State) -> None:
        desk, name = self._desk, track.name
        feed, value, kind = self._feed(track.point, signal.at_ns)
        cause = self._cause(track.point, signal.at_ns)
        if cause is not None and kind == "starved":
            self._name_also(cause, name)
            self._verdicts[name] = self._verdict(track, kind, cause, signal.at_ns, feed, value)
            return
        self._count[name] = self._count.get(name, 0) + 1
        evidence: dict[str, object] = {
            "depth": -1.0,
            "level": 1.0,
            "count": self._count[name],
            "after_mark": desk.after_mark(signal.at_ns),
            "feed": feed,
            "feed_value": value,
            "last_lit_s": signal.was_ns / 1e9 if signal.was_ns is not None else None,
            "age_s": desk.age_s(signal.at_ns) if desk.on_ns is not None else None,
            "also": [],
        }
        number = desk.log.open(desk.now_ns, "dropout", name, signal.at_ns, None, evidence)
        self._out[name] = number
        if kind:
            self._verdicts[name] = self._verdict(track, kind, number, signal.at_ns, feed, value)

    def _verdict(
        self, track: Track, kind: str, of: int, start_ns: int, feed: str | None, value: float | None,
        dark: bool = False,
    ) -> int:  # fmt: skip
        glow = track.point.glow
        evidence: dict[str, Any] = {
            "of": [of],
            "feed": feed,
            "feed_value": value,
            "through": track.point.through,
            "after_mark": self._desk.after_mark(start_ns),
            "told_by": "the feed alone" if track.unit is Unit.STATE else "the point itself",
        }
        if glow is not None:
            evidence["strikes"] = [glow.strikes.low, glow.strikes.high]
            evidence["holds"] = [glow.holds.low, glow.holds.high]
        if dark:
            evidence["never_lit"] = True
        if kind == "fed_but_out":
            evidence["suspects"] = "lamp, resistor or joints: read the lamp's own pins"
        return self._desk.log.open(self._desk.now_ns, kind, track.name, start_ns, None, evidence)

    def _feed(self, point: Point, at_ns: int, dark: bool = False) -> tuple[str | None, float | None, str]:
        """The feed, its value at that moment, and what this says: starved, fed_but_out or nothing.

        A lamp that was lit goes on while it is held; one that stayed dark has to strike first.
        """
        if point.fed_from is None or point.glow is None:
            return point.fed_from, None, ""
        value = self._desk.value(point.fed_from, at_ns)
        if value is None:
            return point.fed_from, None, ""
        value = self._least_lately(point.fed_from, at_ns, value)
        size, needs = abs(value), point.glow.strikes if dark else point.glow.holds
        if size < needs.low:
            return point.fed_from, value, "starved"
        return point.fed_from, value, "fed_but_out" if size >= needs.high else ""

    def _least_lately(self, feed: str, at_ns: int, value: float) -> float:
        """The least that a feed read about the time when a lamp was seen out: eyes and meters are late."""
        _, x = self._desk.tracks[feed].segment.history.between(at_ns - LATELY_NS, self._desk.now_ns)
        return float(x[np.argmin(np.abs(x))]) if len(x) else value

    def _cause(self, point: Point, at_ns: int) -> int | None:
        for feed in self._desk.chart.feeds(point.name):
            number = self._explains(feed, at_ns)
            if number is not None:
                return number
        return None

    def _name_also(self, finding: int, name: str) -> None:
        also = list(self._desk.log.get(finding).evidence.get("also", ()))
        if name not in also:
            self._desk.log.amend(self._desk.now_ns, finding, evidence={"also": [*also, name]})

    def moved(self, track: Track, finding: int, start_ns: int, level: float) -> None:
        """A regulator's measured point moved: had the tube its current?"""
        glow, desk = track.point.glow, self._desk
        if glow is None or finding in self._judged or track.point.fed_from is None:
            return
        self._judged.add(finding)
        feed = desk.value(track.point.fed_from, desk.now_ns)
        if feed is None or level <= glow.holds.high:
            return
        through = track.point.through
        load = track.point.current or 0.0
        starved = abs(feed) < glow.strikes.low
        if through and glow.current is not None:
            starved = starved or (abs(feed) - glow.holds.high) / through - load < glow.current.low
        kind = "starved" if starved else "fed_but_out"
        self._verdicts[track.name] = self._verdict(track, kind, finding, start_ns, track.point.fed_from, feed)

    def tubes_of(self, cluster: Cluster) -> None:
        """Regulator tubes that moved in a fault: had they voltage and current, or were they starved?"""
        root, number = cluster.root, cluster.finding
        if root is None or number is None:
            return
        for move in cluster.moves:
            track = move.track
            if track.point.glow is not None and track.unit is Unit.V and move.relative < 0 and not move.echo:
                self._starved_tube(cluster, move, root, number)
        found = self._desk.log.get(number)
        if found.state == "closed" and found.end_ns is not None:
            mine = [v for v in self._verdicts.values() if self._desk.log.get(v).evidence["of"] == [number]]
            for verdict in [*self._tubes.get(cluster, {}).values(), *mine]:
                self._desk.log.close(self._desk.now_ns, verdict, found.end_ns)

    def _starved_tube(self, cluster: Cluster, move: Move, root: Move, number: int) -> None:
        track, told = move.track, self._tubes.setdefault(cluster, {})
        glow = track.point.glow
        assert glow is not None
        if track.name in told:
            if self._desk.log.get(told[track.name]).evidence["of"] != [number]:
                self._desk.log.amend(self._desk.now_ns, told[track.name], evidence={"of": [number]})
            return
        feed, value, kind = self._feed(track.point, self._desk.now_ns)
        own = abs(move.level + move.peak)
        by_feed = root.track.name in self._desk.chart.feeds(track.name) and kind == "starved"
        if by_feed or (move is root and own < glow.holds.low):
            verdict = self._verdict(track, "starved", number, move.start_ns, feed, value)
            self._desk.log.amend(self._desk.now_ns, verdict, evidence={"point_value": own})
            told[track.name] = verdict
            self._judged.add(number)

    def lead_gone(self, name: str, at_ns: int) -> None:
        """Nobody looks at the lamp any more: what was open about it ends."""
        self._lit.pop(name, None)
        self._was_lit.discard(name)
        for known in (self._out, self._verdicts, self._dark):
            number = known.pop(name, None)
            if number is not None and number >= 0:
                self._desk.log.close(at_ns, number, at_ns)

    def run_ends(self) -> None:
        self._out.clear()
        self._verdicts.clear()
        self._dark.clear()

    def _look_for_dark(self, track: Track, started: int | None) -> None:
        """A lamp that should be lit and never was in this run."""
        desk, name, run = self._desk, track.name, self._desk.run

        def look() -> None:
            if desk.run != run or not desk.running or desk.tracks.get(name) is not track:
                return
            if name in self._was_lit or track.point.nominal != 1 or self._lit.get(name) is not False:
                return
            newest = track.newest(desk.now_ns)
            if newest is None or desk.now_ns - newest[0] > 20_000_000_000:
                return
            if desk.being_brought_up:
                self._look_for_dark(track, desk.now_ns)
                return
            feed, value, kind = self._feed(track.point, newest[0], dark=True)
            evidence = {"value": 0.0, "nominal": 1.0, "side": "out", "feed": feed, "feed_value": value}
            number = desk.log.open(desk.now_ns, "outside", name, newest[0], None, evidence)
            self._dark[name] = number
            if kind:
                self._verdicts[name] = self._verdict(track, kind, number, newest[0], feed, value, dark=True)

        desk.after((started or desk.now_ns) + int(NEVER_LIT_S * 1e9), look)
