"""The tail of a great move: after the mains dips, or comes back, heaters follow, and currents with them."""

from __future__ import annotations

from collections.abc import Sequence

from .cluster import Cluster
from .track import Track

HEATER_NS = 10_000_000_000
"""A heater has followed its supply by most of the way after so long. Common practice, no source."""
LASTS_NS = 20_000_000_000
"""So long after it began, or was over, a great move goes on in its tail. Common practice, no source."""
PART, MOST = 0.25, 0.1
"""The tail of a move that the heaters have followed is no more than the first part of it, and than the second
of the point's level. Common practice, no source."""
SMALL_PART = 0.7
"""The first of a cathode or a grid."""
SET_FELL, HALF = 2, 0.5
"""A fault that took so many points along by so much of its own part was the whole set's."""


def tail_of(clusters: Sequence[Cluster], track: Track, start_ns: int, relative: float) -> Cluster | None:
    """The move that the whole set has just made, of which a small one, in parts of the level, is the tail."""
    size = abs(relative)
    part = SMALL_PART if track.is_small else PART
    if size > MOST or track.shows_mains:
        return None
    fitting = (c for c in clusters if size <= part * _followed(c, start_ns) and _carried(c, track))
    return next(fitting, None)


def over_ns(cluster: Cluster) -> int | None:
    """When a move of the whole set was over; None while it is not."""
    ends = [m.end_ns for m in cluster.moves if not m.echo]
    known = [end_ns for end_ns in ends if end_ns is not None]
    return max(known) if known and len(known) == len(ends) else None


def _followed(cluster: Cluster, at_ns: int) -> float:
    """How far the heaters have followed a move, as a part of their voltage; 0 if that is long ago."""
    ends = [m.end_ns for m in cluster.moves if m.end_ns is not None]
    edges = [cluster.start_ns, *ends]
    if not any(0 < at_ns - edge_ns <= LASTS_NS for edge_ns in edges):
        return 0.0
    lasted_ns = min(max(ends, default=at_ns), at_ns) - cluster.start_ns
    depth = max(abs(cluster.mains or 0.0), *(abs(m.relative) for m in cluster.moves), 0.0)
    return depth * min(lasted_ns / HEATER_NS, 1.0)


def _carried(cluster: Cluster, track: Track) -> bool:
    """Whether it was a move of the mains, or a fault of the supply that took this point and others along."""
    if cluster.what == "mains":
        return True
    root = cluster.root
    if cluster.what != "fault" or root is None or root.track is track:
        return False
    along = {m.track.name for m in cluster.moves if abs(m.relative) >= HALF * min(abs(root.relative), 1.0)}
    return len(along - {root.track.name}) >= SET_FELL
