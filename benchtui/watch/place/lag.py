"""How late each meter shows what others show at once: learnt from the moves that points had in common."""

from __future__ import annotations

from .cluster import Cluster
from .kinship import alike

MOST_NS = 2_000_000_000
"""What comes later than this is another story. Common practice, no source."""


def learn(cluster: Cluster) -> None:
    """A reading that still showed nothing after another point had moved as much: the meter is so late."""
    moves = [m for m in cluster.moves if m.number >= 0 and not m.echo]
    first = min(moves, key=lambda m: m.start_ns, default=None)
    if first is None:
        return
    for m in moves:
        if alike(m.relative, first.relative):
            m.track.late_ns = max(m.track.late_ns, min(m.before_ns - first.start_ns, MOST_NS))
