"""How far points went, by all of their readings, and whether one fell as no warm-up makes it fall."""

from __future__ import annotations

from benchtui.watch.signals import Away

from .cluster import UNSEEN, Cluster, Move
from .desk import Desk
from .responses import between_ranges
from .track import Track

SUDDEN, WHOLE, QUICK_S, STANDS_NS = 0.3, 0.8, 0.5, 2_000_000_000
"""A fall by the first part that a meter as quick as the third shows to the second part in two readings, and
that stands for so long, is none of warming up. Common practice, no source."""


def is_sudden(move: Move, now_ns: int) -> bool:
    """Whether a deep fall was whole within two readings of a quick meter, and stands.

    Valves that begin to draw take seconds.
    """
    _, x = move.track.segment.history.between(move.start_ns, now_ns)
    fell = 1.0 - x / move.level
    whole = len(x) > 2 and float(fell[:2].max()) >= WHOLE * float(fell.max())
    return whole and float(fell[1:].min()) >= SUDDEN


def falls_at_once(track: Track, signal: Away) -> bool:
    """Whether a quick meter saw a point fall deep within a reading or two."""
    return signal.abrupt and signal.peak / signal.level <= -SUDDEN and track.period_s <= QUICK_S


def look_how_far(desk: Desk, cluster: Cluster) -> None:
    """Sets the depth of each move that an eye has told, or readings alone, by all readings until now.

    Who falls deep makes its meter change the range, and its eye waits for readings of the new one; it tells
    only of moves that have grown by much.
    """
    deep = [m for m in cluster.moves if abs(m.relative) >= SUDDEN]
    for move in cluster.moves:
        if move.level and move.number >= UNSEEN:
            fed = [m for m in deep if move.track.name in desk.chart.feeds(m.track.name)]
            least = 1 if any(m.relative * move.relative > 0 for m in fed) else 2
            part = _farthest(move, desk.now_ns if move.end_ns is None else move.end_ns, least)
            if abs(part) > abs(move.relative):
                move.peak = part * move.level


def _farthest(move: Move, until_ns: int, least: int) -> float:
    """By what part a point went at the farthest, by its readings, or so many of those at changes of range."""
    sign = 1.0 if move.relative > 0 else -1.0
    _, x = move.track.segment.history.between(move.start_ns - 1, until_ns)
    clean = float((sign * (x / move.level - 1.0)).max(initial=0.0))
    hidden = between_ranges(move.track, move.level, move.start_ns - 1, until_ns, sign, least)
    return sign * max(clean, abs(hidden))
