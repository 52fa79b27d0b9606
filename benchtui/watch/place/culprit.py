"""Which of the points that moved together is to blame."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.chart.chart import Chart

from .cluster import Move
from .kinship import CATHODE_V

SHARED = 0.5
"""A feed that moved by at least this part of what a point moved by carries the move."""
SHARED_SLOW, SLOWER = 0.2, 1.6
"""Of a short fall this part is enough of a feed whose meter is so many times slower: it shows it in part."""
ABOUT = 0.75
"""Moves of this part of each other are about as great."""


def _feeds(chart: Chart, feed: Move, fed: Move) -> bool:
    return feed.track.name in chart.feeds(fed.track.name)


def blame(chart: Chart, moves: Sequence[Move], now_ns: int) -> Move:
    """The move that explains the others: of those about as great as the greatest, one that no other feeds.

    Where the chart does not say which feeds which, the highest voltage is taken for the feed. A battery goes
    before all. A feed that rises while what it feeds falls has lost the load: that lies with what fell.
    """
    own = [m for m in moves if not m.echo and not m.track.is_mains] or list(moves)
    greatest = max(own, key=lambda m: abs(m.relative))

    def shares(m: Move) -> bool:
        slow = m.track.period_s >= SLOWER * greatest.track.period_s and _feeds(chart, m, greatest)
        read = m.track.newest(now_ns if greatest.end_ns is None else greatest.end_ns)
        short = read is None or read[0] - greatest.start_ns <= 2e9 * m.track.period_s
        least = SHARED_SLOW if slow and short and greatest.relative < 0 else SHARED
        same_way = m.relative * greatest.relative > 0
        return same_way and abs(m.relative) >= least * min(abs(greatest.relative), 1.0)

    if greatest.relative > 0:
        fallen = [m for m in own if m.relative < 0 and _feeds(chart, greatest, m)]
        if fallen:
            return max(fallen, key=lambda m: (chart.carries(m.track.name), abs(m.level)))
    able = [m for m in own if m is greatest or shares(m)]
    battery = next((m for m in able if m.track.stood_before), None)
    if battery is not None:
        return battery
    names = {m.track.name for m in able}
    first = [m for m in able if not names & set(chart.feeds(m.track.name))]
    deepest = max(first, key=lambda m: abs(m.relative))
    small = 0.0 < deepest.level < CATHODE_V
    least = ABOUT * abs(deepest.relative)
    able = [m for m in first if abs(m.relative) >= least or (small and chart.carries(m.track.name))]
    return max(able, key=lambda m: abs(m.level))
