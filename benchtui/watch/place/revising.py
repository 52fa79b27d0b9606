"""What has been told of a cluster, seen anew when a move joins it late or grows."""

from __future__ import annotations

from collections.abc import Callable

from .cluster import Cluster, Move
from .contrast import SMALL
from .culprit import blame
from .desk import Desk
from .kinship import alike, are_apart
from .telling import Telling
from .verdict import ALONE, APART, FAR_MORE, KICK_TIMES, MORE, SURELY_LATE_S

WANDERS = 0.015
"""The mains may have moved by this much at the same time as anything. Common practice, no source."""


class Revising:
    """Finds the better culprit, and what was no move of the mains after all."""

    def __init__(self, desk: Desk, telling: Telling) -> None:
        self._desk = desk
        self._telling = telling
        self.on_fault: Callable[[Cluster], None] = lambda cluster: None

    def joined(self, cluster: Cluster, move: Move) -> None:
        """A move that a slow meter shows late: named in the finding, or the better culprit."""
        if move.echo:
            return
        if self._shares_the_mains(cluster, move):
            assert cluster.finding is not None
            cluster.was, cluster.finding, cluster.root = [cluster.finding], None, None
            cluster.what, cluster.why = "mains", APART
        if cluster.what == "fault":
            root = blame(self._desk.chart, cluster.moves, self._desk.now_ns)
            if root is not cluster.root and self._is_better(root, cluster.root):
                cluster.root = root
                self._telling.blamed_anew(cluster)
                return
        self._look_at_mains(cluster, move)
        self._telling.changed(cluster, move)
        if cluster.what == "fault":
            self.on_fault(cluster)

    def _shares_the_mains(self, cluster: Cluster, move: Move) -> bool:
        """Whether a small step, told of a point alone, is shown late by one that shares nothing with it.

        And no AC meter reads, which would have told.
        """
        root = cluster.root
        if cluster.what != "fault" or cluster.why != ALONE or root is None or cluster.finding is None:
            return False
        told = self._desk.log.get(cluster.finding)
        if told.kind != "step" or told.state != "open" or self._desk.ac_meters():
            return False
        both = root.track.point.follows_mains and move.track.point.follows_mains
        apart = are_apart(self._desk.chart, root.track.name, move.track.name)
        small = max(abs(root.relative), abs(move.relative)) <= SMALL
        return both and apart and small and alike(move.relative, root.relative)

    def _look_at_mains(self, cluster: Cluster, move: Move) -> None:
        """Told as the mains', until a late or growing move showed it to be the effect of a fault."""
        if cluster.what != "mains" or cluster.run != self._desk.run or not self._was_no_mains(cluster, move):
            return
        sure_ns = self._mains_is_whole_ns(cluster)
        if self._desk.now_ns < sure_ns:
            if not cluster.doubted:
                cluster.doubted = True
                self._desk.after(sure_ns, lambda: self._look_at_all(cluster))
            return
        self._telling.was_no_mains(cluster, FAR_MORE)

    def _look_at_all(self, cluster: Cluster) -> None:
        for move in list(cluster.moves):
            self._look_at_mains(cluster, move)

    def _mains_is_whole_ns(self, cluster: Cluster) -> int:
        """When a meter of the mains, which may average, surely shows all of a move; 0 without one."""
        ac = [t for t in self._desk.tracks.values() if t.shows_mains]
        told = cluster.mains is not None or any(m.track.shows_mains for m in cluster.moves)
        slowest = max((t.period_s for t in ac), default=0.0)
        return cluster.start_ns + int((SURELY_LATE_S + slowest) * 1e9) if told else 0

    def _was_no_mains(self, cluster: Cluster, move: Move) -> bool:
        """Whether a move is so great that the small common one was its effect, or the mains' wandering."""
        ac = [abs(m.relative) for m in cluster.moves if m.track.shows_mains]
        if move.track.shows_mains or move not in cluster.told_by:
            return False
        if ac or cluster.mains is not None:
            mains = max(*ac, abs(cluster.mains or 0.0), 0.0)
            return mains < WANDERS and abs(move.relative) > KICK_TIMES * mains
        if self._desk.mains() is not None:
            return False
        others = max((abs(m.relative) for m in cluster.moves if m is not move), default=0.0)
        return 0.0 < 2.0 * MORE * others < abs(move.relative)

    def _is_better(self, root: Move, than: Move | None) -> bool:
        """Whether a point is so much more to blame that the finding must change its name."""
        if than is None:
            return True
        chart = self._desk.chart
        if root.relative * than.relative < 0:
            return True
        if chart.carries(root.track.name) > chart.carries(than.track.name):
            return True
        return abs(root.relative) > 1.5 * abs(than.relative)

    def grew(self, cluster: Cluster) -> None:
        """A move has grown: a feed whose meter is slow may turn out to be to blame, a tube to be starved."""
        self._look_at_all(cluster)
        if cluster.what != "fault" or cluster.root is None:
            return
        root = blame(self._desk.chart, cluster.moves, self._desk.now_ns)
        if root is not cluster.root and self._is_better(root, cluster.root):
            cluster.root = root
            self._telling.blamed_anew(cluster)
        self.on_fault(cluster)
