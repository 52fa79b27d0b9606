"""Feeds: whose meters are slow, whose faults carry others, and who was named before they had read."""

from __future__ import annotations

from collections.abc import Sequence

from .answers import unseen
from .cluster import Cluster, Move, Response
from .culprit import SHARED
from .desk import Desk
from .kinship import alike


def carrier(
    desk: Desk, clusters: Sequence[Cluster], cluster: Cluster, reference: Move, answers: Sequence[Response]
) -> Cluster | None:
    """The fault of a feed, still lasting or just over, that made the point move, only later."""
    feeds = desk.chart.feeds(reference.track.name)
    for a in answers:
        if a.track.name not in feeds or a.verdict != "moved" or cluster.of(a.track) is not None:
            continue
        for other in reversed(clusters):
            root = other.root
            if other.what != "fault" or root is None or root.track is not a.track:
                continue
            lasts = root.end_ns is None or other.start_ns <= cluster.start_ns <= root.end_ns
            if lasts or (other.returned and cluster.overlaps(*other.returned)):
                return other
    return None


def up_the_tree(desk: Desk, cluster: Cluster, reference: Move, answers: Sequence[Response]) -> None:
    """A feed that moved as much counts, even if its own eye has not spoken yet."""
    feeds = desk.chart.feeds(reference.track.name)
    for a in answers:
        if a.track.name not in feeds or a.verdict != "moved" or cluster.of(a.track) is not None:
            continue
        if abs(a.relative) < SHARED * min(abs(reference.relative), 1.0):
            continue
        cluster.moves.append(unseen(desk, a, reference))


def named_before(desk: Desk, clusters: Sequence[Cluster], cluster: Cluster) -> list[Cluster]:
    """The faults of points that the root of a cluster feeds, told before its own meter had read."""
    root, found = cluster.root, []
    assert root is not None
    for other in clusters:
        theirs = other.root
        if other is cluster or other.what != "fault" or theirs is None or theirs.end_ns is not None:
            continue
        if root.track.name not in desk.chart.feeds(theirs.track.name):
            continue
        if not alike(root.relative, theirs.relative) or not other.overlaps(root.before_ns, root.start_ns):
            continue
        told = None if other.finding is None else desk.log.get(other.finding)
        if told is None or (told.kind != "chatter" and cluster.finding is not None):
            found.append(other)
    return found
