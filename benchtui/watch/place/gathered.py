"""The clusters of a run, and the excursions that are open in them."""

from __future__ import annotations

from collections.abc import Iterable

from .aftermath import over_ns, tail_of
from .cluster import LAG_NS, SLACK_NS, UNSEEN, Cluster, Move, Response
from .desk import Desk
from .holding import lets_go
from .kicks import swings_on
from .kinship import alike
from .late import mains_shown_late, shows_it_late
from .track import Track

ECHO_S = 15.0
"""So long after a move smaller swings of the same point belong to it."""
ABOUT_NS = 2_000_000_000
"""What moved so shortly before or after a fault began moved with it. Common practice, no source."""
HALF, COOLS_NS = 0.5, 20_000_000_000
"""After everything has begun to fall by so much, valves cool for so long. Common practice, no source."""
LOADS = 0.15
"""What draws again takes its supply down by no more than this part of what it had lost itself. Common
practice, no source."""
FAR = 4.0
"""What went further than so many times the greatest has another story."""
SLUGGISH_NS = 4_000_000_000
"""So long after the mains a point behind filters, and its meter, may follow. Common practice, no source."""
FEW, MOST = 8, 32
"""So many of the newest clusters may still be joined; so many are kept."""


class Gathered:
    """Which excursion is in which cluster; which cluster a new one joins."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.clusters: list[Cluster] = []
        """The oldest first."""
        self._open: dict[tuple[int, int], tuple[Move, Cluster]] = {}

    @property
    def lately(self) -> list[Cluster]:
        """The newest, the oldest of them first."""
        return self.clusters[-FEW:]

    def forget(self) -> None:
        self._open.clear()
        self.clusters.clear()

    def drop(self, cluster: Cluster) -> None:
        """What it told belongs to another; it may be too old to be kept anyway."""
        if cluster in self.clusters:
            self.clusters.remove(cluster)

    # -- the excursions that are open

    def find(self, track: Track, number: int) -> tuple[Move, Cluster] | None:
        return self._open.get((id(track), number))

    def close(self, track: Track, number: int) -> tuple[Move, Cluster] | None:
        return self._open.pop((id(track), number), None)

    def put(self, move: Move, cluster: Cluster) -> None:
        """An excursion is open in a cluster."""
        self._open[id(move.track), move.number] = (move, cluster)

    def hand_over(self, moves: Iterable[Move], cluster: Cluster) -> None:
        """Those of these moves that are open belong to another cluster now."""
        for move in moves:
            if (id(move.track), move.number) in self._open:
                self.put(move, cluster)

    def lead_gone(self, track: Track) -> None:
        for key in [k for k in self._open if k[0] == id(track)]:
            del self._open[key]

    def without_fallen(self, answers: list[Response], cluster: Cluster) -> list[Response]:
        """The answers, those of points left out that are still going where another fault takes them."""
        going = {
            move.track.name
            for move, other in self._open.values()
            if other is not cluster and other.what == "fault" and not move.over
        }
        return [a for a in answers if a.verdict != "moved" or a.track.name not in going]

    # -- what belongs together

    def cluster_of(self, move: Move) -> Cluster:
        """The cluster that a new move joins: one that it may share its cause with, or its own."""
        waiting = next((c for c in self.lately if self._is_due(c, move)), None)
        if waiting is not None:
            return waiting
        for cluster in reversed(self.lately):
            if cluster.run != self._desk.run:
                break
            if cluster.what == "carried":
                continue
            if cluster.returns_with(move) or self._loaded_again(cluster, move):
                move.echo = True
                return cluster
            if move.track.is_mains and mains_shown_late(cluster, move):
                return cluster
            if self.went_along(cluster, move) or shows_it_late(self._desk, cluster, move):
                return cluster
            before = cluster.of(move.track)
            is_first = before is None or before.number == UNSEEN
            if is_first and cluster.overlaps(move.before_ns, move.start_ns):
                return cluster
            since_s = (move.start_ns - cluster.start_ns) * 1e-9
            stands = before is not None and before.over and before.end_ns is None and 0 < since_s <= ECHO_S
            if before is not None and stands and abs(move.peak) <= 1.05 * abs(before.peak):
                move.echo = True
                return cluster
        cluster = Cluster(move.start_ns, self._desk.run)
        longest = max((t.period_s for t in self._desk.tracks.values()), default=1.0)
        cluster.deadline_ns = move.start_ns + int(min(2.5 * longest + 0.8, 8.0) * 1e9)
        self.clusters.append(cluster)
        self.clusters = self.clusters[-MOST:]
        return cluster

    def is_load_again(self, cluster: Cluster, move: Move) -> bool:
        """Whether a small move may be that of a supply on which the root of a fault, back, draws again."""
        root, chart = cluster.root, self._desk.chart
        if root is None or not root.relative or not 0.0 < move.relative / root.relative <= LOADS:
            return False
        feeds = set(chart.feeds(root.track.name))
        return bool(feeds & {move.track.name, *chart.feeds(move.track.name)})

    def falls_away(self, cluster: Cluster) -> bool:
        """Whether points rise because everything has just begun to fall: anodes do as their valves cool."""
        for other in self.lately:
            lasts = other is not cluster and other.what in ("", "mains") and over_ns(other) is None
            since_ns = cluster.start_ns - other.start_ns
            if lasts and 0 <= since_ns <= COOLS_NS and other.relative <= -HALF:
                return all(m.relative > 0.0 for m in cluster.moves)
        return False

    def may_swing_on(self, cluster: Cluster) -> bool:
        """Whether what is not over yet may be how stages swing on about the edges of a move of the mains."""
        return any(
            (known := told.of(m.track)) is not None and m.end_ns is None and swings_on(told, known, m)
            for told in self.lately
            if told.what == "mains"
            for m in cluster.moves
        )

    def awaits_return(self, cluster: Cluster) -> bool:
        """Whether the root of a fault may be back, whose meter has yet to read: then it draws again."""
        now_ns = self._desk.now_ns
        for other in self.lately:
            root = other.root
            if other.what != "fault" or root is None or root.end_ns is not None or other is cluster:
                continue
            newest = root.track.newest(now_ns)
            due = newest is not None and newest[0] <= cluster.start_ns and root.track.fresh(now_ns)
            if due and all(self.is_load_again(other, m) for m in cluster.moves):
                return True
        return False

    def _loaded_again(self, cluster: Cluster, move: Move) -> bool:
        if cluster.what != "fault" or cluster.returned is None or not self.is_load_again(cluster, move):
            return False
        after_ns, until_ns = cluster.returned
        return move.before_ns - SLACK_NS <= until_ns and after_ns <= move.start_ns + SLACK_NS

    @staticmethod
    def went_along(cluster: Cluster, move: Move) -> bool:
        """Whether a point moved with the mains, and its own eye tells it late.

        Its readings had shown it as the mains' move was told, or that still lasts and it went as far.
        """
        if cluster.what != "mains" or not cluster.relative:
            return False
        known = cluster.of(move.track)
        if known is not None:
            return move.end_ns is not None and swings_on(cluster, known, move)
        if move.track.name in cluster.along:
            as_far = 0.0 < move.relative / cluster.relative <= FAR
            return as_far and move.before_ns <= cluster.start_ns + LAG_NS
        lasts = all(m.end_ns is None for m in cluster.moves)
        late = lasts and move.track.point.follows_mains and move.start_ns <= cluster.start_ns + SLUGGISH_NS
        return late and alike(move.relative, cluster.relative)

    def _is_due(self, cluster: Cluster, move: Move) -> bool:
        """Whether a move is that of a feed whose meter had not yet read when the fault was told."""
        if not cluster.feed_due or cluster.root is None or cluster.run != self._desk.run:
            return False
        known = cluster.of(move.track)
        if known is not None and known.number != UNSEEN:
            return False
        feeds = self._desk.chart.feeds(cluster.root.track.name)
        return move.track.name in feeds and cluster.overlaps(move.before_ns, move.start_ns)

    # -- what others ask

    def mains_moved(self, first_ns: int, until_ns: int) -> bool:
        """Whether a move of the mains began or ended between two instants, or so shortly before that a meter
        may show it only then."""
        for cluster in reversed(self.clusters):
            if cluster.what == "mains":
                edges = [cluster.start_ns, *(m.end_ns for m in cluster.moves if m.end_ns is not None)]
                if any(first_ns - LAG_NS <= edge <= until_ns for edge in edges):
                    return True
        return False

    def mains_stepped(self) -> int:
        """When the mains last moved and has stayed; 0 if it never has."""
        log = self._desk.log
        told = ((c, c.finding) for c in self.clusters if c.what == "mains" and c.finding is not None)
        return max((c.start_ns for c, number in told if log.get(number).evidence.get("stays")), default=0)

    def tail_of(self, track: Track, start_ns: int, relative: float) -> Cluster | None:
        """The move that the whole set has just made, of which a small one is the tail."""
        return tail_of(self.lately, track, start_ns, relative)

    def is_no_news(self, track: Track, start_ns: int, relative: float) -> bool:
        """Whether a small move is the tail of one of the whole set, or its meter letting go of a reading."""
        return self.tail_of(track, start_ns, relative) is not None or lets_go(track, start_ns, relative)

    def newest_mains(self) -> int | None:
        """The finding of the newest move of the mains in this run."""
        told = [c.finding for c in self.clusters if c.what == "mains" and c.finding is not None]
        return told[-1] if told else None

    def explains(self, point: str, at_ns: int) -> int | None:
        """The finding of the move that put a point where it is at an instant, if there is one."""
        for cluster in reversed(self.clusters):
            if cluster.finding is None:
                continue
            for m in cluster.moves:
                lasting = m.end_ns is None or m.end_ns >= at_ns - 5_000_000_000
                if m.track.name == point and m.start_ns <= at_ns and lasting:
                    return cluster.finding
        return None

    def fault_at(self, at_ns: int) -> Cluster | None:
        """The newest lasting fault that began about an instant: what moved then, and stays, moved with it."""
        for cluster in reversed(self.clusters):
            lasts = cluster.root is not None and cluster.root.end_ns is None
            if cluster.what == "fault" and lasts and abs(cluster.start_ns - at_ns) <= ABOUT_NS:
                return cluster
        return None

    def of_point(self, point: str) -> int | None:
        """The newest finding of which a point is the cause."""
        for cluster in reversed(self.clusters):
            if cluster.root is not None and cluster.root.track.name == point:
                return cluster.finding
        return None
