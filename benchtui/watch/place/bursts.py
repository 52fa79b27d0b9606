"""Many excursions of one point in a short time are one finding: chatter."""

from __future__ import annotations

from collections.abc import Callable

from .cluster import UNSEEN, Cluster, Move
from .desk import Desk

RESTLESS, RESTLESS_S, CALM_S = 4, 25.0, 20.0
"""So many excursions within so many seconds are chatter, which ends after so many calm ones."""
CARRIED = 2
"""So many are enough where a point that it feeds is restless already."""


class Bursts:
    """Counts the excursions of each point in a run, and gathers bursts."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.restless_until: Callable[[str], int] = lambda name: 0
        """The end of the newest grain in which a point was restless."""
        self._counts: dict[str, int] = {}
        self._bursts: dict[str, list[tuple[Cluster, Move]]] = {}

    def forget(self) -> None:
        self._counts.clear()
        self._desk.chatter.clear()
        self._bursts.clear()

    def lead_gone(self, name: str, at_ns: int) -> None:
        self._bursts.pop(name, None)
        number = self._desk.chatter.pop(name, None)
        if number is not None:
            self._desk.log.close(at_ns, number, at_ns)

    def count(self, name: str) -> int:
        """One more excursion of a point; how many there were in this run."""
        self._counts[name] = self._counts.get(name, 0) + 1
        return self._counts[name]

    def was_another(self, cluster: Cluster, point: str) -> None:
        """What was counted for a point, by whose name it was told, turns out to be another's."""
        for burst in self._bursts.values():
            burst[:] = [pair for pair in burst if pair[0] is not cluster]
        self._counts[point] = max(self._counts.get(point, 0) - 1, 0)

    def too_often(self, cluster: Cluster, move: Move) -> bool:
        """Whether what looks like one more move of the mains comes too often for it: then a joint shakes."""
        name = move.track.name
        if name in self._desk.chatter:
            return True
        burst = self._lately(name, cluster, move)
        if len(burst) + 1 >= RESTLESS:
            return True
        burst.append((cluster, move))
        return False

    def _lately(self, name: str, cluster: Cluster, move: Move) -> list[tuple[Cluster, Move]]:
        """The other excursions of a point within the last seconds."""
        burst = self._bursts.setdefault(name, [])
        since_ns = move.start_ns - int(RESTLESS_S * 1e9)
        burst[:] = [(c, m) for c, m in burst if c is not cluster and m.start_ns >= since_ns]
        return burst

    def restless(self, cluster: Cluster, move: Move, evidence: dict[str, object]) -> int | None:
        """The chatter that an excursion belongs to, opened if this one makes it a burst; else None."""
        desk, name = self._desk, move.track.name
        burst = self._lately(name, cluster, move)
        burst.append((cluster, move))
        shaken_by = next((p for p in (name, *desk.chart.feeds(name)) if p in desk.chatter), None)
        if shaken_by is None and not self._shakes_others(move):
            shaken_by = next((p for p in desk.chatter if name in desk.chart.feeds(p)), None)
        if shaken_by is None:
            shaken_by = self._shaken_with(cluster, move)
        if shaken_by is not None:
            number = desk.chatter[shaken_by]
            desk.log.amend(
                desk.now_ns, number, evidence={"count": desk.log.get(number).evidence["count"] + 1}
            )
            desk.log.name_also(desk.now_ns, number, name)
            return number
        if len(burst) < (CARRIED if self._shakes_others(move) else RESTLESS):
            return None
        return self.burst(name, cluster, move, evidence)

    def _shaken_with(self, cluster: Cluster, move: Move) -> str | None:
        """A restless point that moved with it by as much or more, and that this one does not feed."""
        name, chart = move.track.name, self._desk.chart
        more = (
            m.track.name
            for m in cluster.moves
            if m.track.name in self._desk.chatter and abs(m.relative) >= abs(move.relative)
        )
        return next((p for p in more if p != name and name not in chart.feeds(p)), None)

    def _shakes_others(self, move: Move) -> bool:
        """Whether a point that it feeds is known to be restless by no more than this move."""
        desk, name = self._desk, move.track.name
        for fed in (p for p in desk.chatter if name in desk.chart.feeds(p)):
            evidence = desk.log.get(desk.chatter[fed]).evidence
            if evidence["level"] and abs(evidence["depth"] / evidence["level"]) <= abs(move.relative):
                return True
        return False

    def burst(self, name: str, cluster: Cluster, move: Move, evidence: dict[str, object]) -> int:
        """Opens a chatter that takes in the findings of a point's burst so far."""
        desk = self._desk
        if name in self._desk.chatter:
            return self._desk.chatter[name]
        burst = self._bursts.setdefault(name, [(cluster, move)])
        first = min(m.start_ns for _, m in burst)
        deepest = max((m for _, m in burst), key=lambda m: abs(m.peak))
        evidence = {**evidence, "count": len(burst), "depth": deepest.peak, "level": deepest.level}
        number = desk.log.open(desk.now_ns, "chatter", name, first, None, evidence)
        for c, m in burst:
            if c.finding is not None and c.finding != number:
                desk.log.merge(desk.now_ns, c.finding, number)
            c.finding, c.what, c.root = number, "fault", m
        taken = [p for p in desk.chatter if name in desk.chart.feeds(p)] if self._shakes_others(move) else []
        for shaken in taken:
            desk.log.merge(desk.now_ns, desk.chatter.pop(shaken), number)
        self._desk.chatter[name] = number
        self._take_in(name, number, first)
        self._end_when_calm(name, number, desk.run)
        return number

    def _take_in(self, name: str, number: int, since_ns: int) -> None:
        """What had been told of the points that it feeds, since it began to shake, was its doing."""
        log = self._desk.log
        for fed in (p for p in self._bursts if name in self._desk.chart.feeds(p)):
            for cluster, move in self._bursts[fed]:
                told = cluster.finding
                if told is None or told == number or move.start_ns < since_ns:
                    continue
                if log.get(told).kind in ("dropout", "step"):
                    log.merge(self._desk.now_ns, told, number)
                    cluster.finding = number

    def _end_when_calm(self, name: str, number: int, run: int) -> None:
        desk = self._desk

        def look() -> None:
            if desk.run != run or desk.chatter.get(name) != number:
                return
            moves = [m for _, m in self._bursts[name]]
            last = max(m.end_ns if m.end_ns is not None else m.start_ns for m in moves)
            last = max(last, self.restless_until(name))
            if any(not m.over for m in moves if m.number != UNSEEN) or desk.now_ns - last < CALM_S * 1e9:
                desk.after(desk.now_ns + 1_000_000_000, look)
                return
            self._desk.chatter.pop(name)
            self._bursts.pop(name)
            desk.log.close(desk.now_ns, number, last)

        desk.after(desk.now_ns + int(CALM_S * 1e9), look)
