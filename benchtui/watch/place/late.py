"""Moves that a slow or late meter shows after others have shown them: do they belong together?"""

from __future__ import annotations

from .cluster import LAG_NS, Cluster, Move
from .desk import Desk
from .kinship import ALIKE, alike
from .verdict import SURELY_LATE_S

LATE_S, FILTERED_S = 1.5, 3.0
"""So late, and a reading, meters show the mains; behind the filter of a feed that moved already.
Common practice, no source."""
MAINS_PART = 0.2
"""A mains meter that averages shows at first no more than this part of a move."""


def was_it_mains(desk: Desk, cluster: Cluster, move: Move) -> bool:
    """Whether a fault that has been told began a little before a move of the mains, about as great."""
    if cluster.run != desk.run or cluster.what != "fault" or cluster.finding is None:
        return False
    return desk.log.get(cluster.finding).kind in ("dropout", "step") and _may_be_the_same(cluster, move)


def mains_shown_late(cluster: Cluster, move: Move) -> bool:
    """Whether a late mains meter moves as others did that are not decided on, or are the mains."""
    if cluster.what not in ("", "mains") or cluster.of(move.track) is not None:
        return False
    against = cluster.most_against(cluster.largest)
    return _may_be_the_same(cluster, move) or (against is not None and _may_be_one(cluster, against, move))


def shown_apart(told: Cluster, cluster: Cluster) -> bool:
    """Whether a told move of the mains is what the late meters of other points show now."""
    if told is cluster or told.what != "mains" or told.run != cluster.run:
        return False
    lag_s = abs(cluster.start_ns - told.start_ns) * 1e-9
    same = any(told.of(m.track) is not None or not m.track.point.follows_mains for m in cluster.moves)
    return not same and lag_s <= SURELY_LATE_S and alike(cluster.largest.relative, told.largest.relative)


def _may_be_the_same(cluster: Cluster, move: Move) -> bool:
    """Whether a move of the mains is about as great as a cluster's, and no later than its meter may be."""
    return _may_be_one(cluster, cluster.largest, move)


def _may_be_one(cluster: Cluster, known: Move, move: Move) -> bool:
    if not known.relative:
        return False
    lag_s, part = (move.start_ns - cluster.start_ns) * 1e-9, move.relative / known.relative
    least = MAINS_PART if move.track.is_mains else ALIKE
    return 0 <= lag_s <= SURELY_LATE_S + move.track.period_s and least <= part <= 1.0 / ALIKE


def shows_it_late(desk: Desk, cluster: Cluster, move: Move) -> bool:
    """Whether a slow or filtered point follows a fault that still lasts (a feed's: or has just ended), or a
    move of the mains."""
    if cluster.what == "mains" and cluster.of(move.track) is None and move.track.point.follows_mains:
        lag_s = (move.before_ns - max(m.start_ns for m in cluster.moves)) * 1e-9
        part = move.relative / cluster.largest.relative
        feeds = set(desk.chart.feeds(move.track.name))
        late_s = FILTERED_S if any(m.track.name in feeds for m in cluster.moves) else LATE_S
        return lag_s <= late_s + move.track.period_s and 0.1 <= part <= 1.0 / ALIKE
    if cluster.what not in ("", "fault") or cluster.of(move.track) is not None:
        return False
    root = cluster.root or cluster.largest
    fed = root.track.name in desk.chart.feeds(move.track.name)
    stands = cluster.what == "fault" and root.end_ns is None
    just = fed and (root.end_ns is None or move.before_ns - root.end_ns <= LAG_NS)
    if not stands and not just:
        return False
    lag_s = (move.start_ns - cluster.start_ns) * 1e-9
    if not 0 <= lag_s <= 2.5 * move.track.period_s + 2.0 or move.relative * root.relative < 0:
        return False
    follows = fed or not move.track.point.fed_from
    return follows and abs(move.relative) <= 1.5 * abs(root.relative)
